/**
 * What `draw` lights on the picture, from the words of the command line.
 */
import { parseService } from "../address/index.ts";
import { checkAssertions, traceExchanges } from "../check/index.ts";
import { hasErrors } from "../diagnose/index.ts";
import { type Meant, networkMeant, type PictureGround, partsMeant, pathOf } from "../draw/index.ts";
import type { Evaluation } from "../evaluate/index.ts";
import type { LoadedSite } from "../load/index.ts";
import { lightsOfVerdict } from "../report/index.ts";
import { fallsShort, type PictureLights, type PicturePath, type Verdict } from "../result/index.ts";
import { inWords } from "./refuse.ts";
import { whatIsUnasked } from "./unasked.ts";

/** What is to be lit, as written. */
export type LightWords = {
  /** The network to light; absent: none. */
  readonly network?: string;
  /** Who begins, who is meant, a service; absent: no way is lit. */
  readonly path?: readonly string[];
  /** The assertion whose way is lit, and what breaks it; absent: none. */
  readonly assertion?: string;
  /** Parts to mark as broken. */
  readonly broken: readonly string[];
};

/** What is lit, or what is wrong with the words. @throws EnginesDisagree */
export function lightsMeant(
  { network, path, assertion, broken }: LightWords,
  { name, site, evaluation }: PictureGround,
  assertions: LoadedSite["assertions"],
): PictureLights | string {
  const known =
    network === undefined
      ? { ids: [] }
      : networkMeant(
          network,
          site.networks.map(({ name }) => name),
        );
  const parts = broken.map((word) => partsMeant(word, evaluation.network));
  const wrong = [known, ...parts].find((each) => "problem" in each);
  if (wrong !== undefined && "problem" in wrong) return withNearest(wrong);
  if (path !== undefined && assertion !== undefined)
    return "`--assertion` lights a way of its own: say it without `--path`";
  const way = path === undefined ? {} : wayOf(path, evaluation);
  if (typeof way === "string") return way;
  const ended = assertion === undefined ? {} : endOf(assertion, { name, assertions }, evaluation);
  if (typeof ended === "string") return ended;
  const ids = [...parts.flatMap((each) => ("ids" in each ? each.ids : [])), ...(ended.broken ?? [])];
  return {
    ...(network === undefined ? {} : { network }),
    ...way,
    ...ended,
    ...(ids.length === 0 ? {} : { broken: ids }),
  };
}

function withNearest({ problem, nearest }: Extract<Meant, { readonly problem: string }>): string {
  return nearest === undefined ? problem : `${problem}\n   try \`${nearest}\``;
}

/** One exchange: the first that does not work, else the first. */
function wayOf(words: readonly string[], evaluation: Evaluation): { readonly path: PicturePath } | string {
  const [from = "", to = "", written = ""] = words;
  if (words.length !== 3)
    return "`--path` takes three words: who begins, who is meant, a service\n   write the site before it: `dryrack draw SITE --path phone internet tcp/443`";
  const service = parseService(written);
  if ("problem" in service)
    return service.nearest === undefined ? service.problem : `${service.problem}\n   try \`${service.nearest}\``;
  const { traced, diagnostics, nobody } = traceExchanges({ evaluation, from, to, service });
  if (diagnostics.length > 0) return diagnostics.map(inWords).join("\n");
  if (nobody !== undefined) return `nobody in this site is there as \`${nobody === "from" ? from : to}\``;
  const shown = traced.find(({ works }) => !works) ?? traced[0];
  return shown === undefined ? "both ends are the same device" : { path: pathOf(shown) };
}

/** How an assertion ends: the way of its packet, and what breaks it. Of several of that name the first that falls short. */
function endOf(
  title: string,
  loaded: Pick<LoadedSite, "name" | "assertions">,
  evaluation: Evaluation,
): PictureLights | string {
  const unasked = whatIsUnasked([loaded], [title]);
  if (unasked !== undefined) return unasked;
  const verdicts: Verdict[] = [];
  for (const { path, document } of loaded.assertions) {
    const result = checkAssertions({ document, file: path, site: loaded.name, evaluation, only: [title] });
    if (hasErrors(result.diagnostics)) return result.diagnostics.map(inWords).join("\n");
    verdicts.push(...result.verdicts.filter(({ name }) => name === title));
  }
  const shown = verdicts.find(fallsShort) ?? verdicts[0];
  if (shown === undefined) throw new Error(`${title} was asked and not judged`);
  return lightsOfVerdict(shown);
}
