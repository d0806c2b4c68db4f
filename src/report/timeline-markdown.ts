/**
 * A replay as Markdown: a heading that tells the result, what was broken with its cause, then the account as a table.
 */
import { locate, type SourceFile, type Span } from "../diagnose/index.ts";
import { type Demand, type Moment, type Timeline, tellTime, timelineStatus } from "../result/index.ts";
import { block, code, escaped } from "./markdown-text.ts";
import { NO_VERDICT, WORDS } from "./terminal.ts";
import { timelineSummary, withoutRepeats, wordOf } from "./timeline.ts";

/** The report of a replay, ending in a newline. */
export function renderTimelineMarkdown(timeline: Timeline): string {
  const { story, note, demands, moments, outages, assumptions, fault, sources } = timeline;
  const parts = [
    `## ${escaped(timelineSummary(timeline))}`,
    `${code(story)}${note === undefined ? "" : `: ${escaped(note)}`}`,
    ...(timelineStatus(timeline) === 2 ? ["The documents are wrong: see the diagnostics."] : []),
    ...(fault === undefined ? [] : [`**${NO_VERDICT}**`, block(fault)]),
    ...demands.map((each) => demandIn(each, sources)),
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
      : [["This rests on:", "", ...assumptions.map((each) => `- ${escaped(each)}`)].join("\n")]),
  ];
  return `${parts.join("\n\n")}\n`;
}

function placeOf(span: Span, sources: readonly SourceFile[]): string {
  const { file, line } = locate(sources, span);
  return code(`${file}:${line}`);
}

function demandIn(demand: Demand, sources: readonly SourceFile[]): string {
  const { name, text, note, verdict, cause } = demand;
  const [line] = verdict?.decidedBy ?? [];
  const lines = [
    ...(note === undefined ? [] : [`- “${escaped(note)}”`]),
    `- ${escaped(text)}`,
    ...(cause === undefined
      ? []
      : [
          ...(verdict === undefined || verdict.headline === text ? [] : [`- ${escaped(verdict.headline)}`]),
          ...cause.steps.flatMap(({ atMs, text: told, at, touches }) => [
            `- without this it would not be so: ${tellTime(atMs)}, ${escaped(told)} (${placeOf(at, sources)})`,
            ...(touches === undefined ? [] : [`- ${escaped(touches.text)} (${placeOf(touches.origin.span, sources)})`]),
          ]),
          ...(cause.text === undefined ? [] : [`- ${escaped(cause.text)}`]),
          ...cause.changes.map(
            ({ part, text: told }) => `- at ${tellTime(cause.sinceMs)}: ${escaped(`${part} ${told}`)}`,
          ),
          ...(line === undefined
            ? []
            : [`- decided by: ${escaped(line.text)} (${placeOf(line.origin.span, sources)})`]),
        ]),
  ];
  return [`### ${wordOf(demand)}: ${escaped(name)}`, lines.join("\n")].join("\n\n");
}

function accountIn(moments: readonly Moment[]): string {
  const rows = withoutRepeats(moments).flatMap(({ atMs, step, changes, turns }) => {
    const told = [
      ...(step === undefined ? [] : [`**${escaped(step.text)}**`]),
      ...changes.map(({ part, text }) => escaped(`${part} ${text}`)),
      ...turns.map(({ name, verdict }) => {
        const { remembered } = verdict;
        const why = remembered === undefined ? "" : ` (${escaped(remembered)})`;
        return `${WORDS[verdict.status]}: ${escaped(name)}${why}`;
      }),
    ];
    return told.map((each, index) => `| ${index === 0 ? tellTime(atMs) : ""} | ${each} |`);
  });
  return ["| time | what happens |", "| ---: | --- |", ...rows].join("\n");
}
