/**
 * The JSON report as a type and as a schema (zod/mini, loaded by `schema report` and by readers of reports only).
 * Format 1: within a format keys are only added, so readers let keys pass that they do not know.
 */
import * as z from "zod/mini";
import type { Place } from "../diagnose/index.ts";
import type {
  Bottleneck,
  Break,
  Cell,
  ChangedLines,
  Counts,
  DifferenceEnd,
  Packet,
  Recovery,
  Refused,
  RepairKind,
  RunStatus,
  Shard,
  Status,
} from "../result/index.ts";
import { evidence, type PlacedEvidence, place, status, whole } from "./json-evidence.ts";
import { type JsonSite, jsonSiteSchema } from "./json-site.ts";
import { type JsonDemand, type JsonTimeline, jsonDemandSchema, jsonTimelineSchema } from "./json-timeline.ts";

/** A diagnostic with its places worked out. */
export type JsonDiagnostic = {
  /** Kebab word. */
  readonly code: string;
  /** How grave. */
  readonly severity: "error" | "warning" | "note";
  /** Headline. */
  readonly message: string;
  /** Places, the primary one first. */
  readonly labels: readonly (Place & { readonly text: string; readonly primary: boolean })[];
  /** Facts. */
  readonly notes: readonly string[];
  /** What to do. */
  readonly help?: string;
};

/** One assertion's result. */
export type JsonResult = {
  /** `FILE#NAME`. */
  readonly id: string;
  /** Kind of the assertion. */
  readonly kind: string;
  /** Its name. */
  readonly name: string;
  /** What its author says of it. */
  readonly note?: string;
  /** Name of the site. */
  readonly site: string;
  /** How it ended. */
  readonly status: Status;
  /** What judged it. */
  readonly by: "proof" | "simulation";
  /** Where the assertion stands. */
  readonly at: Place;
  /** The verdict in one sentence. */
  readonly headline: string;
  /** Deciding lines, the primary one first. */
  readonly decidedBy: readonly PlacedEvidence[];
  /** The packet that shows it. */
  readonly witness?: Packet;
  /** Choices under which it is so. */
  readonly picks?: readonly { readonly choice: string; readonly option: string }[];
  /** The witness's way. */
  readonly path?: readonly {
    readonly device: string;
    readonly text: string;
    readonly at: Place;
    readonly by: string;
  }[];
  /** Lines that a passing verdict rests on, and what each is: a rule, a route, a tag and so on. */
  readonly restsOn?: readonly (PlacedEvidence & { readonly ground: string })[];
  /** What the documents leave open and it rests on. */
  readonly assumptions?: readonly string[];
  /** What kept it undecided. */
  readonly limit?: string;
  /** Questions inside it. */
  readonly cells?: readonly Cell[];
  /** Smallest sets of failures that it does not survive. */
  readonly breaks?: readonly Break[];
  /** What came of starting the site from dark, where that was asked for. */
  readonly recovery?: Recovery;
  /** Where the least gets through, where a rate was asked for. */
  readonly bottleneck?: Bottleneck;
  /** What to do next. */
  readonly help?: string;
  /** A command that shows it again. */
  readonly repeat?: string;
  /** Edits that make it hold, each tried on the whole plan; absent: nobody looked for any. */
  readonly mending?: {
    readonly repairs: readonly {
      /** What it changes. */
      readonly kind: RepairKind;
      /** What to do. */
      readonly text: string;
      /** Where it begins, in the file as it is. */
      readonly at: Place;
      /** The lines as they are and as they would be. */
      readonly changes: readonly ChangedLines[];
      /** Names of other assertions that it makes hold. */
      readonly mends: readonly string[];
      /** What it newly lets through, in sentences. */
      readonly allows: readonly string[];
      /** What it newly stops. */
      readonly forbids: readonly string[];
    }[];
    /** How many edits were tried. */
    readonly tried: number;
    /** How many of them mend it and make another assertion end worse, and the name of one. */
    readonly refused?: Refused;
    /** Why not all were. */
    readonly limit?: string;
  };
  /** Of a comparison: who, whom, on what, and what is special about it. */
  readonly difference?: {
    readonly from: readonly DifferenceEnd[];
    readonly to: readonly DifferenceEnd[];
    readonly services: string;
    readonly packets: "plain" | "answers" | "errors";
    readonly notes: readonly string[];
  };
  /** Of a replay: when it is looked at, and what is behind it. */
  readonly demand?: JsonDemand;
};

/** The whole report. */
export type JsonReport = {
  /** Who wrote it. */
  readonly tool: "dryrack";
  /** Of this report. */
  readonly format: 1;
  /** Of dryrack. */
  readonly version: string;
  /** The command that was run. */
  readonly command: string;
  /** The run in a word. */
  readonly status: RunStatus;
  /** How many results ended how. */
  readonly counts: Counts;
  /** What the documents leave open, each once. */
  readonly assumptions: readonly string[];
  /** What was found wrong in the documents. */
  readonly diagnostics: readonly JsonDiagnostic[];
  /** Of a comparison: how both sides are called, and what replaced devices keep and lose. */
  readonly comparison?: {
    readonly base: string;
    readonly head: string;
    readonly replacements: readonly {
      readonly old: string;
      readonly successor: string;
      readonly kept: number;
      readonly lost: readonly PlacedEvidence[];
    }[];
    /** What is otherwise beside reach, a sentence each. */
    readonly alongside?: readonly string[];
    readonly undecided: readonly string[];
  };
  /** Of a replay: the account. */
  readonly timeline?: JsonTimeline;
  /** In document order. */
  readonly results: readonly JsonResult[];
  /** More of each site than its results; absent where nothing was judged. */
  readonly sites?: readonly JsonSite[];
  /**
   * Of one part of a run: which, what all parts were judged on, and its diagnostics and verdicts as `report merge` reads them:
   * these may change.
   */
  readonly shard?: Shard & {
    readonly diagnostics: readonly { readonly code: string }[];
    readonly verdicts: readonly { readonly id: string }[];
  };
  /** Set when the tool itself is at fault. */
  readonly fault?: string;
};

const diagnostic = z.looseObject({
  code: z.string(),
  severity: z.enum(["error", "warning", "note"]),
  message: z.string(),
  labels: z.array(z.looseObject({ ...place, text: z.string(), primary: z.boolean() })),
  notes: z.array(z.string()),
  help: z.exactOptional(z.string()),
});

const end = z.looseObject({ name: z.string(), part: z.string() });

const packet = z.looseObject({
  sentAt: z.string(),
  source: z.string(),
  destination: z.string(),
  service: z.string(),
  sourcePort: z.exactOptional(whole),
  tag: z.exactOptional(whole),
  station: z.exactOptional(z.string()),
  toAll: z.exactOptional(z.literal(true)),
  session: z.exactOptional(z.literal(true)),
  waitsSeconds: z.exactOptional(whole),
  after: z.array(z.string()),
});

const repair = z.looseObject({
  kind: z.enum(["tag", "rule", "order", "route", "relay", "leg", "service", "cable"]),
  text: z.string(),
  at: z.looseObject(place),
  changes: z.array(z.looseObject({ line: whole, before: z.array(z.string()), after: z.array(z.string()) })),
  mends: z.array(z.string()),
  allows: z.array(z.string()),
  forbids: z.array(z.string()),
});

const result = z.looseObject({
  id: z.string(),
  kind: z.string(),
  name: z.string(),
  note: z.exactOptional(z.string()),
  site: z.string(),
  status,
  by: z.enum(["proof", "simulation"]),
  at: z.looseObject(place),
  headline: z.string(),
  decidedBy: z.array(evidence),
  witness: z.exactOptional(packet),
  picks: z.exactOptional(z.array(z.looseObject({ choice: z.string(), option: z.string() }))),
  path: z.exactOptional(
    z.array(z.looseObject({ device: z.string(), text: z.string(), at: z.looseObject(place), by: z.string() })),
  ),
  restsOn: z.exactOptional(z.array(z.intersection(evidence, z.looseObject({ ground: z.string() })))),
  assumptions: z.exactOptional(z.array(z.string())),
  limit: z.exactOptional(z.string()),
  cells: z.exactOptional(
    z.array(
      z.looseObject({
        from: z.string(),
        to: z.string(),
        service: z.string(),
        family: z.exactOptional(z.enum(["ipv4", "ipv6"])),
        expect: z.enum(["connects", "arrives", "blocked", "only", "resolves", "unjudged"]),
        status,
        text: z.exactOptional(z.string()),
      }),
    ),
  ),
  breaks: z.exactOptional(
    z.array(z.looseObject({ without: z.array(z.string()), parts: z.array(z.string()), text: z.string() })),
  ),
  recovery: z.exactOptional(
    z.looseObject({
      orders: whole,
      starts: z.exactOptional(z.array(z.array(z.string()))),
      otherwise: z.exactOptional(z.array(z.string())),
      contests: z.array(z.string()),
      waits: z.array(z.looseObject({ device: z.string(), for: z.string(), what: z.string() })),
    }),
  ),
  bottleneck: z.exactOptional(
    z.looseObject({ rateMbps: z.number(), at: z.string(), link: z.string(), way: z.enum(["there", "back"]) }),
  ),
  help: z.exactOptional(z.string()),
  repeat: z.exactOptional(z.string()),
  mending: z.exactOptional(
    z.looseObject({
      repairs: z.array(repair),
      tried: whole,
      refused: z.exactOptional(z.looseObject({ edits: whole, costs: z.string() })),
      limit: z.exactOptional(z.string()),
    }),
  ),
  difference: z.exactOptional(
    z.looseObject({
      from: z.array(end),
      to: z.array(end),
      services: z.string(),
      packets: z.enum(["plain", "answers", "errors"]),
      notes: z.array(z.string()),
    }),
  ),
  demand: z.exactOptional(jsonDemandSchema),
});

const read = z.union([
  z.looseObject({ text: z.string() }),
  z.looseObject({ problem: z.enum(["missing", "unreadable", "too-large", "outside"]) }),
]);
const files = z.array(z.looseObject({ path: z.string(), read }));

const shard = z.looseObject({
  part: whole,
  of: whole,
  only: z.exactOptional(z.array(z.string())),
  sites: z.array(z.looseObject({ name: z.string(), folder: z.string(), plan: files, judges: files })),
  more: z.array(z.looseObject({ path: z.string(), text: z.string() })),
  looks: z.array(
    z.looseObject({
      rules: z.array(z.string()),
      routes: z.array(z.string()),
      networks: z.array(z.string()),
      ports: z.array(z.string()),
    }),
  ),
  // What these hold is told above; `report merge` holds the one to the other.
  diagnostics: z.array(z.looseObject({ code: z.string() })),
  verdicts: z.array(z.looseObject({ id: z.string() })),
});

/** Reads a report of format 1. */
export const jsonReportSchema: z.ZodMiniType<JsonReport> = z.looseObject({
  tool: z.literal("dryrack"),
  format: z.literal(1),
  version: z.string(),
  command: z.string(),
  status: z.enum(["passed", "failed", "undecided", "invalid", "fault"]),
  counts: z.looseObject({ passed: whole, failed: whole, vacuous: whole, undecided: whole, skipped: whole }),
  assumptions: z.array(z.string()),
  diagnostics: z.array(diagnostic),
  comparison: z.exactOptional(
    z.looseObject({
      base: z.string(),
      head: z.string(),
      replacements: z.array(
        z.looseObject({ old: z.string(), successor: z.string(), kept: whole, lost: z.array(evidence) }),
      ),
      alongside: z.exactOptional(z.array(z.string())),
      undecided: z.array(z.string()),
    }),
  ),
  timeline: z.exactOptional(jsonTimelineSchema),
  results: z.array(result),
  sites: z.exactOptional(z.array(jsonSiteSchema)),
  shard: z.exactOptional(shard),
  fault: z.exactOptional(z.string()),
});

/** The report's JSON Schema (draft 2020-12). */
export function jsonReportJsonSchema(): object {
  return { title: "dryrack report", description: "What one run found.", ...z.toJSONSchema(jsonReportSchema) };
}
