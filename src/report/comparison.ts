/**
 * A comparison as a person reads it in a terminal: what is newly allowed first, each with its packet, its way and the
 * lines that decide on either side; then what is newly forbidden; what a replaced device lost; a summary line.
 */
import type { SourceFile } from "../diagnose/index.ts";
import {
  type Change,
  type Comparison,
  type Decision,
  type Difference,
  type Replacement,
  tellDifference,
} from "../result/index.ts";
import { renderEvidence, renderFault, renderPacket, renderWay } from "./terminal.ts";
import { type Ink, marked, oneLine, wrap } from "./text.ts";

const MARKS: { readonly [change in Change]: string } = {
  "newly-allowed": "+ newly allowed",
  "newly-forbidden": "- newly forbidden",
};
const MARK_WIDTH = 19;
/** What a fault of the tool itself means. */
export const NO_COMPARISON = "fault of dryrack, no comparison: please report this with both plans";

/** The report of a comparison, ending in a newline. Diagnostics are not part of it. */
export function renderComparison(comparison: Comparison, ink: Ink): string {
  const { differences, replacements, alongside, undecided, sources, fault, sides } = comparison;
  const parts = [
    wrap(`${comparison.site}: from ${sides.base} to ${sides.head}`, 0),
    ...differences.map((each) => renderDifference(each, sources, ink)),
    ...replacements.map((each) => renderReplacement(each, sources, ink)),
    ...(alongside.length === 0 ? [] : [["beside that", ...alongside.map((each) => wrap(each, 3))].join("\n")]),
    ...(undecided.length === 0
      ? []
      : [[ink.open("? undecided"), ...undecided.map((each) => wrap(each, 3))].join("\n")]),
    ...(fault === undefined ? [] : [renderFault(NO_COMPARISON, fault, ink)]),
    ink.strong(summaryOf(comparison)),
  ];
  return `${parts.join("\n\n")}\n`;
}

function renderDifference(difference: Difference, sources: readonly SourceFile[], ink: Ink): string {
  const { change, notes, decidedBy, witness, path } = difference;
  const shade = change === "newly-allowed" ? ink.bad : ink.open;
  return [
    marked(MARKS[change], MARK_WIDTH, tellDifference(difference), shade),
    ...notes.map((note) => wrap(note, 3)),
    ...decidedBy.map((each) => renderEvidence({ ...each, text: tellDecision(each) }, sources, ink, "")),
    ...(witness === undefined ? [] : renderPacket(witness)),
    ...renderWay(path),
  ].join("\n");
}

/** A deciding line with the side it stands on and whether the change touches it. */
export function tellDecision({ side, changed, text }: Decision): string {
  return `${side === "base" ? "before" : "after"}${changed ? ", changed" : ""}: ${text}`;
}

function renderReplacement(
  { old, successor, kept, lost }: Replacement,
  sources: readonly SourceFile[],
  ink: Ink,
): string {
  const head = `${old} becomes ${successor}: ${kept} carried over, ${lost.length} lost`;
  return [
    (lost.length === 0 ? ink.good : ink.bad)(wrap(head, 0)),
    ...lost.map(({ text, origin }) => renderEvidence({ origin, text: `lost: ${text}` }, sources, ink, "")),
  ].join("\n");
}

/** One line that tells the whole comparison. */
export function summaryOf({ site, differences, replacements, undecided, pairs }: Comparison): string {
  const count = (wanted: Change) => differences.filter(({ change }) => change === wanted).length;
  const lost = replacements.reduce((sum, each) => sum + each.lost.length, 0);
  const told = [
    `${count("newly-allowed")} newly allowed`,
    `${count("newly-forbidden")} newly forbidden`,
    ...(lost === 0 ? [] : [`${lost} lost`]),
    ...(undecided.length === 0 ? [] : [`${undecided.length} undecided`]),
  ];
  return oneLine(`${site}: ${told.join(", ")} (${pairs.all} pairs of ends)`);
}
