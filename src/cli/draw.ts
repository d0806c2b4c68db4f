/**
 * `draw SITE`: the site as a picture, or as a sheet to pin to the rack.
 */

import { parseService } from "../address/index.ts";
import { traceExchanges } from "../check/index.ts";
import { nearestWord } from "../diagnose/index.ts";
import { type Meant, networkMeant, type PictureGround, partsMeant, pathOf, pictureOf, sheetOf } from "../draw/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import { loadSite, type Shelf, siteMeant } from "../load/index.ts";
import { renderPicture, renderSheetHtml, renderSheetMarkdown } from "../report/index.ts";
import { type PictureLights, type PicturePath, SHEETS } from "../result/index.ts";
import { deliver, type OutputOptions, outputProblem } from "./output.ts";
import { refuse, WRONG_INPUT } from "./refuse.ts";

/** Formats of what is drawn. */
const FORMATS = ["svg", "markdown", "html"] as const;
/** One of them. */
export type DrawFormat = (typeof FORMATS)[number];

/** What is drawn, as written on the command line. */
export type DrawWords = OutputOptions<DrawFormat> & {
  /** The site. */
  readonly site: string;
  /** Shows addresses. */
  readonly addresses: boolean;
  /** The network to light; absent: none. */
  readonly network?: string;
  /** Who begins, who is meant, a service; absent: no way is lit. */
  readonly path?: readonly string[];
  /** Parts to mark as broken. */
  readonly broken: readonly string[];
  /** The sheet that is wanted in place of the picture; absent: none. */
  readonly sheet?: string;
};

/** Runs the command; answers with the exit status. */
export async function runDraw(words: DrawWords): Promise<number> {
  const problem = outputProblem(words, FORMATS) ?? sheetProblem(words);
  if (problem !== undefined) return refuse(problem);
  const place = siteMeant(words.site);
  if ("problem" in place) return refuse(`${place.problem}\n   ${place.help}`);
  const shelf: Shelf = { sources: [] };
  const { diagnostics, site, network } = loadSite({ ...place, assertions: [] }, shelf);
  const told = { diagnostics, sources: shelf.sources };
  if (site === undefined || network === undefined)
    return deliver({ ...told, status: WRONG_INPUT, render: () => "" }, { format: [], output: [] });
  const ground: PictureGround = { name: place.name, site, evaluation: new Evaluation(network) };
  const kind = SHEETS.find((each) => each === words.sheet);
  if (kind !== undefined) {
    const sheet = sheetOf(kind, ground);
    const render = (format: DrawFormat): string =>
      format === "html" ? renderSheetHtml(sheet) : renderSheetMarkdown(sheet);
    return deliver({ ...told, status: 0, render }, words);
  }
  const lights = lightsOf(words, ground);
  if (typeof lights === "string") return refuse(lights);
  const svg = await renderPicture(pictureOf(ground), { addresses: words.addresses, lights });
  return deliver({ ...told, status: 0, render: () => svg }, words);
}

/** A picture is SVG, a sheet is not; what is lit is lit on a picture. */
function sheetProblem({ sheet, format, network, path, broken, addresses }: DrawWords): string | undefined {
  const [only] = format.filter((each) => (each === "svg") === (sheet !== undefined));
  if (sheet === undefined)
    return only === undefined
      ? undefined
      : `a picture is svg: \`--format ${only}\` goes with \`--sheet ${SHEETS.join("|")}\``;
  if (!SHEETS.some((each) => each === sheet)) {
    const nearest = nearestWord(sheet, SHEETS);
    const help = nearest === undefined ? "" : `\n   try \`--sheet ${nearest}\``;
    return `no sheet is called \`${sheet}\`: sheets are ${SHEETS.join(", ")}${help}`;
  }
  if (only !== undefined) return "a sheet is markdown or html: `--format svg` is for the picture";
  const drawn = [
    ...(network === undefined ? [] : ["--network"]),
    ...(path === undefined ? [] : ["--path"]),
    ...(broken.length === 0 ? [] : ["--broken"]),
    ...(addresses ? ["--addresses"] : []),
  ];
  return drawn[0] === undefined ? undefined : `\`${drawn[0]}\` is for the picture, not for a sheet`;
}

/** What is lit, or what is wrong with the words. */
function lightsOf({ network, path, broken }: DrawWords, { site, evaluation }: PictureGround): PictureLights | string {
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
  const way = path === undefined ? {} : wayOf(path, evaluation);
  if (typeof way === "string") return way;
  const ids = parts.flatMap((each) => ("ids" in each ? each.ids : []));
  return { ...(network === undefined ? {} : { network }), ...way, ...(ids.length === 0 ? {} : { broken: ids }) };
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
  if (diagnostics.length > 0)
    return diagnostics
      .map(({ message, notes, help }) => [message, ...notes, ...(help === undefined ? [] : [help])].join("\n   "))
      .join("\n");
  if (nobody !== undefined) return `nobody in this site is there as \`${nobody === "from" ? from : to}\``;
  const shown = traced.find(({ works }) => !works) ?? traced[0];
  return shown === undefined ? "both ends are the same device" : { path: pathOf(shown) };
}
