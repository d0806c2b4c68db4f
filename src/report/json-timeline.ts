/**
 * What the JSON report holds of a replay, as types and as schemas. Times are milliseconds since the story began.
 */
import * as z from "zod/mini";
import type { Place } from "../diagnose/index.ts";
import type { Status } from "../result/index.ts";
import { type PlacedEvidence, place, status, whole } from "./json-evidence.ts";

/** A step of the story. */
export type JsonHappening = {
  /** Its key; `returns`: a device comes back from a restart. */
  readonly kind: string;
  /** What happens. */
  readonly text: string;
  /** Where it stands. */
  readonly at: Place;
  /** In the words of whoever wrote it. */
  readonly note?: string;
};

/** Something that a device knows now. */
export type JsonKnowledge = {
  /** What kind of thing. */
  readonly what: string;
  /** Device where it changed. */
  readonly device: string;
  /** The part, by its id. */
  readonly part: string;
  /** A sentence fragment. */
  readonly text: string;
  /** It only goes on as it was: a lease that was renewed. Default: it is another one. */
  readonly isSame?: true;
  /** The line behind it. */
  readonly at: Place;
  /** Whether that was written, is absent, is a default or was learned. */
  readonly by: string;
};

/** Something that happens at one time. */
export type JsonMoment = {
  /** When. */
  readonly atMs: number;
  /** The step; absent: it follows from earlier ones. */
  readonly step?: JsonHappening;
  /** What changed in what devices know. */
  readonly changes: readonly JsonKnowledge[];
  /** Assertions that ended another way from here on. */
  readonly turns: readonly {
    readonly id: string;
    readonly name: string;
    readonly before: Status;
    readonly status: Status;
    readonly headline: string;
    readonly decidedBy: readonly PlacedEvidence[];
    readonly afterMs?: number;
    /** What devices remember that is so no more, where that alone breaks it. */
    readonly remembered?: string;
    /** What becomes of connections that were open before, where a new one fails. */
    readonly goesOn?: string;
  }[];
};

/** What is behind something that was broken. */
export type JsonCause = {
  /** Since when it was broken. */
  readonly sinceMs: number;
  /** Steps that are to blame, each with the line of the plan that it touches. */
  readonly steps: readonly (JsonHappening & { readonly atMs: number; readonly touches?: PlacedEvidence })[];
  /** Of several steps: each of them alone is enough for it. Default: it takes all of them. */
  readonly each?: "enough";
  /** What the steps changed last before it broke, or as it broke. */
  readonly changes: readonly JsonKnowledge[];
  /** When that changed; absent: nothing did. */
  readonly changedMs?: number;
  /** Why there is no step, where there is none. */
  readonly text?: string;
};

/** Of a replay: when a demand is looked at, what the assertion came to, and what is behind it. */
export type JsonDemand = {
  /** When, or since when. */
  readonly atMs: number;
  /** Until when. */
  readonly untilMs?: number;
  /** For how long at a time it may be broken. */
  readonly gapMs?: number;
  /** In the words of whoever wrote it. */
  readonly note?: string;
  /** What the assertion came to where this was decided. */
  readonly came?: string;
  /** What is behind it where it was broken. */
  readonly cause?: JsonCause;
};

/** The account of a replay. */
export type JsonTimeline = {
  /** Path of the storyline. */
  readonly story: string;
  /** Its words for people. */
  readonly note?: string;
  /** The device whose view is told. */
  readonly from?: string;
  /** How many assertions held when it began, and those that did not. */
  readonly began: {
    readonly kept: number;
    readonly open: readonly { readonly name: string; readonly status: Status }[];
  };
  /** In order. */
  readonly moments: readonly JsonMoment[];
  /** Assertions that were broken for some time. */
  readonly outages: readonly {
    readonly id: string;
    readonly name: string;
    readonly times: readonly { readonly fromMs: number; readonly toMs?: number }[];
    readonly totalMs: number;
  }[];
  /** When the replay ends. */
  readonly endMs: number;
};

const at = z.looseObject(place);
const evidence = z.looseObject({ ...place, by: z.string(), text: z.string() });
const happening = z.looseObject({ kind: z.string(), text: z.string(), at, note: z.exactOptional(z.string()) });
const knowledge = z.looseObject({
  what: z.string(),
  device: z.string(),
  part: z.string(),
  text: z.string(),
  isSame: z.exactOptional(z.literal(true)),
  at,
  by: z.string(),
});
const cause = z.looseObject({
  sinceMs: whole,
  steps: z.array(z.extend(happening, { atMs: whole, touches: z.exactOptional(evidence) })),
  each: z.exactOptional(z.literal("enough")),
  changes: z.array(knowledge),
  changedMs: z.exactOptional(whole),
  text: z.exactOptional(z.string()),
});

/** Reads what a result says of its demand. */
export const jsonDemandSchema: z.ZodMiniType<JsonDemand> = z.looseObject({
  atMs: whole,
  untilMs: z.exactOptional(whole),
  gapMs: z.exactOptional(whole),
  note: z.exactOptional(z.string()),
  came: z.exactOptional(z.string()),
  cause: z.exactOptional(cause),
});

/** Reads an account. */
export const jsonTimelineSchema: z.ZodMiniType<JsonTimeline> = z.looseObject({
  story: z.string(),
  note: z.exactOptional(z.string()),
  from: z.exactOptional(z.string()),
  began: z.looseObject({ kept: whole, open: z.array(z.looseObject({ name: z.string(), status })) }),
  moments: z.array(
    z.looseObject({
      atMs: whole,
      step: z.exactOptional(happening),
      changes: z.array(knowledge),
      turns: z.array(
        z.looseObject({
          id: z.string(),
          name: z.string(),
          before: status,
          status,
          headline: z.string(),
          decidedBy: z.array(evidence),
          afterMs: z.exactOptional(whole),
          remembered: z.exactOptional(z.string()),
          goesOn: z.exactOptional(z.string()),
        }),
      ),
    }),
  ),
  outages: z.array(
    z.looseObject({
      id: z.string(),
      name: z.string(),
      times: z.array(z.looseObject({ fromMs: whole, toMs: z.exactOptional(whole) })),
      totalMs: whole,
    }),
  ),
  endMs: whole,
});
