/**
 * A verdict carries its evidence: what was decided, which line decided it, the smallest witness with its way, and
 * the command that repeats it. Plain records; spans are rendered by `report/`.
 */
import { isSameSpan, type Origin, type Span } from "../diagnose/index.ts";
import type { Id, Pick } from "../network/index.ts";
import type { Ground } from "./ground.ts";

/** How an assertion ended. `vacuous` fails: it holds for a reason that says nothing. */
export type Status = "passed" | "failed" | "vacuous" | "undecided" | "skipped";

/** Whether something was asked, and does not hold for certain. */
export function fallsShort({ status }: { readonly status: Status }): boolean {
  return status !== "passed" && status !== "skipped";
}

/** A line that decided, with a sentence. */
export type Evidence = {
  /** The place and why it is there. */
  readonly origin: Origin;
  /** What it did, in a sentence fragment: "dropped by `visitors go out`". */
  readonly text: string;
};

/** A line that a verdict rests on. */
export type Support = Evidence & {
  /** What it is. */
  readonly ground: Ground;
};

/** The same without what stands there twice: one line that did one thing. */
export function eachOnce<Kind extends Evidence>(evidence: readonly Kind[]): readonly Kind[] {
  const seen = new Set<string>();
  return evidence.filter(({ origin: { span }, text }) => {
    const key = `${span.file}:${span.start}:${span.end}:${text}`;
    const isNew = !seen.has(key);
    seen.add(key);
    return isNew;
  });
}

/** Lines of a verdict but those that others tell already, whatever these say of them. */
export function besides(lines: readonly Evidence[], told: readonly { readonly origin: Origin }[]): readonly Evidence[] {
  return lines.filter((each) => !told.some(({ origin }) => isSameSpan(origin.span, each.origin.span)));
}

/** One step of a way, as told to people. */
export type Told = {
  /** Device where it happened. */
  readonly device: string;
  /** Id of the part of it: `core:p4`, `edge/filter/to`. */
  readonly at: Id;
  /** A sentence fragment: "enters at `core:p4` untagged, VLAN 10". */
  readonly text: string;
  /** The line that decided it. */
  readonly origin: Origin;
};

/** A packet in words and numbers, as it was first sent. */
export type Packet = {
  /** Where it was sent: a port, a device, or an access point "by anyone on `Guest`". */
  readonly sentAt: string;
  /** Address texts. */
  readonly source: string;
  /** Destination address. */
  readonly destination: string;
  /** `tcp/443`, `icmp/echo-request`: as a service. */
  readonly service: string;
  /** Source port of TCP and UDP. */
  readonly sourcePort?: number;
  /** VLAN tag chosen by the sender; absent: untagged. */
  readonly tag?: number;
  /** Hardware address that its frame has to bear, where something looks at it; absent: any. */
  readonly station?: string;
  /** Its frame goes to every station; absent: to the one that takes it. */
  readonly toAll?: true;
  /** It is sent in a frame of a PPPoE session; absent: in a bare one. */
  readonly session?: true;
  /** Seconds that have to pass since the last packet before it; absent: none. */
  readonly waitsSeconds?: number;
  /** What had to be sent before, in the same words. */
  readonly after: readonly string[];
};

/** One question inside an assertion over several: a pair of ends, and how it ended. */
export type Cell = {
  /** Who begins. */
  readonly from: string;
  /** Who is meant. */
  readonly to: string;
  /** On what; of a policy what shall be open there, empty: nothing. */
  readonly service: string;
  /** Over which version of IP alone it was asked. Absent: over either, and of packets both. */
  readonly family?: "ipv4" | "ipv6";
  /**
   * What was demanded: that it works (`connects`), that it gets there (`arrives`), that nothing does (`blocked`), that it works
   * and nothing else gets there (`only`), that names are resolved (`resolves`: `to` is `names`, `service` the name), or nothing (`unjudged`).
   */
  readonly expect: "connects" | "arrives" | "blocked" | "only" | "resolves" | "unjudged";
  /** How it ended; `skipped`: nobody asked. */
  readonly status: Status;
  /** Of a policy: why it does not hold. */
  readonly text?: string;
};

/** Parts of the site without which an assertion does not hold. */
export type Break = {
  /** What fails, in words: one part, or two. */
  readonly without: readonly string[];
  /** Devices by name and links by id that are down then, as a picture has them. */
  readonly parts: readonly string[];
  /** How the assertion ends then, in a sentence. */
  readonly text: string;
};

/** The place on the ways of an assertion that lets the least through for one flow. */
export type Bottleneck = {
  /** Mbit/s of one flow there. */
  readonly rateMbps: number;
  /** It, in words. */
  readonly at: string;
  /** Id of the link. */
  readonly link: string;
  /** Whether it is met on the way there, or back. */
  readonly way: "there" | "back";
};

/** What came of starting the site from dark. */
export type Recovery = {
  /** How many orders of starting were tried. */
  readonly orders: number;
  /** A shortest order in which it does not hold in the end: devices that start together, step by step; absent: it holds in all that were tried. */
  readonly starts?: readonly (readonly string[])[];
  /** What is otherwise then than where everything has been on for long, sentences. */
  readonly otherwise?: readonly string[];
  /** What depends on the order of starting, in a few words each; empty: nothing does. */
  readonly contests: readonly string[];
  /** Who waits for whom, and for what. */
  readonly waits: readonly { readonly device: string; readonly for: string; readonly what: string }[];
};

/** What became of one assertion. */
export type Verdict = {
  /** `FILE#NAME`. */
  readonly id: string;
  /** Kind of the assertion. */
  readonly kind: "connects" | "arrives" | "blocked" | "only" | "resolves" | "policy" | "lease" | "segment";
  /** Its name. */
  readonly name: string;
  /** What its author says of it; absent: nothing. */
  readonly note?: string;
  /** Name of the site. */
  readonly site: string;
  /** How it ended. */
  readonly status: Status;
  /** What judged it. */
  readonly by: "proof" | "simulation";
  /** The assertion. */
  readonly at: Span;
  /** The verdict in one sentence that can be quoted alone. */
  readonly headline: string;
  /** What to do next; empty: nothing. */
  readonly help: string;
  /**
   * At a moment of a site over time: what devices remember that is so no more, where that alone breaks it; of what must be blocked, connections
   * that were open before. Absent: nothing.
   */
  readonly remembered?: string;
  /**
   * At such a moment, of what must connect: that connections that were open before go on, where a filter stops a new one. Absent: they do not, none was open,
   * or something other than a filter stops the new one, and what becomes of them was not asked.
   */
  readonly goesOn?: string;
  /** Deciding lines, the primary one first. */
  readonly decidedBy: readonly Evidence[];
  /** The smallest packet that shows it. */
  readonly witness?: Packet;
  /** Choices under which it fails, as its headline tells; empty: none needed. */
  readonly picks: readonly Pick[];
  /** The witness's way. */
  readonly path: readonly Told[];
  /** Lines that a passing verdict rests on. */
  readonly restsOn: readonly Support[];
  /** What the documents leave open and the verdict rests on, sentences. */
  readonly assumptions: readonly string[];
  /** The limit or unknown that kept it undecided. */
  readonly limit?: string;
  /** Questions inside it, in order. */
  readonly cells: readonly Cell[];
  /** Smallest sets of failures that it does not survive; absent: none, or none were tried. */
  readonly breaks?: readonly Break[];
  /** What came of starting it from dark; absent: nobody asked. */
  readonly recovery?: Recovery;
  /** Where the least gets through; absent: no rate was asked for, or none is known. */
  readonly bottleneck?: Bottleneck;
  /** A command that shows the failure again; absent where nothing failed. */
  readonly repeat?: string;
};
