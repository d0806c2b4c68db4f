/**
 * A replay as JSON: the report of every command, format 1, with a result for each demand and the account beside them.
 */
import { locate, type SourceFile } from "../diagnose/index.ts";
import {
  type Cause,
  type Demand,
  type Happening,
  helpFor,
  type Knowledge,
  type Moment,
  type Timeline,
  timelineStatus,
} from "../result/index.ts";
import { diagnosticOf, evidenceOf, stepOf } from "./json.ts";
import type { JsonReport, JsonResult } from "./json-report.ts";
import type { JsonCause, JsonHappening, JsonKnowledge, JsonMoment } from "./json-timeline.ts";

/** The replay as text, ending in a newline. */
export function renderTimelineJson(timeline: Timeline): string {
  return `${JSON.stringify(toJson(timeline), null, 2)}\n`;
}

const STATUSES = ["passed", "failed", "invalid", "fault", "undecided"] as const;

function toJson(timeline: Timeline): JsonReport {
  const { version, sources, diagnostics, demands, assumptions, fault, site } = timeline;
  const counts = { passed: 0, failed: 0, vacuous: 0, undecided: 0, skipped: 0 };
  for (const { status } of demands) counts[status] += 1;
  const { story, note, from, began, moments, outages, endMs } = timeline;
  return {
    tool: "dryrack",
    format: 1,
    version,
    command: "replay",
    status: STATUSES[timelineStatus(timeline)],
    counts,
    assumptions,
    diagnostics: diagnostics.map((each) => diagnosticOf(each, sources)),
    timeline: {
      story,
      ...(note === undefined ? {} : { note }),
      ...(from === undefined ? {} : { from }),
      began,
      moments: moments.map((each) => momentOf(each, sources)),
      outages,
      endMs,
    },
    results: demands.map((each) => resultOf(each, site, sources)),
    ...(fault === undefined ? {} : { fault }),
  };
}

function momentOf({ atMs, step, changes, turns }: Moment, sources: readonly SourceFile[]): JsonMoment {
  return {
    atMs,
    ...(step === undefined ? {} : { step: happeningOf(step, sources) }),
    changes: changes.map((each) => knowledgeOf(each, sources)),
    turns: turns.map(({ verdict: { status, headline, decidedBy, remembered, goesOn }, ...turn }) => ({
      ...turn,
      status,
      headline,
      decidedBy: decidedBy.map((each) => evidenceOf(each, sources)),
      ...(remembered === undefined ? {} : { remembered }),
      ...(goesOn === undefined ? {} : { goesOn }),
    })),
  };
}

function happeningOf({ kind, text, at, note }: Happening, sources: readonly SourceFile[]): JsonHappening {
  return { kind, text, at: locate(sources, at), ...(note === undefined ? {} : { note }) };
}

function knowledgeOf({ origin, ...known }: Knowledge, sources: readonly SourceFile[]): JsonKnowledge {
  return { ...known, at: locate(sources, origin.span), by: origin.by };
}

function causeOf({ sinceMs, steps, each, changes, changedMs, text }: Cause, sources: readonly SourceFile[]): JsonCause {
  return {
    sinceMs,
    steps: steps.map((each) => ({
      ...happeningOf(each, sources),
      atMs: each.atMs,
      ...(each.touches === undefined ? {} : { touches: evidenceOf(each.touches, sources) }),
    })),
    ...(each === undefined ? {} : { each }),
    changes: changes.map((each) => knowledgeOf(each, sources)),
    ...(changedMs === undefined ? {} : { changedMs }),
    ...(text === undefined ? {} : { text }),
  };
}

function resultOf(demand: Demand, site: string, sources: readonly SourceFile[]): JsonResult {
  const { id, kind, name, status, at, atMs, untilMs, gapMs, text, note, verdict, cause } = demand;
  const help = helpFor(demand);
  return {
    id,
    kind,
    name,
    site,
    status,
    by: verdict?.by ?? "simulation",
    at: locate(sources, at),
    headline: text,
    decidedBy: (verdict?.decidedBy ?? []).map((each) => evidenceOf(each, sources)),
    ...(help === undefined ? {} : { help }),
    ...(verdict?.witness === undefined ? {} : { witness: verdict.witness }),
    ...(verdict === undefined || verdict.path.length === 0
      ? {}
      : { path: verdict.path.map((step) => stepOf(step, sources)) }),
    demand: {
      atMs,
      ...(untilMs === undefined ? {} : { untilMs }),
      ...(gapMs === undefined ? {} : { gapMs }),
      ...(note === undefined ? {} : { note }),
      ...(verdict === undefined ? {} : { came: verdict.headline }),
      ...(cause === undefined ? {} : { cause: causeOf(cause, sources) }),
    },
  };
}
