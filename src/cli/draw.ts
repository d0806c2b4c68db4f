/**
 * `draw SITE`: the site as a picture, or as a sheet to pin to the rack.
 */

import { hasErrors, nearestWord } from "../diagnose/index.ts";
import { type PictureGround, pictureOf, sheetOf } from "../draw/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import { loadSite, type Shelf, siteMeant } from "../load/index.ts";
import { renderPicture, renderSheetHtml, renderSheetMarkdown } from "../report/index.ts";
import { SHEETS } from "../result/index.ts";
import { type LightWords, lightsMeant } from "./lights.ts";
import { deliver, type OutputOptions, outputProblem } from "./output.ts";
import { refuse, WRONG_INPUT } from "./refuse.ts";

/** Formats of what is drawn. */
const FORMATS = ["svg", "markdown", "html"] as const;
/** One of them. */
export type DrawFormat = (typeof FORMATS)[number];

/** What is drawn, as written on the command line. */
export type DrawWords = OutputOptions<DrawFormat> &
  LightWords & {
    /** The site. */
    readonly site: string;
    /** Shows addresses. */
    readonly addresses: boolean;
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
  const judged = words.assertion === undefined ? { ...place, assertions: [] } : place;
  const { diagnostics, site, network, assertions } = loadSite(judged, shelf);
  const told = { diagnostics, sources: shelf.sources };
  if (site === undefined || network === undefined || hasErrors(diagnostics))
    return deliver({ ...told, status: WRONG_INPUT, render: () => "" }, { format: [], output: [] });
  const ground: PictureGround = { name: place.name, site, evaluation: new Evaluation(network) };
  const kind = SHEETS.find((each) => each === words.sheet);
  if (kind !== undefined) {
    const sheet = sheetOf(kind, ground);
    const render = (format: DrawFormat): string =>
      format === "html" ? renderSheetHtml(sheet) : renderSheetMarkdown(sheet);
    return deliver({ ...told, status: 0, render }, words);
  }
  const lights = lightsMeant(words, ground, assertions);
  if (typeof lights === "string") return refuse(lights);
  const svg = await renderPicture(pictureOf(ground), { addresses: words.addresses, lights });
  return deliver({ ...told, status: 0, render: () => svg }, words);
}

/** A picture is SVG, a sheet is not; what is lit is lit on a picture. */
function sheetProblem({ sheet, format, network, path, assertion, broken, addresses }: DrawWords): string | undefined {
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
    ...(assertion === undefined ? [] : ["--assertion"]),
    ...(broken.length === 0 ? [] : ["--broken"]),
    ...(addresses ? ["--addresses"] : []),
  ];
  return drawn[0] === undefined ? undefined : `\`${drawn[0]}\` is for the picture, not for a sheet`;
}
