/**
 * `check --shard PART/OF`: one part of a run that several jobs share. Every job loads all sites and looks at every name, and
 * judges neighbouring assertions, cut by their number alone; so the parts put together are the run that nobody split. Of a run
 * that judges a few names only, each part has its share of those, and tells of what stands before them that nobody asked it.
 */
import { type CheckResult, namingFaults } from "../check/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import type { LoadedSite } from "../load/index.ts";
import { countUpTo, type Part, partOf, type Shard } from "../result/index.ts";

/** An assertion of some sites, by where it stands. */
type Place = {
  readonly site: LoadedSite;
  readonly path: string;
  readonly name: string;
};

/** Every assertion of some sites, in the order of reports. */
function placesOf(sites: readonly LoadedSite[]): readonly Place[] {
  return sites.flatMap((site) =>
    site.assertions.flatMap(({ path, document }) =>
      document.assertions.map(({ name }) => ({ site, path, name: name.value })),
    ),
  );
}

/** Part of the run that judges only assertions of these names; absent: all. */
export type PartAmong = Part & Pick<Shard, "only">;

function placesIn(sites: readonly LoadedSite[], { only, part, of }: PartAmong): readonly Place[] {
  const places = placesOf(sites);
  if (only === undefined) return partOf(places, { part, of });
  const named = places.flatMap(({ name }, index) => (only.includes(name) ? [index] : []));
  const endOf = (parts: number): number => {
    if (parts === of) return places.length;
    const last = named[countUpTo({ part: parts, of }, named.length) - 1];
    return last === undefined ? 0 : last + 1;
  };
  return places.slice(endOf(part - 1), endOf(part));
}

/** Ids of the assertions of a part, in the order of reports. */
export function idsOf(sites: readonly LoadedSite[], part: PartAmong): readonly string[] {
  return placesIn(sites, part).map(({ path, name }) => `${path}#${name}`);
}

/** The sites with the assertions of a part alone; files stay, though nothing of them may be left. */
export function cutTo(sites: readonly LoadedSite[], part: PartAmong): readonly LoadedSite[] {
  const kept = placesIn(sites, part);
  return sites.map((site) => ({
    ...site,
    assertions: site.assertions.map(({ path, document }) => {
      // Names are unique within a file.
      const names = new Set(kept.filter((each) => each.site === site && each.path === path).map(({ name }) => name));
      const assertions = document.assertions.filter(({ name }) => names.has(name.value));
      return { path, document: { ...document, assertions } };
    }),
  }));
}

/** How much of a run a part is, for standard error: its report looks like that of a smaller run. */
export function tellPart(sites: readonly LoadedSite[], part: PartAmong): string {
  const asked = (places: readonly Place[]): number =>
    places.filter(({ name }) => part.only === undefined || part.only.includes(name)).length;
  return `part ${part.part} of ${part.of}: ${asked(placesIn(sites, part))} of ${asked(placesOf(sites))} assertions`;
}

/** What a part came to, file by file, with what is wrong with the names of all parts: that ends each of them alike. */
export function withAllNames(results: readonly CheckResult[], sites: readonly LoadedSite[]): readonly CheckResult[] {
  const named = namesOnly(sites);
  return results.map((result, index) => ({ ...result, diagnostics: named[index]?.diagnostics ?? result.diagnostics }));
}

/** What is wrong with the names in all files of all sites, as results that judge nothing. */
function namesOnly(sites: readonly LoadedSite[]): readonly CheckResult[] {
  return sites.flatMap(({ network, assertions }) => {
    if (network === undefined) return [];
    const evaluation = new Evaluation(network);
    return assertions.map(({ document }) => ({
      verdicts: [],
      diagnostics: namingFaults(document, evaluation),
      footprints: [],
      reused: 0,
    }));
  });
}
