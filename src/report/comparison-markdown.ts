/**
 * A comparison as Markdown for a review: a heading that tells the result, a table of what changes, and for each difference
 * its packet, its way and the deciding lines. What stands in a document cannot leave its place.
 */
import { hasErrors, locate, type SourceFile } from "../diagnose/index.ts";
import {
  type Change,
  type Comparison,
  type Difference,
  packetLines,
  type Told,
  tellDifference,
  tellEnds,
} from "../result/index.ts";
import { NO_COMPARISON, summaryOf, tellDecision } from "./comparison.ts";
import { block, code, diagnosticsIn, escaped, inTag, prose } from "./markdown-text.ts";

/** The report of a comparison, ending in a newline. */
export function renderComparisonMarkdown(comparison: Comparison): string {
  const { diagnostics, differences, replacements, alongside, undecided, sources, fault, sides, site } = comparison;
  const parts = [
    `## ${escaped(site)}: what changes in reach`,
    hasErrors(diagnostics)
      ? "**the documents are wrong, and nothing was compared**"
      : `${escaped(summaryOf(comparison))}, from ${code(sides.base)} to ${code(sides.head)}.`,
    ...(diagnostics.length === 0 ? [] : [diagnosticsIn(diagnostics, sources)]),
    ...(fault === undefined ? [] : [`**${NO_COMPARISON}**`, block(fault)]),
    ...(differences.length === 0 ? [] : [tableOf(differences)]),
    ...differences.map((each) => detailsOf(each, sources)),
    ...replacements.map(({ old, successor, kept, lost }) =>
      [
        `**${escaped(old)} becomes ${escaped(successor)}**: ${kept} carried over, ${lost.length} lost`,
        ...lost.map(({ text, origin }) => `- lost: ${prose(text)} (${placeOf(origin.span, sources)})`),
      ].join("\n"),
    ),
    ...(alongside.length === 0
      ? []
      : [["**beside that**", "", ...alongside.map((each) => `- ${prose(each)}`)].join("\n")]),
    ...(undecided.length === 0 ? [] : [["**undecided**", ...undecided.map((each) => `- ${prose(each)}`)].join("\n")]),
  ];
  return `${parts.join("\n\n")}\n`;
}

const WORDS: { readonly [change in Change]: string } = {
  "newly-allowed": "newly allowed",
  "newly-forbidden": "newly forbidden",
};

function tableOf(differences: readonly Difference[]): string {
  const rows = differences.map(({ change, from, to, services }) =>
    [WORDS[change], tellEnds(from), tellEnds(to), services].map((cell) => escaped(cell)).join(" | "),
  );
  return ["| | from | to | on |", "| --- | --- | --- | --- |", ...rows.map((row) => `| ${row} |`)].join("\n");
}

function detailsOf(difference: Difference, sources: readonly SourceFile[]): string {
  const { notes, decidedBy, witness, path } = difference;
  return [
    `<details><summary>${inTag(tellDifference(difference))}</summary>`,
    "",
    ...notes.map((note) => `- ${prose(note)}`),
    ...decidedBy.map((each) => `- ${prose(tellDecision(each))} (${placeOf(each.origin.span, sources)})`),
    ...(witness === undefined ? [] : ["", block([...packetLines(witness), ...path.map(stepOf)].join("\n"))]),
    "",
    "</details>",
  ].join("\n");
}

function stepOf({ device, text }: Told, index: number): string {
  return `${String(index + 1).padStart(2)} ${device} ${text}`;
}

function placeOf(span: Difference["decidedBy"][number]["origin"]["span"], sources: readonly SourceFile[]): string {
  const { file, line } = locate(sources, span);
  return code(`${file}:${line}`);
}
