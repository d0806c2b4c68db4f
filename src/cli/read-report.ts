/**
 * A report of one part of a run, read back: its form held to the schema that we ship, then what it says held to its own
 * verdicts, so that nothing is put together that was not written by `check --shard`.
 */
import { isDeepStrictEqual } from "node:util";
import { LARGEST_REPORT_BYTES, readText } from "../outside/index.ts";
import { type JsonReport, jsonOf, jsonReportSchema } from "../report/index.ts";
import type { Run } from "../result/index.ts";
import { VERSION } from "./version.ts";

/** A report of a part. */
export type Piece = {
  /** Its file, as it was named. */
  readonly path: string;
  /** What it says. */
  readonly report: JsonReport & { readonly shard: NonNullable<JsonReport["shard"]> };
};

/** Why a file is no report of a part, with what to do. */
export type Refused = {
  /** A sentence. */
  readonly problem: string;
};

/** Reads one file. */
export function readPiece(path: string): Piece | Refused {
  const text = readText(path, LARGEST_REPORT_BYTES);
  if ("problem" in text) return { problem: `\`${path}\` ${UNREAD[text.problem]}` };
  const json = parsed(text.text);
  if (json === undefined) return { problem: `\`${path}\` is no JSON: it was cut off, or is another kind of file` };
  const newer = formatOf(json);
  if (newer !== undefined && newer > 1)
    return { problem: `\`${path}\` is written for a newer dryrack: format ${newer}, this release reads format 1` };
  const read = jsonReportSchema.safeParse(json);
  if (!read.success) return { problem: `\`${path}\` is no report of dryrack: ${placeOf(read.error.issues)}` };
  return pieceOf(path, read.data);
}

function pieceOf(path: string, report: JsonReport): Piece | Refused {
  const { shard, version } = report;
  if (version !== VERSION)
    return {
      problem: `\`${path}\` was written by dryrack ${version}, this is ${VERSION}\n   use one release for all parts`,
    };
  if (shard === undefined)
    return {
      problem: `\`${path}\` is the report of a whole run, and no part of one\n   write parts by \`--shard 1/2\``,
    };
  if (shard.part < 1 || shard.part > shard.of)
    return { problem: `\`${path}\` says that it is part ${shard.part} of ${shard.of}` };
  return { path, report: { ...report, shard } };
}

const UNREAD = {
  missing: "is not there",
  unreadable: "cannot be read",
  "too-large": `is larger than ${LARGEST_REPORT_BYTES} bytes`,
};

/** Undefined: it is none. */
function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

function formatOf(json: unknown): number | undefined {
  const isReport = typeof json === "object" && json !== null && "tool" in json && json.tool === "dryrack";
  return isReport && "format" in json && typeof json.format === "number" ? json.format : undefined;
}

/** The first place where a report is not as the schema has it. */
function placeOf([issue]: readonly { readonly path: readonly PropertyKey[]; readonly message: string }[]): string {
  if (issue === undefined) return "it is none";
  return issue.path.length === 0 ? "it holds something else" : `\`${issue.path.map(String).join(".")}\` is wrong`;
}

/**
 * The run of a part; a text: its verdicts are not those of these assertions, or the report says something else than they do.
 * `loaded`: the sites, before anything was judged.
 */
export function runOfPiece({ path, report }: Piece, ids: readonly string[], loaded: Run): Run | string {
  const { diagnostics, verdicts, ...shard } = report.shard;
  const isJudged = report.status !== "fault" && report.status !== "invalid";
  const wanted = isJudged ? ids : [];
  const found = verdicts.map(({ id }) => id);
  if (!isDeepStrictEqual(found, wanted))
    return `\`${path}\` holds ${found.length} verdicts, and not those of the ${wanted.length} assertions of its part`;
  // Plain data that `check` wrote; where it did not, the report is not told again by it, or nothing can be told.
  const told = { diagnostics, verdicts } as unknown as Pick<Run, "diagnostics" | "verdicts">;
  const { assumptions, fault } = report;
  const sources = [...loaded.sources, ...shard.more];
  const run = { ...loaded, sources, ...told, assumptions, shard, ...(fault === undefined ? {} : { fault }) };
  return tells(run, report)
    ? run
    : `\`${path}\` was changed after it was written: it does not say what its verdicts say`;
}

function tells(run: Run, report: JsonReport): boolean {
  try {
    return isDeepStrictEqual(JSON.parse(JSON.stringify(jsonOf(run))), report);
  } catch {
    return false;
  }
}
