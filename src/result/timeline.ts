/**
 * What a story came to, moment by moment: what happened, what changed in what devices know, which assertions turned, and what was
 * demanded of it. Times are milliseconds since the story began. Plain records; spans are rendered by `report/`.
 */
import { type Diagnostic, hasErrors, type Origin, type SourceFile, type Span } from "../diagnose/index.ts";
import type { Evidence, Status, Verdict } from "./verdict.ts";

/** A whole replay. */
export type Timeline = {
  /** Version of dryrack. */
  readonly version: string;
  /** Files read, in order: `Span.file` indexes this list. */
  readonly sources: readonly SourceFile[];
  /** What was found wrong in the documents. */
  readonly diagnostics: readonly Diagnostic[];
  /** Name of the site. */
  readonly site: string;
  /** Path of the storyline. */
  readonly story: string;
  /** Its words for people. */
  readonly note?: string;
  /** Only what concerns this device is told. Default: everything is. */
  readonly from?: string;
  /** How many assertions held when it began, and how many did not. */
  readonly began: {
    /** That held. */
    readonly kept: number;
    /** Names of those that did not. */
    readonly open: readonly { readonly name: string; readonly status: Status }[];
  };
  /** In order; several may be of one time. */
  readonly moments: readonly Moment[];
  /** What was demanded and seen, in the order of the storyline: what people saw first. */
  readonly demands: readonly Demand[];
  /** Assertions that were broken for some time, in the order of the first time. */
  readonly outages: readonly Outage[];
  /** When the replay ends. */
  readonly endMs: number;
  /** Sentences that verdicts rest on, each once. */
  readonly assumptions: readonly string[];
  /** Set when the tool itself is at fault. */
  readonly fault?: string;
};

/** Something that happens at one time: a step of the story, or what follows from earlier ones. */
export type Moment = {
  /** When. */
  readonly atMs: number;
  /** The step; absent: what happens here follows from earlier ones. */
  readonly step?: Happening;
  /** What changed in what devices know, in the order of happening. */
  readonly changes: readonly Knowledge[];
  /** Assertions that turned. */
  readonly turns: readonly Turn[];
};

/** A step of the story. */
export type Happening = {
  /** Its key: `unplug`, `wait` and so on; `returns` where a device comes back. */
  readonly kind: string;
  /** What happens, in a sentence fragment. */
  readonly text: string;
  /** Where it stands. */
  readonly at: Span;
  /** In the words of whoever wrote it. */
  readonly note?: string;
};

/** Something that a device knows now. */
export type Knowledge = {
  /** What kind of thing: `lease`, `spanning-tree` and so on. */
  readonly what: string;
  /** Device where it changed. */
  readonly device: string;
  /** The part, by its id. */
  readonly part: string;
  /** A sentence fragment. */
  readonly text: string;
  /** The line behind it. */
  readonly origin: Origin;
  /** It only goes on as it was, and nothing comes of it: a lease that was renewed. Default: it is another one. */
  readonly isSame?: true;
};

/** An assertion that ends another way than before, or that only what devices remember keeps broken from now on. */
export type Turn = {
  /** Its id. */
  readonly id: string;
  /** Its name. */
  readonly name: string;
  /** How it ended before. */
  readonly before: Status;
  /** How it ends now, and why. */
  readonly verdict: Verdict;
  /** Where it was broken and is not now: for how long. */
  readonly afterMs?: number;
};

/** Something that was demanded, or seen. */
export type Demand = {
  /** `saw`: it was broken in the real outage. */
  readonly kind: "assert" | "meanwhile" | "saw";
  /** Name of the assertion. */
  readonly name: string;
  /** Its id, with the time where it is asked at one: `FILE#NAME`. */
  readonly id: string;
  /** Where it is demanded. */
  readonly at: Span;
  /** When, or since when. */
  readonly atMs: number;
  /** Until when it is looked at; absent: at that moment only. */
  readonly untilMs?: number;
  /** Of `meanwhile`: for how long at a time it may be broken. */
  readonly gapMs?: number;
  /** Whether it came out as demanded, or was seen. */
  readonly status: Status;
  /** In a sentence fragment. */
  readonly text: string;
  /** In the words of whoever wrote it. */
  readonly note?: string;
  /** How the assertion ended where this was decided; absent: it names what was not there. */
  readonly verdict?: Verdict;
  /** What is behind it where the assertion was broken; absent: it was not. */
  readonly cause?: Cause;
};

/** What is behind something that was broken. */
export type Cause = {
  /** Since when it was broken. */
  readonly sinceMs: number;
  /** Steps without which it would not have been broken, in order. */
  readonly steps: readonly Blamed[];
  /** Of several steps: each of them alone is enough for it. Default: it takes all of them. */
  readonly each?: "enough";
  /** What the steps changed last in what devices know before it broke, or as it broke; of no step, what changed as it broke. */
  readonly changes: readonly Knowledge[];
  /** When that changed; absent: nothing did. */
  readonly changedMs?: number;
  /** Why there is no step, where there is none. */
  readonly text?: string;
};

/** What steps are to something that was broken, a phrase before they are listed. */
export function tellBlame({ steps, each }: Cause): string {
  if (steps.length < 2) return "it would not be so without";
  return each === "enough" ? "each of these alone is enough for it" : "it takes all of these together";
}

/** The same of one of the steps, a phrase before it. */
export function tellBlameEach({ steps, each }: Cause): string {
  if (steps.length < 2) return "it would not be so without this";
  return each === "enough" ? "this alone is enough for it" : "it takes this together with the other steps named";
}

/** A step that is to blame. */
export type Blamed = Happening & {
  /** When. */
  readonly atMs: number;
  /** The line of the plan that it touches: a cable, a server, a device; absent: it brings something new. */
  readonly touches?: Evidence;
};

/** For how long an assertion was broken. */
export type Outage = {
  /** Its id. */
  readonly id: string;
  /** Its name. */
  readonly name: string;
  /** Each time. */
  readonly times: readonly Stretch[];
  /** Of all of them together. */
  readonly totalMs: number;
};

/** A stretch of time. */
export type Stretch = {
  /** Its beginning. */
  readonly fromMs: number;
  /** Its end; absent: it goes on when the replay ends. */
  readonly toMs?: number;
};

/** A replay in an exit status: 0 all as demanded and seen, 1 not, 2 wrong input, 3 our fault, 4 undecided. */
export function timelineStatus({ diagnostics, demands, fault }: Timeline): 0 | 1 | 2 | 3 | 4 {
  if (fault !== undefined) return 3;
  if (hasErrors(diagnostics)) return 2;
  const statuses = demands.map(({ status }) => status);
  if (statuses.some((status) => status === "failed" || status === "vacuous")) return 1;
  return statuses.includes("undecided") ? 4 : 0;
}

/** What to do about what devices remember: no line of the plan is to be mended. Undefined: they remember nothing of the kind. */
export function helpFor({ verdict }: Demand): string | undefined {
  return verdict?.remembered === undefined || verdict.help === "" ? undefined : verdict.help;
}
