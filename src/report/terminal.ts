/**
 * A run as a person reads it in a terminal: failures first, each with its packet, its way, the deciding line and the
 * command that repeats it; then what holds; then a summary line that can be quoted in a chat.
 */
import type { SourceFile } from "../diagnose/index.ts";
import {
  type Break,
  countVerdicts,
  type Evidence,
  foldAssumptions,
  packetLines,
  type Recovery,
  type Run,
  type Status,
  type Told,
  type Verdict,
  type VerdictChanges,
} from "../result/index.ts";
import { excerpt, placeOf, tellPlace } from "./excerpt.ts";
import { renderPolicyTable, STATUS_MARKS } from "./policy-table.ts";
import { recoveryParts } from "./recovery-parts.ts";
import { mendingOf, numberRepairs, REPAIR_CAUTION, type RepairNumbers, renderMending } from "./repairs.ts";
import { type Ink, marked, oneLine, visible, wrap } from "./text.ts";

/** How each status is called. */
export const WORDS: { readonly [status in Status]: string } = {
  passed: "kept",
  failed: "broken",
  vacuous: "vacuous",
  undecided: "undecided",
  skipped: "skipped",
};
const ORDER: readonly Status[] = ["failed", "vacuous", "undecided", "passed", "skipped"];
const MARK_WIDTH = 13;
/** What a fault of the tool itself means. */
export const NO_VERDICT = "fault of dryrack, no verdict: please report this with the site";

/** What a terminal report may show beyond the needful. */
export type TerminalOptions = {
  /** How words are set off. */
  readonly ink: Ink;
  /** Show the way and the deciding lines of passing verdicts too. */
  readonly verbose: boolean;
};

/** The report of a run, ending in a newline. Diagnostics are not part of it; what was skipped is counted, not listed. */
export function renderTerminal(run: Run, options: TerminalOptions): string {
  const { parts: verdicts, mended } = partsOf(run.verdicts, run, options);
  const parts = [
    ...verdicts,
    ...(run.assumptions.length === 0 ? [] : [renderAssumptions(run.assumptions)]),
    ...(mended.shown.size === 0 ? [] : [wrap(REPAIR_CAUTION, 0)]),
    ...(run.fault === undefined ? [] : [renderFault(NO_VERDICT, run.fault, options.ink)]),
    summaryOf(run, options.ink),
  ];
  return `${parts.join("\n\n")}\n`;
}

/** One verdict as the report of its run shows it at length; no line break at its end. */
export function renderAlone(verdict: Verdict, run: Run, options: TerminalOptions): string {
  return renderVerdict(verdict, run, options, { numbers: new Map(), shown: new Set() });
}

/** The report of a run that follows another one: only these of its verdicts, what is gone, and the summary; ends in a newline. */
export function renderChanges(run: Run, { changed, gone }: VerdictChanges, options: TerminalOptions): string {
  const parts = [
    ...partsOf(changed, run, options).parts,
    ...(gone.length === 0
      ? []
      : [gone.map((name) => marked("- gone", MARK_WIDTH, name, options.ink.faint)).join("\n")]),
    ...(run.fault === undefined ? [] : [renderFault(NO_VERDICT, run.fault, options.ink)]),
    `${summaryOf(run, options.ink)}${changed.length + gone.length === 0 ? ", as before" : ""}`,
  ];
  return `${parts.join("\n\n")}\n`;
}

/** Verdicts in the order of a report: failures first, those that are told in a line at the end. */
function partsOf(
  verdicts: readonly Verdict[],
  run: Run,
  options: TerminalOptions,
): { readonly parts: readonly string[]; readonly mended: Mended } {
  const sorted = ORDER.flatMap((status) => verdicts.filter((verdict) => verdict.status === status));
  const long = sorted.filter((verdict) => isLong(verdict, options));
  const short = sorted.filter((verdict) => !isLong(verdict, options) && verdict.status !== "skipped");
  const mended = { numbers: numberRepairs(long, run), shown: new Set<string>() };
  const parts = [
    ...long.map((verdict) => renderVerdict(verdict, run, options, mended)),
    ...(short.length === 0 ? [] : [short.map((verdict) => headOf(verdict, options.ink)).join("\n")]),
  ];
  return { parts, mended };
}

function isLong(verdict: Verdict, { verbose }: TerminalOptions): boolean {
  if (verdict.status === "skipped") return false;
  return verbose || verdict.status !== "passed";
}

function inkOf(status: Status, ink: Ink): (text: string) => string {
  if (status === "passed") return ink.good;
  if (status === "failed" || status === "vacuous") return ink.bad;
  return status === "undecided" ? ink.open : ink.faint;
}

function headOf(verdict: Verdict, ink: Ink): string {
  return marked(
    `${STATUS_MARKS[verdict.status]} ${WORDS[verdict.status]}`,
    MARK_WIDTH,
    verdict.name,
    inkOf(verdict.status, ink),
  );
}

/** Numbers of repairs, and which of them are told already. */
type Mended = { readonly numbers: RepairNumbers; readonly shown: Set<string> };

function renderVerdict(verdict: Verdict, run: Run, options: TerminalOptions, { numbers, shown }: Mended): string {
  const { ink } = options;
  const mending = mendingOf(verdict, run);
  return [
    headOf(verdict, ink),
    wrap(verdict.headline, 3),
    ...(verdict.kind === "policy" ? renderPolicyTable(verdict.cells, verdict.headline, ink) : []),
    ...verdict.decidedBy
      .slice(0, options.verbose ? undefined : 2)
      .map((each) => renderEvidence(each, run.sources, ink, verdict.headline)),
    ...(verdict.witness === undefined ? [] : renderPacket(verdict.witness)),
    ...renderWay(verdict.path),
    ...renderBreaks(verdict.breaks ?? []),
    ...renderRecovery(verdict.recovery, options.verbose),
    ...(options.verbose ? renderGrounds(verdict, run.sources) : []),
    ...(verdict.help === "" ? [] : [wrap(verdict.help, 3)]),
    ...(mending === undefined ? [] : renderMending(mending, run.sources, numbers, shown, ink)),
    ...(verdict.repeat === undefined || verdict.status === "passed" ? [] : [`   again: ${oneLine(verdict.repeat)}`]),
  ].join("\n");
}

/** A deciding line with its excerpt; what the headline has said is not said again. */
export function renderEvidence(
  { origin, text }: Evidence,
  sources: readonly SourceFile[],
  ink: Ink,
  headline: string,
): string {
  const told = [...(headline.includes(text) ? [] : [text]), ...reasonOf(origin, text)];
  const place = [tellPlace(placeOf(sources, origin)), ...told].join(": ");
  return `${wrap(place, 3)}\n${excerpt(sources, origin.span, ink)}`;
}

/** What cannot be seen in the line itself: the default that it stands for, or what is missing there. */
function reasonOf(origin: Evidence["origin"], text: string): string[] {
  if (origin.by === "default") return [`by default, ${origin.rule} (${origin.source})`];
  return origin.by === "absent" && !text.includes(origin.wanted) ? [`${origin.wanted} is missing`] : [];
}

/** A packet in a line, and what had to be sent before it. */
export function renderPacket(packet: NonNullable<Verdict["witness"]>): string[] {
  return packetLines(packet).map((line) => wrap(line, 3, 6));
}

/** The way of a packet, numbered, one line a step; a run of steps on one device names it once. */
export function renderWay(path: readonly Told[]): string[] {
  const width = Math.max(0, ...path.map((step) => visible(step.device).length));
  return path.map((step, index) => {
    const same = path[index - 1]?.device === step.device;
    const device = same ? " ".repeat(width) : visible(step.device).padEnd(width);
    return wrap(`${step.text}`, 0, 0)
      .split("\n")
      .map((line, row) =>
        row === 0 ? `   ${String(index + 1).padStart(2)} ${device} ${line}` : `${" ".repeat(7 + width)}${line}`,
      )
      .join("\n");
  });
}

/** The other failures that break it: the first is the one shown. */
function renderBreaks([, ...others]: readonly Break[]): string[] {
  if (others.length === 0) return [];
  return ["   broken, too, without", ...others.map(({ without }) => wrap(`- ${without.join(" and ")}`, 3, 5))];
}

/** What came of starting it from dark. */
function renderRecovery(recovery: Recovery | undefined, verbose: boolean): string[] {
  return recoveryParts(recovery, verbose).flatMap(({ head, lines }) => [
    `   ${head}`,
    ...lines.map((line) => wrap(line, 3, 5)),
  ]);
}

const GROUND_WIDTH = 12;

/** What a proof rests on: each line that was written or is missing once, how many defaults, and what is taken for granted. */
function renderGrounds({ restsOn, assumptions }: Verdict, sources: readonly SourceFile[]): string[] {
  const written = restsOn.filter(({ origin }) => origin.by !== "default");
  const lines = new Map<string, string[]>();
  for (const { ground, origin, text } of written) {
    const place = `${ground} ${tellPlace(placeOf(sources, origin))}`;
    lines.set(place, [...(lines.get(place) ?? []), [text, ...reasonOf(origin, text)].join(": ")]);
  }
  const told = [...lines].map(([place, [first = "", ...more]]) => {
    const [ground = "", ...words] = place.split(" ");
    const others = more.length === 0 ? "" : `, and ${more.length} more by this line`;
    return groundRow(ground, `${words.join(" ")}: ${first}${others}`);
  });
  const defaults = restsOn.length - written.length;
  // What is assumed since a line says so is told with that line.
  const said = new Set(written.flatMap(({ ground, text }) => (ground === "assumed" ? [text] : [])));
  const rows = [
    ...told,
    ...(defaults === 0 ? [] : [groundRow("default", `${defaults} that nobody has to write, told in the JSON report`)]),
    ...foldAssumptions(assumptions.filter((sentence) => !said.has(sentence))).map((sentence) =>
      groundRow("assumed", sentence),
    ),
  ];
  return rows.length === 0 ? [] : ["   rests on", ...rows];
}

function groundRow(word: string, text: string): string {
  return `   - ${word.padEnd(GROUND_WIDTH)}${wrap(text, 5 + GROUND_WIDTH).trimStart()}`;
}

function renderAssumptions(assumptions: readonly string[]): string {
  return ["this rests on:", ...foldAssumptions(assumptions).map((sentence) => wrap(sentence, 3))].join("\n");
}

/** A fault of the tool itself; `head` says what it means. */
export function renderFault(head: string, fault: string, ink: Ink): string {
  const lines = fault.split("\n").map((line) => wrap(line, 3));
  return [ink.bad(head), ...lines].join("\n");
}

/** One line that tells the whole run. */
export function summaryOf(run: Run, ink: Ink): string {
  const counts = countVerdicts(run.verdicts);
  const told = ORDER.filter((status) => counts[status] > 0 || status === "passed").map(
    (status) => `${counts[status]} ${WORDS[status]}`,
  );
  const sites = [...new Set(run.verdicts.map((verdict) => verdict.site))];
  return ink.strong(oneLine(`${sites.join(", ") || "nothing asked"}: ${told.join(", ")}`));
}
