/**
 * A replay as a person reads it in a terminal: the account, moment by moment; then what came of what was demanded and seen, with the
 * cause of what was broken; then a line that can be quoted in a chat.
 */
import { isSameSpan, type SourceFile } from "../diagnose/index.ts";
import {
  type Cause,
  type Demand,
  type Evidence,
  foldAssumptions,
  helpFor,
  type Knowledge,
  type Moment,
  type Outage,
  type Status,
  type Timeline,
  type Turn,
  tellBlame,
  tellTime,
  timelineStatus,
} from "../result/index.ts";
import { STATUS_MARKS } from "./policy-table.ts";
import { NO_VERDICT, renderEvidence, renderFault, WORDS } from "./terminal.ts";
import { type Ink, marked, oneLine, wrap } from "./text.ts";

const MARK_WIDTH = 13;
/** Changes of one moment that are told one by one. */
const MOST_CHANGES = 6;
const MOST_TURNS = 8;

/** The whole account, ending in a newline. Diagnostics are not part of it. */
export function renderTimeline(timeline: Timeline, ink: Ink): string {
  const { moments, demands, fault, note } = timeline;
  const width = Math.max(4, ...withoutRepeats(moments).map(({ atMs }) => tellTime(atMs).length));
  const order = [...demands.filter(isLong), ...demands.filter((demand) => !isLong(demand))];
  const parts = [
    [
      ink.strong(wrap(titleOf(timeline), 0, 3)),
      ...(note === undefined ? [] : [wrap(note, 3)]),
      ...beganLines(timeline, ink),
    ].join("\n"),
    ...(moments.length === 0 ? [] : [accountOf(moments, width, ink)]),
    ...grouped(
      order.map(
        (demand, index) => [isLong(demand), renderDemand(demand, order.slice(0, index), timeline, ink)] as const,
      ),
    ),
    ...(timeline.outages.length === 0 ? [] : [renderOutages(timeline, ink)]),
    ...(timeline.assumptions.length === 0
      ? []
      : [["this rests on:", ...foldAssumptions(timeline.assumptions).map((each) => wrap(each, 3))].join("\n")]),
    ...(fault === undefined ? [] : [renderFault(NO_VERDICT, fault, ink)]),
    ink.strong(oneLine(timelineSummary(timeline))),
  ];
  return `${parts.join("\n\n")}\n`;
}

/** Long ones stand apart, short ones under one another. */
function grouped(texts: readonly (readonly [isLong: boolean, text: string])[]): string[] {
  const short = texts.flatMap(([isLong, text]) => (isLong ? [] : [text]));
  return [
    ...texts.flatMap(([isLong, text]) => (isLong ? [text] : [])),
    ...(short.length === 0 ? [] : [short.join("\n")]),
  ];
}

function titleOf({ site, story, from }: Timeline): string {
  return `${site}: ${story}${from === undefined ? "" : `, as ${from} sees it`}`;
}

function beganLines({ began: { kept, open } }: Timeline, ink: Ink): string[] {
  return [
    wrap(`it begins with ${kept} ${kept === 1 ? "assertion" : "assertions"} kept`, 3),
    ...open.map(({ name, status }) => `   ${turnLine(status, name, "", ink, 3)}`),
  ];
}

// -- the account -----------------------------------------------------------------------------------------------------

function accountOf(all: readonly Moment[], width: number, ink: Ink): string {
  const moments = withoutRepeats(all);
  let last: number | undefined;
  const lines: string[] = [];
  for (const moment of moments) {
    const body = bodyOf(moment, width + 2, ink);
    const time = moment.atMs === last ? "" : tellTime(moment.atMs);
    lines.push(...body.map((line, row) => (row === 0 ? `${time.padStart(width)}${line.slice(width)}` : line)));
    last = moment.atMs;
  }
  return lines.join("\n");
}

/**
 * What a part comes to know again and again, such as a lease that is kept, is told once, with how often it was so. What follows from
 * another step of the story is told anew. What only goes on follows from a step where something else happens to its device at that
 * moment, such as a link that comes back: elsewhere it is told once in the whole story.
 */
export function withoutRepeats(moments: readonly Moment[]): readonly Moment[] {
  const last = new Map<string, Repeated>();
  const happened = new Set(
    moments.flatMap(({ atMs, changes }) =>
      changes.flatMap(({ device, isSame }) => (isSame === true ? [] : [`${atMs} ${device}`])),
    ),
  );
  const told = moments.map((moment) => {
    const { atMs } = moment;
    if (moment.step !== undefined && !STILL.has(moment.step.kind)) {
      for (const [part, { change }] of last) if (change.isSame !== true) last.delete(part);
    }
    const changes = moment.changes.flatMap((change) => {
      const known =
        change.isSame === true && happened.has(`${atMs} ${change.device}`) ? undefined : last.get(change.part);
      if (known?.change.text === change.text && known.change.what === change.what) {
        known.again++;
        known.untilMs = atMs;
        return [];
      }
      const first = { change, again: 0, untilMs: atMs };
      last.set(change.part, first);
      return [first];
    });
    return { moment, changes };
  });
  return told.flatMap(({ moment, changes }) => {
    const isEmpty = moment.step === undefined && changes.length + moment.turns.length === 0;
    return isEmpty ? [] : [{ ...moment, changes: changes.map(tellRepeated) }];
  });
}

/** Steps by which nothing becomes another one. */
const STILL: ReadonlySet<string> = new Set(["wait", "walk", "assert", "meanwhile", "no-longer"]);

type Repeated = { readonly change: Knowledge; again: number; untilMs: number };

function tellRepeated({ change, again, untilMs }: Repeated): Knowledge {
  const times = again === 1 ? "once more" : `${again} times more`;
  return again === 0 ? change : { ...change, text: `${change.text} (${times}, last at ${tellTime(untilMs)})` };
}

/** The lines of a moment, each with room for the time before it. */
function bodyOf({ step, changes, turns }: Moment, indent: number, ink: Ink): string[] {
  const inner = indent + 2;
  return [
    ...(step === undefined ? [] : wrap(step.text, indent, inner).split("\n")),
    ...(step?.note === undefined ? [] : wrap(`(${step.note})`, inner).split("\n")),
    ...changesOf(changes, inner),
    ...turnsOf(turns, inner, ink),
  ];
}

function changesOf(changes: readonly Knowledge[], indent: number): string[] {
  const told = [...new Set(changes.map(({ part, text }) => `${oneLine(part)} ${oneLine(text)}`))];
  const more = told.length - MOST_CHANGES;
  return [
    ...told.slice(0, more > 1 ? MOST_CHANGES : undefined).flatMap((line) => wrap(line, indent, indent + 2).split("\n")),
    ...(more > 1 ? [`${" ".repeat(indent)}and ${more} more changes, told in the JSON report`] : []),
  ];
}

/** Assertions that turned; what was blocked and is cut off is counted only. */
function turnsOf(turns: readonly Turn[], indent: number, ink: Ink): string[] {
  const told = turns.filter((turn) => !isQuiet(turn));
  const quiet = turns.length - told.length;
  const more = told.length - MOST_TURNS;
  return [
    ...told.slice(0, more > 1 ? MOST_TURNS : undefined).flatMap(({ name, verdict, afterMs }) => {
      const after = afterMs === undefined ? "" : ` (after ${tellTime(afterMs)})`;
      const aside = verdict.remembered ?? verdict.goesOn;
      const why = aside === undefined ? [] : wrap(oneLine(aside), indent + MARK_WIDTH).split("\n");
      return [...turnLine(verdict.status, name, after, ink, indent).split("\n"), ...why];
    }),
    ...(more > 1 ? [`${" ".repeat(indent)}and ${more} more assertions turn`] : []),
    ...(quiet === 0
      ? []
      : [
          wrap(
            `○ ${quiet} that forbid turn between kept and vacuous: who is cut off reaches nothing`,
            indent,
            indent + 2,
          ),
        ].flatMap((each) => each.split("\n"))),
  ];
}

function isQuiet({ before, verdict: { status, kind } }: Turn): boolean {
  return kind === "blocked" && [before, status].every((each) => each === "vacuous" || each === "passed");
}

function turnLine(status: Status, name: string, after: string, ink: Ink, indent: number): string {
  const head = `${STATUS_MARKS[status]} ${WORDS[status]}`;
  const text = wrap(`${name}${after}`, indent + MARK_WIDTH).trimStart();
  return `${" ".repeat(indent)}${inkFor(status, ink)(head)}${" ".repeat(MARK_WIDTH - head.length)}${text}`;
}

function inkFor(status: Status, ink: Ink): (text: string) => string {
  if (status === "passed") return ink.good;
  if (status === "undecided") return ink.open;
  return status === "skipped" ? ink.faint : ink.bad;
}

// -- what was demanded and seen --------------------------------------------------------------------------------------

function isLong({ status, cause }: Demand): boolean {
  return cause !== undefined || (status !== "passed" && status !== "skipped");
}

/** What came of a demand in a word. */
export function wordOf({ kind, status }: Demand): string {
  if (kind !== "saw") return WORDS[status];
  return status === "passed" ? "seen" : status === "failed" ? "not seen" : WORDS[status];
}

function renderDemand(demand: Demand, earlier: readonly Demand[], { sources }: Timeline, ink: Ink): string {
  const { kind, name, status, text, note, verdict, cause, atMs } = demand;
  const when =
    kind === "assert" ? `${name} (at ${tellTime(atMs)})` : kind === "meanwhile" ? `${name} (meanwhile)` : name;
  const told = status === "skipped" ? `${when}: ${text}` : when;
  const head = marked(`${STATUS_MARKS[status]} ${wordOf(demand)}`, MARK_WIDTH, told, inkFor(status, ink));
  if (!isLong(demand)) return head;
  const headline = verdict?.headline ?? "";
  const help = helpFor(demand);
  return [
    head,
    ...(note === undefined ? [] : [wrap(`“${note}”`, 3)]),
    ...(text === headline ? [] : [wrap(text, 3)]),
    ...(headline === "" || (kind === "saw" && status !== "passed") ? [] : [wrap(headline, 3)]),
    ...(cause === undefined ? [] : renderCause(cause, demand, earlier, sources, ink)),
    ...(help === undefined ? [] : [wrap(help, 3)]),
  ].join("\n");
}

function renderCause(
  cause: Cause,
  { verdict }: Demand,
  earlier: readonly Demand[],
  sources: readonly SourceFile[],
  ink: Ink,
): string[] {
  const same = sameCause(cause, earlier);
  if (same !== undefined) return [wrap(`the cause is that of \`${same.name}\`${asked(same)}, above`, 3)];
  const headline = verdict?.headline ?? "";
  const line = decidedBeside(cause, verdict);
  const steps = cause.steps.flatMap(({ atMs, text, at, touches }) => [
    renderEvidence({ origin: { by: "written", span: at }, text: `${tellTime(atMs)}: ${text}` }, sources, ink, ""),
    ...(touches === undefined ? [] : [renderEvidence(touches, sources, ink, "")]),
  ]);
  const { changedMs } = cause;
  const changes = cause.changes.map(({ part, text }) => wrap(`${part} ${text}`, 5, 7));
  return [
    ...(steps.length === 0 ? [wrap(cause.text ?? "", 3)] : [`   ${tellBlame(cause)}:`, ...steps]),
    ...(changedMs === undefined ? [] : [`   and so, at ${tellTime(changedMs)}:`, ...changes]),
    ...(line === undefined ? [] : ["   decided by:", renderEvidence(line, sources, ink, headline)]),
  ];
}

/** The line that decided; undefined: there is none, or it is a step that is told as the cause already. */
export function decidedBeside({ steps }: Cause, verdict: Demand["verdict"]): Evidence | undefined {
  const [line] = verdict?.decidedBy ?? [];
  return line !== undefined && steps.some(({ at }) => isSameSpan(at, line.origin.span)) ? undefined : line;
}

/** The demand before that has the same cause; undefined: none has. */
export function sameCause(cause: Cause, earlier: readonly Demand[]): Demand | undefined {
  return earlier.find((other) => other.cause !== undefined && isSameCause(other.cause, cause));
}

/** When it was asked, where the same assertion may be asked at several times. */
export function asked({ kind, atMs }: Demand): string {
  return kind === "assert" ? ` at ${tellTime(atMs)}` : "";
}

/** Whether the same steps are to blame since the same moment. */
function isSameCause(one: Cause, other: Cause): boolean {
  const placesOf = ({ steps }: Cause): string => steps.map(({ at }) => `${at.file}:${at.start}`).join(" ");
  return one.steps.length > 0 && one.sinceMs === other.sinceMs && placesOf(one) === placesOf(other);
}

// -- outages ---------------------------------------------------------------------------------------------------------

function renderOutages({ outages, endMs }: Timeline, ink: Ink): string {
  return ["broken for some time:", ...outages.map((each) => renderOutage(each, endMs, ink))].join("\n");
}

function renderOutage({ name, times, totalMs }: Outage, endMs: number, ink: Ink): string {
  const last = times.at(-1);
  const isOpen = last !== undefined && last.toMs === undefined;
  const parts = [
    tellTime(totalMs),
    ...(times.length > 1 ? [`${times.length} times`] : []),
    ...(isOpen ? [`still at the end (${tellTime(endMs)})`] : []),
  ];
  return `   ${ink.faint("-")} ${wrap(`${name}: ${parts.join(", ")}`, 5).trimStart()}`;
}

/** One line that tells the whole replay. */
export function timelineSummary(timeline: Timeline): string {
  const { site, demands, endMs, fault } = timeline;
  if (timelineStatus(timeline) === 2) return `${site}: not replayed`;
  // Of what lies behind the end nobody knows whether it would be seen or kept.
  const reached = demands.filter(({ status }) => status !== "skipped");
  const seen = reached.filter(({ kind }) => kind === "saw");
  const asked = reached.filter(({ kind }) => kind !== "saw");
  const skipped = demands.length - reached.length;
  const good = (some: readonly Demand[]): number => some.filter(({ status }) => status === "passed").length;
  const told = [
    ...(seen.length === 0 ? [] : [`${good(seen)} of ${seen.length} seen`]),
    ...(asked.length === 0 ? [] : [`${good(asked)} of ${asked.length} kept`]),
    ...(skipped === 0 ? [] : [`${skipped} skipped`]),
  ];
  const came = fault === undefined ? told.join(", ") || "nothing demanded" : "no verdict";
  return `${site}, ${tellTime(endMs)} replayed: ${came}`;
}
