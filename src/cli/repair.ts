/**
 * `check --repair`: repairs of a site. Its plan was loaded and judged already; files of its assertions that were not asked for
 * are read besides, since a repair must not break what another file demands.
 */
import type { Ending } from "../check/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import { demandedBy, planFrom, repairsOf } from "../repair/index.ts";
import type { Mending, Verdict } from "../result/index.ts";
import type { JudgedSite } from "./judge.ts";
import { type LoadedSite, loadMore, type Shelf } from "./load-site.ts";
import { type SitePlace, siteMeant } from "./places.ts";

/** Looks for repairs of what does not hold at a site. @throws EnginesDisagree */
export function mendSite(
  place: SitePlace,
  judged: JudgedSite,
  broken: readonly Verdict[],
  shelf: Shelf,
): readonly Mending[] {
  const { network, site, files, documents, diagnostics } = judged.site;
  if (network === undefined || site === undefined) throw new Error(`${place.name} was judged and did not load`);
  const ids = new Set(broken.map(({ id }) => id));
  const assertions = allAssertions(place, judged.site, shelf);
  if (assertions === undefined) return [...ids].map((id) => ({ id, repairs: [], tried: 0, limit: OTHERS }));
  const evaluation = judged.evaluation ?? new Evaluation(network);
  const plan = planFrom({ sources: shelf.sources, files, documents, site, evaluation, diagnostics });
  return repairsOf({ plan, all: demandedBy(assertions), broken: ids, known: endingsOf(judged) });
}

const OTHERS = "other assertions of this site cannot be read, so that nobody knows what an edit would break";

/** Every file of the site's assertions, in the site's order; undefined: one that was not asked for cannot be read. */
function allAssertions(place: SitePlace, loaded: LoadedSite, shelf: Shelf): LoadedSite["assertions"] | undefined {
  const whole = siteMeant(place.folder);
  const paths = "problem" in whole ? place.assertions : whole.assertions;
  const unread = paths.filter((path) => !place.assertions.includes(path));
  const others = loadMore(place, unread, shelf);
  if (others === undefined) return undefined;
  // All of these files are sound, so each has its document.
  const [known, more] = [loaded.assertions.values(), others.values()];
  const inOrder = paths.map((path) => (place.assertions.includes(path) ? known : more).next().value);
  return [...inOrder.flatMap((each) => each ?? []), ...known];
}

/** How assertions ended, by their ids, where this process knows what that rests on. */
function endingsOf({ results }: JudgedSite): ReadonlyMap<string, Ending> {
  return new Map(
    results.flatMap(({ verdicts, footprints }) =>
      verdicts.flatMap(({ id, status }, index) => {
        const footprint = footprints[index];
        return footprint === undefined || status === "skipped" ? [] : [[id, { status, footprint }] as const];
      }),
    ),
  );
}
