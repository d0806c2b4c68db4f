/**
 * A run as JSON, format 1. Within a format keys are only added. Places are 1-based, paths relative to the repository.
 */
import { type Diagnostic, locate, type SourceFile } from "../diagnose/index.ts";
import {
  countVerdicts,
  type Evidence,
  type Mending,
  type Run,
  statusOf,
  type Told,
  type Verdict,
} from "../result/index.ts";
import type { PlacedEvidence } from "./json-evidence.ts";
import type { JsonDiagnostic, JsonReport, JsonResult } from "./json-report.ts";
import { siteAsJson } from "./json-site.ts";
import { mendingOf } from "./repairs.ts";

/** The run as text, ending in a newline. */
export function renderJson(run: Run): string {
  return `${JSON.stringify(jsonOf(run), null, 2)}\n`;
}

/** The run as plain data. */
export function jsonOf(run: Run): JsonReport {
  return {
    tool: "dryrack",
    format: 1,
    version: run.version,
    command: run.command,
    status: statusOf(run),
    counts: countVerdicts(run.verdicts),
    assumptions: run.assumptions,
    diagnostics: run.diagnostics.map((each) => diagnosticOf(each, run.sources)),
    results: run.verdicts.map((each) => resultOf(each, run)),
    ...(run.sites === undefined ? {} : { sites: run.sites.map((each) => siteAsJson(each, run.sources)) }),
    ...(run.shard === undefined
      ? {}
      : { shard: { ...run.shard, diagnostics: run.diagnostics, verdicts: run.verdicts } }),
    ...(run.fault === undefined ? {} : { fault: run.fault }),
  };
}

/** A diagnostic with its places worked out. */
export function diagnosticOf(diagnostic: Diagnostic, sources: readonly SourceFile[]): JsonDiagnostic {
  return {
    code: diagnostic.code,
    severity: diagnostic.severity,
    message: diagnostic.message,
    labels: diagnostic.labels.map((label) => ({
      ...locate(sources, label.span),
      text: label.text,
      primary: label.primary,
    })),
    notes: diagnostic.notes,
    ...(diagnostic.help === undefined ? {} : { help: diagnostic.help }),
  };
}

function resultOf(verdict: Verdict, run: Run): JsonResult {
  const { sources } = run;
  const mending = mendingOf(verdict, run);
  const { witness, picks, path, restsOn, limit, cells, breaks, bottleneck, recovery, repeat } = verdict;
  return {
    id: verdict.id,
    kind: verdict.kind,
    name: verdict.name,
    ...(verdict.note === undefined ? {} : { note: verdict.note }),
    site: verdict.site,
    status: verdict.status,
    by: verdict.by,
    at: locate(sources, verdict.at),
    headline: verdict.headline,
    decidedBy: verdict.decidedBy.map((each) => evidenceOf(each, sources)),
    ...(witness === undefined ? {} : { witness }),
    ...(picks.length === 0 ? {} : { picks }),
    ...(path.length === 0 ? {} : { path: path.map((step) => stepOf(step, sources)) }),
    ...(restsOn.length === 0
      ? {}
      : { restsOn: restsOn.map((each) => ({ ...evidenceOf(each, sources), ground: each.ground })) }),
    ...(verdict.assumptions.length === 0 ? {} : { assumptions: verdict.assumptions }),
    ...(limit === undefined ? {} : { limit }),
    ...(cells.length === 0 ? {} : { cells }),
    ...(breaks === undefined ? {} : { breaks }),
    ...(recovery === undefined ? {} : { recovery }),
    ...(bottleneck === undefined ? {} : { bottleneck }),
    ...(verdict.help === "" ? {} : { help: verdict.help }),
    ...(repeat === undefined ? {} : { repeat }),
    ...(mending === undefined ? {} : { mending: mendingAsJson(mending, sources) }),
  };
}

function mendingAsJson(
  { repairs, tried, refused, limit }: Mending,
  sources: readonly SourceFile[],
): NonNullable<JsonResult["mending"]> {
  return {
    repairs: repairs.map(({ at, file: _file, ...repair }) => ({ ...repair, at: locate(sources, at) })),
    tried,
    ...(refused === undefined ? {} : { refused }),
    ...(limit === undefined ? {} : { limit }),
  };
}

/** A deciding line with its place. */
export function evidenceOf({ origin, text }: Evidence, sources: readonly SourceFile[]): PlacedEvidence {
  return { ...locate(sources, origin.span), by: origin.by, text };
}

/** A step of a way with its place. */
export function stepOf(step: Told, sources: readonly SourceFile[]): NonNullable<JsonResult["path"]>[number] {
  return { device: step.device, text: step.text, at: locate(sources, step.origin.span), by: step.origin.by };
}
