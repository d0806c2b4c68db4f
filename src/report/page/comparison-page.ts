/**
 * The page of a comparison: what a change opens and closes in one sentence, each difference with its packet, its way and the
 * lines on both sides, the table of who gets to whom, the picture of the site after the change.
 */
import type { SourceFile } from "../../diagnose/index.ts";
import {
  type Change,
  type Comparison,
  comparisonStatus,
  type Decision,
  type Difference,
  inWords,
  type Replacement,
  tellDifference,
  tellEnds,
} from "../../result/index.ts";
import { NO_COMPARISON } from "../comparison.ts";
import { oneLine } from "../text.ts";
import { cautionsWith } from "./cautions.ts";
import { diagnosticsOf } from "./diagnostics.ts";
import { changeShape, differenceTable } from "./difference-table.ts";
import { Drawings } from "./drawings.ts";
import { framed, type Section } from "./frame.ts";
import { brief, element, fragment, type Html, named, prose } from "./html.ts";
import { slip } from "./slip.ts";
import { packetOf, wayOf } from "./way.ts";

/** The page as text, ending in a newline. */
export async function renderComparisonPage(comparison: Comparison): Promise<string> {
  const { site, picture, version } = comparison;
  const drawings = picture === undefined ? undefined : await Drawings.of(picture, 0);
  return framed({
    title: oneLine(site),
    sentence: sentenceOf(comparison),
    version,
    sections: sectionsOf(comparison, drawings),
  });
}

function sectionsOf(comparison: Comparison, drawings: Drawings | undefined): readonly Section[] {
  const { differences, sources, diagnostics, replacements, alongside, undecided, fault } = comparison;
  const of = (change: Change): Html | undefined => {
    const told = differences.flatMap((each, index) =>
      each.change === change ? [differenceOf(each, index + 1, sources, drawings)] : [],
    );
    return told.length === 0 ? undefined : fragment(told);
  };
  return [
    { place: "fault", title: "A fault of dryrack", content: faultOf(fault) },
    { place: "sides", title: "What is compared", content: sidesOf(comparison) },
    { place: "allowed", title: "Newly allowed", content: of("newly-allowed") },
    { place: "forbidden", title: "Newly forbidden", content: of("newly-forbidden") },
    { place: "replaced", title: "Replaced devices", content: replacementsOf(replacements, sources) },
    { place: "alongside", title: "Beside that", content: listOf(alongside) },
    { place: "undecided", title: "What nobody can tell", content: listOf(undecided) },
    {
      place: "table",
      title: "All changes in a table",
      content: differenceTable(differences),
    },
    { place: "picture", title: "The picture after the change", content: drawings?.plain() },
    { place: "documents", title: "Said of the documents", content: diagnosticsOf(diagnostics, sources) },
    { place: "cautions", title: "Before you trust this", content: cautionsWith([]) },
  ];
}

/** What the change does, in one sentence. */
function sentenceOf(comparison: Comparison): string {
  const { differences, undecided, replacements } = comparison;
  const status = comparisonStatus(comparison);
  if (status === 3) return "dryrack is at fault, and there is no comparison.";
  if (status === 2) return "The documents are wrong, and nothing was compared.";
  const count = (change: Change): number => differences.filter((each) => each.change === change).length;
  const lost = replacements.reduce((sum, each) => sum + each.lost.length, 0);
  const [opens, shuts] = [count("newly-allowed"), count("newly-forbidden")];
  const told = [
    ...(opens === 0 ? [] : [`opens ${opens} ${opens === 1 ? "way" : "ways"}`]),
    ...(shuts === 0 ? [] : [`shuts ${shuts}`]),
    ...(lost === 0 ? [] : [`loses ${lost} ${lost === 1 ? "thing" : "things"} of what it replaces`]),
    ...(undecided.length === 0 ? [] : [`leaves ${undecided.length} undecided`]),
  ];
  if (told.length === 0) return "The change opens nothing and shuts nothing.";
  return `The change ${inWords(told)}.`;
}

function faultOf(fault: string | undefined): Html | undefined {
  if (fault === undefined) return undefined;
  const lines = fault.split("\n").map((line) => element("p", {}, oneLine(line)));
  return fragment(element("p", {}, `${NO_COMPARISON}.`), lines);
}

function sidesOf({ sides, pairs, failOn }: Comparison): Html {
  const told = `${pairs.all} pairs of ends were compared; nothing touches ${pairs.untouched} of them.`;
  const fails =
    failOn.length === 0 ? "" : ` It fails on what is ${failOn.map((each) => each.replace("-", " ")).join(" or ")}.`;
  return fragment(
    element(
      "p",
      {},
      "from ",
      element("code", {}, oneLine(sides.base)),
      " to ",
      element("code", {}, oneLine(sides.head)),
    ),
    element("p", { class: "aside" }, `${told}${fails}`),
  );
}

/** Slips shown of one difference. */
const SLIPS = 6;

function differenceOf(
  difference: Difference,
  number: number,
  sources: readonly SourceFile[],
  drawings: Drawings | undefined,
): Html {
  const { change, from, to, notes, decidedBy, witness, path } = difference;
  const told = tellDifference(difference);
  const place = `d${number}`;
  const isOpened = change === "newly-allowed";
  return element(
    "article",
    { id: place, class: `verdict ${isOpened ? "failed" : "undecided"}`, "aria-labelledby": `${place}-name` },
    element(
      "h3",
      { id: `${place}-name` },
      changeShape(change),
      " ",
      named(brief(oneLine(`${tellEnds(from)} to ${tellEnds(to)}`))),
    ),
    element("p", { class: "headline" }, prose(oneLine(told))),
    notes.map((note) => element("p", { class: "note" }, prose(oneLine(note)))),
    element(
      "div",
      { class: "sides" },
      decidedBy.slice(0, SLIPS).map((each) => slip(each, sources, sideOf(each))),
    ),
    witness === undefined ? undefined : packetOf(witness),
    wayOf(path, sources, isOpened ? "it gets through after the change" : "it got through before the change"),
    isOpened ? drawings?.lit({ path, headline: told, name: told, status: "failed" }, number) : undefined,
    element("p", { class: "back" }, element("a", { href: `#t${number}` }, "back to the table")),
  );
}

function sideOf({ side, changed }: Decision): string {
  return `${side === "base" ? "before" : "after"}${changed ? ", changed" : ""}`;
}

function replacementsOf(replacements: readonly Replacement[], sources: readonly SourceFile[]): Html | undefined {
  if (replacements.length === 0) return undefined;
  return fragment(
    replacements.map(({ old, successor, kept, lost }) => [
      element("h3", {}, named(oneLine(`${old} becomes ${successor}`))),
      element("p", {}, `${kept} carried over, ${lost.length} lost`),
      lost.map(({ text, origin }) => slip({ origin, text: `lost: ${text}` }, sources)),
    ]),
  );
}

function listOf(sentences: readonly string[]): Html | undefined {
  if (sentences.length === 0) return undefined;
  return element(
    "ul",
    {},
    sentences.map((each) => element("li", {}, prose(oneLine(each)))),
  );
}
