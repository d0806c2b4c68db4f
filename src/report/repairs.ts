/**
 * Repairs as a person reads them in a terminal, under the verdict that they mend: what to do, the lines as they are and as
 * they would be, whole, what else it mends, and what it opens and closes. One that mends several verdicts is shown with the
 * first of them and called by its number after that.
 */
import { lineStartsOf, lineText, type SourceFile } from "../diagnose/index.ts";
import type { ChangedLines, Mending, Repair, Run, Verdict } from "../result/index.ts";
import { type Ink, oneLine, visible, wrap } from "./text.ts";

/** What repairs are worth: told once in each report that shows one. */
export const REPAIR_CAUTION =
  "a repair is a suggestion: it was tried on the model and the written assertions, and on nothing else";
const REPAIR_KINDS = "tag, rule, set, order of rules, route, relay, leg, service or cable";

/** Numbers of repairs in the order in which a report shows them; equal edits have one number. */
export type RepairNumbers = ReadonlyMap<string, number>;

/** Numbers the repairs of these verdicts. */
export function numberRepairs(verdicts: readonly Verdict[], run: Run): RepairNumbers {
  const keys = verdicts.flatMap((verdict) => mendingOf(verdict, run)?.repairs.map(repairKey) ?? []);
  return new Map([...new Set(keys)].map((key, index) => [key, index + 1]));
}

/** What was found for a verdict; undefined: nobody looked. */
export function mendingOf({ id }: Verdict, { mendings }: Run): Mending | undefined {
  return mendings?.find((mending) => mending.id === id);
}

/** Tells one edit from others. */
export function repairKey({ file, changes }: Repair): string {
  return JSON.stringify([file, changes]);
}

/** The repairs of one verdict; `shown` gets the keys of those that are told in full. */
export function renderMending(
  mending: Mending,
  sources: readonly SourceFile[],
  numbers: RepairNumbers,
  shown: Set<string>,
  ink: Ink,
): readonly string[] {
  if (mending.repairs.length === 0) return [wrap(tellNone(mending), 3)];
  return mending.repairs.flatMap((repair) => {
    const key = repairKey(repair);
    const head = `repair ${numbers.get(key) ?? 1}`;
    if (shown.has(key)) return [`   ${ink.good(`${head}, above, mends it, too`)}`];
    shown.add(key);
    return renderRepair(repair, head, sources, ink);
  });
}

/** Why there is none, in a line. */
export function tellNone({ tried, limit, refused }: Mending): string {
  if (tried === 0)
    return limit === undefined ? `no single edit of a ${REPAIR_KINDS} was found to try` : `no repair: ${limit}`;
  const some =
    tried === 1
      ? `the one single edit of a ${REPAIR_KINDS} that was tried does not mend it`
      : `none of the ${tried} single edits of a ${REPAIR_KINDS} that were tried mends it`;
  const cost =
    refused === undefined ? "" : ` without harm to others: ${refused.edits} would, at the cost of \`${refused.costs}\``;
  return `${some}${cost}${limit === undefined ? "" : `; there are ${limit}`}`;
}

function renderRepair(repair: Repair, head: string, sources: readonly SourceFile[], ink: Ink): readonly string[] {
  const { text, file, changes, mends, allows, forbids } = repair;
  return [
    `   ${ink.good(head)}${wrap(`: ${text}`, 3 + head.length, 6).slice(3 + head.length)}`,
    ...changes.flatMap((lines) => [
      `      ${oneLine(file)}, line ${lines.line}`,
      ...renderLines(lines, repair, sources, ink),
    ]),
    ...(mends.length === 0 ? [] : [wrap(`mends ${mends.map((name) => `\`${name}\``).join(", ")}, too`, 6)]),
    ...reachLines(allows, forbids).map((line) => wrap(line, 6)),
  ];
}

/** What an edit opens and closes, in lines. */
export function reachLines(allows: readonly string[], forbids: readonly string[]): readonly string[] {
  if (allows.length + forbids.length === 0)
    return ["between networks, and to devices that are managed, it changes nothing"];
  return [...allows.map((each) => `newly allowed: ${each}`), ...forbids.map((each) => `newly forbidden: ${each}`)];
}

/** Whole lines, for they are to be typed; a line that others follow is shown above what is only put in. */
function renderLines(
  { line, before, after }: ChangedLines,
  { at }: Repair,
  sources: readonly SourceFile[],
  ink: Ink,
): readonly string[] {
  const text = sources[at.file]?.text ?? "";
  const above = before.length === 0 && line > 1 ? [lineText(text, lineStartsOf(text), line - 1)] : [];
  const indent = Math.min(...[...before, ...after, ...above].filter(isWritten).map(indentOf));
  const shown = (each: string): string => visible(each).slice(indent).trimEnd();
  return [
    ...above.filter(isWritten).map((each) => `        ${shown(each)}`),
    ...before.map((each) => `      ${ink.bad(`- ${shown(each)}`)}`),
    ...after.map((each) => `      ${ink.good(`+ ${shown(each)}`)}`),
  ];
}

function isWritten(line: string): boolean {
  return line.trim() !== "";
}

function indentOf(line: string): number {
  return line.length - line.trimStart().length;
}
