/**
 * What a change does to reach: sets of packets that get through after it and did not before, or the other way round. A
 * difference carries its evidence like a verdict: a packet, its way, and the lines that decide on either side.
 */
import { type Diagnostic, hasErrors, type Origin, type SourceFile } from "../diagnose/index.ts";
import type { SitePicture } from "./picture.ts";
import type { Evidence, Packet, Told } from "./verdict.ts";

/** Which way a difference goes. */
export type Change = "newly-allowed" | "newly-forbidden";

/** An end of a difference. */
export type DifferenceEnd = {
  /** A network, `internet`, or a device. */
  readonly name: string;
  /** Which of its addresses; empty: all of them. */
  readonly part: string;
};

/** One set of packets between some ends whose fate the change turns. */
export type Difference = {
  /** `CHANGE#FROM#TO` with the first of the ends, and a number from the second such on. */
  readonly id: string;
  /** Which way it goes. */
  readonly change: Change;
  /** Who begins: each of these with each of `to`. */
  readonly from: readonly DifferenceEnd[];
  /** Who is meant. */
  readonly to: readonly DifferenceEnd[];
  /** `every service`, `tcp/22, udp/53`, `all but tcp/25`. */
  readonly services: string;
  /** Whether they begin by themselves; else whether they answer what others sent, or are errors about it. */
  readonly kind: "plain" | "answers" | "errors";
  /** Sentences on what is special about it; empty: nothing. */
  readonly notes: readonly string[];
  /** Deciding lines on both sides; changed ones first. */
  readonly decidedBy: readonly Decision[];
  /** One packet of the set, the smallest. */
  readonly witness?: Packet;
  /** Its way on the side where it gets through. */
  readonly path: readonly Told[];
};

/** A line that decided on one side of the comparison. */
export type Decision = Evidence & {
  /** Before or after the change. */
  readonly side: "base" | "head";
  /** The change touched this line. */
  readonly changed: boolean;
};

/** A difference in one sentence that can be quoted alone. */
export function tellDifference({ change, from, to, services, kind }: Difference): string {
  const what = { plain: services, answers: `answers by ${services}`, errors: `errors (${services})` }[kind];
  const isOne = kind === "plain" && (services.startsWith("all but ") || !services.includes(", "));
  const gets = isOne ? "gets" : "get";
  const fate = change === "newly-allowed" ? `${gets} through now` : `no longer ${gets} through`;
  return `${what} from ${tellEnds(from)} to ${tellEnds(to)} ${fate}`;
}

/** Ends in words, each named once; where one part of an end is told by several words, `and` stands between it and the next. */
export function tellEnds(ends: readonly DifferenceEnd[]): string {
  const parts = new Map<string, readonly string[]>();
  for (const { name, part } of ends) parts.set(name, [...(parts.get(name) ?? []), part]);
  return [...parts].map(([name, all]) => [name, ...toldParts(all)].join(" ")).join(", ");
}

function toldParts(parts: readonly string[]): readonly string[] {
  if (parts.includes("")) return [];
  return [`(${parts.join(parts.some((part) => /, | but | of /.test(part)) ? ", and " : ", ")})`];
}

/** Something that a replaced device did and its successor does not. */
export type Loss = {
  /** What it is. */
  readonly kind: "reservation" | "forward" | "name" | "administration" | "leases" | "relay";
  /** In words: "the reservation of `printer` for 10.71.30.9". */
  readonly text: string;
  /** Where the old one says so. */
  readonly origin: Origin;
};

/** A replaced device with its successor. */
export type Replacement = {
  /** Name in the base. */
  readonly old: string;
  /** Name in the head. */
  readonly successor: string;
  /** How many things are carried over. */
  readonly kept: number;
  /** What is not. */
  readonly lost: readonly Loss[];
};

/** Two states of a site, compared. */
export type Comparison = {
  /** Version of dryrack. */
  readonly version: string;
  /** Files read on both sides: `Span.file` indexes this list. */
  readonly sources: readonly SourceFile[];
  /** What was found wrong in the documents of either side. */
  readonly diagnostics: readonly Diagnostic[];
  /** Name of the site. */
  readonly site: string;
  /** How people call the two sides. */
  readonly sides: { readonly base: string; readonly head: string };
  /** Newly allowed ones first, each in the order of ends. */
  readonly differences: readonly Difference[];
  /** Replaced devices. */
  readonly replacements: readonly Replacement[];
  /** What is otherwise beside reach, a sentence each: other names of networks, other places and addresses of devices. */
  readonly alongside: readonly string[];
  /** Pairs of ends that nobody can tell about, with the reason. */
  readonly undecided: readonly string[];
  /** Changes that make the command fail. */
  readonly failOn: readonly Change[];
  /** How many pairs of ends were compared, and how many of them could not differ. */
  readonly pairs: { readonly all: number; readonly untouched: number };
  /** How the site is drawn after the change; absent: no report asks for it. */
  readonly picture?: SitePicture;
  /** Set when the tool itself is at fault. */
  readonly fault?: string;
};

/** Exit status of a comparison: 0, 1 where what it shall fail on was found, 2 wrong input, 3 our fault, 4 undecided. */
export function comparisonStatus(comparison: Comparison): 0 | 1 | 2 | 3 | 4 {
  const { fault, diagnostics, differences, failOn, undecided } = comparison;
  if (fault !== undefined) return 3;
  if (hasErrors(diagnostics)) return 2;
  if (differences.some(({ change }) => failOn.includes(change))) return 1;
  return undecided.length > 0 ? 4 : 0;
}
