/**
 * A replay as Markdown: a heading that tells the result, what was broken with its cause, then the account as a table.
 */
import { locate, type SourceFile, type Span } from "../diagnose/index.ts";
import {
  type Cause,
  type Demand,
  foldAssumptions,
  helpFor,
  type Moment,
  type Timeline,
  tellBlameEach,
  tellTime,
  timelineStatus,
} from "../result/index.ts";
import { block, code, escaped, prose } from "./markdown-text.ts";
import { NO_VERDICT, WORDS } from "./terminal.ts";
import { asked, decidedBeside, sameCause, timelineSummary, withoutRepeats, wordOf } from "./timeline.ts";

/** The report of a replay, ending in a newline. */
export function renderTimelineMarkdown(timeline: Timeline): string {
  const { story, note, demands, moments, outages, assumptions, fault, sources } = timeline;
  const parts = [
    `## ${escaped(timelineSummary(timeline))}`,
    `${code(story)}${note === undefined ? "" : `: ${escaped(note)}`}`,
    ...(timelineStatus(timeline) === 2 ? ["The documents are wrong: see the diagnostics."] : []),
    ...(fault === undefined ? [] : [`**${NO_VERDICT}**`, block(fault)]),
    ...demands.map((each, index) => demandIn(each, demands.slice(0, index), sources)),
    ...(moments.length === 0 ? [] : [accountIn(moments)]),
    ...(outages.length === 0
      ? []
      : [
          [
            "Broken for some time:",
            "",
            ...outages.map(({ name, totalMs }) => `- ${escaped(name)}: ${tellTime(totalMs)}`),
          ].join("\n"),
        ]),
    ...(assumptions.length === 0
      ? []
      : [["This rests on:", "", ...foldAssumptions(assumptions).map((each) => `- ${prose(each)}`)].join("\n")]),
  ];
  return `${parts.join("\n\n")}\n`;
}

function placeOf(span: Span, sources: readonly SourceFile[]): string {
  const { file, line } = locate(sources, span);
  return code(`${file}:${line}`);
}

function demandIn(demand: Demand, earlier: readonly Demand[], sources: readonly SourceFile[]): string {
  const { name, text, note, verdict, cause } = demand;
  const help = helpFor(demand);
  const lines = [
    ...(note === undefined ? [] : [`- “${escaped(note)}”`]),
    `- ${prose(text)}`,
    ...(cause === undefined
      ? []
      : [
          ...(verdict === undefined || verdict.headline === text ? [] : [`- ${prose(verdict.headline)}`]),
          ...causeIn(cause, demand, earlier, sources),
        ]),
    ...(help === undefined ? [] : [`- ${prose(help)}`]),
  ];
  return [`### ${wordOf(demand)}: ${escaped(name)}`, lines.join("\n")].join("\n\n");
}

function causeIn(
  cause: Cause,
  { verdict }: Demand,
  earlier: readonly Demand[],
  sources: readonly SourceFile[],
): readonly string[] {
  const same = sameCause(cause, earlier);
  if (same !== undefined) return [`- the cause is that of ${escaped(same.name)}${asked(same)}, above`];
  const line = decidedBeside(cause, verdict);
  return [
    ...cause.steps.flatMap(({ atMs, text, at, touches }) => [
      `- ${tellBlameEach(cause)}: ${tellTime(atMs)}, ${prose(text)} (${placeOf(at, sources)})`,
      ...(touches === undefined ? [] : [`- ${prose(touches.text)} (${placeOf(touches.origin.span, sources)})`]),
    ]),
    ...(cause.text === undefined ? [] : [`- ${prose(cause.text)}`]),
    ...cause.changes.map(({ part, text }) => {
      const when = tellTime(cause.changedMs ?? cause.sinceMs);
      return `- at ${when}: ${escaped(`${part} ${text}`)}`;
    }),
    ...(line === undefined ? [] : [`- decided by: ${prose(line.text)} (${placeOf(line.origin.span, sources)})`]),
  ];
}

function accountIn(moments: readonly Moment[]): string {
  const rows = withoutRepeats(moments).flatMap(({ atMs, step, changes, turns }) => {
    const told = [
      ...(step === undefined ? [] : [`**${escaped(step.text)}**`]),
      ...changes.map(({ part, text }) => escaped(`${part} ${text}`)),
      ...turns.map(({ name, verdict }) => {
        const aside = verdict.remembered ?? verdict.goesOn;
        const why = aside === undefined ? "" : ` (${escaped(aside)})`;
        return `${WORDS[verdict.status]}: ${escaped(name)}${why}`;
      }),
    ];
    return told.map((each, index) => `| ${index === 0 ? tellTime(atMs) : ""} | ${each} |`);
  });
  return ["| time | what happens |", "| ---: | --- |", ...rows].join("\n");
}
