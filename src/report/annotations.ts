/**
 * Findings as notes at lines of files, in the commands that a CI reads from a step's output: one line each,
 * `::error file=...,line=...,title=...::text`. The gravest come first, since only ten of a kind are shown for a step.
 *
 * A note on an assertion stands at the line that decided, and names the assertion; with no such line at the assertion.
 */
import { type Diagnostic, locate, type Place, type SourceFile, type Span } from "../diagnose/index.ts";
import {
  type Comparison,
  type Difference,
  fallsShort,
  packetLines,
  type Run,
  type Told,
  tellDifference,
  type Verdict,
} from "../result/index.ts";
import { NO_COMPARISON, tellDecision } from "./comparison.ts";
import { tellPlace } from "./excerpt.ts";
import { NO_VERDICT, WORDS } from "./terminal.ts";
import { oneLine } from "./text.ts";

/** How grave a note is, as the commands have it. */
type Grade = "error" | "warning" | "notice";

type Note = {
  readonly grade: Grade;
  /** In a few words; shown in bold. */
  readonly title: string;
  /** Lines below it. */
  readonly lines: readonly string[];
  readonly place?: Place;
};

const RANK: { readonly [grade in Grade]: number } = { error: 0, warning: 1, notice: 2 };
const GRADES = { error: "error", warning: "warning", note: "notice" } as const;

/** A run as notes, a line each; empty where nothing is to be said. */
export function renderAnnotations(run: Run): string {
  const { fault, diagnostics, sources, verdicts } = run;
  return emitted([
    ...faultNotes(NO_VERDICT, fault),
    ...diagnostics.map((each) => diagnosticNote(each, sources)),
    ...verdicts.filter(fallsShort).map((each) => verdictNote(each, sources)),
  ]);
}

/** A comparison as notes at the lines of the later side: what is newly allowed is a warning, or an error where it shall fail. */
export function renderComparisonAnnotations(comparison: Comparison): string {
  const { fault, diagnostics, sources, differences, undecided } = comparison;
  return emitted([
    ...faultNotes(NO_COMPARISON, fault),
    ...diagnostics.map((each) => diagnosticNote(each, sources)),
    ...differences.map((each) => differenceNote(each, comparison)),
    ...undecided.map((text): Note => ({ grade: "warning", title: "undecided", lines: [text] })),
  ]);
}

function emitted(notes: readonly Note[]): string {
  const sorted = notes.toSorted((one, other) => RANK[one.grade] - RANK[other.grade]);
  return sorted.map((note) => `${emitNote(note)}\n`).join("");
}

function faultNotes(head: string, fault: string | undefined): readonly Note[] {
  return fault === undefined ? [] : [{ grade: "error", title: head, lines: fault.split("\n") }];
}

function diagnosticNote(
  { code, severity, message, labels, notes, help }: Diagnostic,
  sources: readonly SourceFile[],
): Note {
  const [primary, ...others] = labels;
  return {
    grade: GRADES[severity],
    title: code,
    lines: [
      message,
      ...others.map(({ span, text }) => `${tellPlace(locate(sources, span))}${text === "" ? "" : `: ${text}`}`),
      ...notes,
      ...(help === undefined ? [] : [help]),
    ],
    ...(primary === undefined ? {} : { place: locate(sources, primary.span) }),
  };
}

function verdictNote(verdict: Verdict, sources: readonly SourceFile[]): Note {
  const { status, name, headline, decidedBy, witness, path, help, repeat, at } = verdict;
  const [first, ...others] = decidedBy;
  const placed = (span: Span): string => tellPlace(locate(sources, span));
  return {
    grade: status === "undecided" ? "warning" : "error",
    title: `${WORDS[status]}: ${name}`,
    lines: [
      headline,
      ...(first === undefined || headline.includes(first.text) ? [] : [first.text]),
      ...others.map(({ origin, text }) => `${placed(origin.span)}: ${text}`),
      ...(witness === undefined ? [] : packetLines(witness)),
      ...path.map(stepLine),
      ...(help === "" ? [] : [help]),
      ...(first === undefined ? [] : [`the assertion stands in ${placed(at)}`]),
      ...(repeat === undefined ? [] : [`again: ${repeat}`]),
    ],
    place: locate(sources, first?.origin.span ?? at),
  };
}

function differenceNote(difference: Difference, { sources, failOn }: Comparison): Note {
  const { change, notes, decidedBy, witness, path } = difference;
  const later = decidedBy.find(({ side }) => side === "head");
  const grade = change === "newly-allowed" ? "warning" : "notice";
  return {
    grade: failOn.includes(change) ? "error" : grade,
    title: change.replace("-", " "),
    lines: [
      tellDifference(difference),
      ...notes,
      ...decidedBy.map((each) => `${tellPlace(locate(sources, each.origin.span))}: ${tellDecision(each)}`),
      ...(witness === undefined ? [] : packetLines(witness)),
      ...path.map(stepLine),
    ],
    ...(later === undefined ? {} : { place: locate(sources, later.origin.span) }),
  };
}

function stepLine({ device, text }: Told, index: number): string {
  return `${index + 1} ${device} ${text}`;
}

function emitNote({ grade, title, lines, place }: Note): string {
  const properties = [...(place === undefined ? [] : placeProperties(place)), `title=${property(title)}`];
  return `::${grade} ${properties.join(",")}::${lines.map((line) => data(oneLine(line))).join("%0A")}`;
}

/** A column is told where a place lies in one line: of several, whole lines are marked. */
function placeProperties({ file, line, endLine, column }: Place): readonly string[] {
  const where = [`file=${property(file)}`, `line=${line}`, `endLine=${endLine}`];
  return line === endLine ? [...where, `col=${column}`] : where;
}

/** Text behind the second pair of colons; it has no line ends. */
function data(text: string): string {
  return text.replaceAll("%", "%25").replaceAll("\r", "%0D").replaceAll("\n", "%0A");
}

/** The value of a property, which ends at a comma or colons. */
function property(text: string): string {
  return data(oneLine(text)).replaceAll(":", "%3A").replaceAll(",", "%2C");
}
