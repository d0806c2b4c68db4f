/**
 * Which lines make the difference: on the side where a packet gets through, what let it by; on the other one, what stopped
 * it. Of these the ones that the change touches come first; where it touches none of them, the touched lines themselves
 * are shown.
 */
import type { Origin, Span } from "../diagnose/index.ts";
import { deviceOf, type FateClass, type Id, type Network, type PathStep, type Vouched } from "../network/index.ts";
import { type Decision, deviceName, type Names, nameAt, tellFate, tellVouched } from "../result/index.ts";
import { forwardAt } from "./forwards.ts";
import type { TouchedLines } from "./lines.ts";
import { notCarried } from "./not-carried.ts";

/** What is known of one side. */
export type Side = {
  /** Which one. */
  readonly side: Decision["side"];
  /** Its description. */
  readonly network: Network;
  /** Names of its rules. */
  readonly names: Names;
};

/** Steps that let packets by, most telling first. */
const TELLING: readonly (readonly string[])[] = [
  ["filter"],
  ["translate"],
  ["classify", "ingress-member", "egress-member", "tag"],
  ["route"],
];
/** Steps that lead a packet to another end, most telling first; of translations those of its destination. */
const LEADING: readonly (readonly string[])[] = [
  ["route"],
  ["translate"],
  ["classify", "ingress-member", "egress-member", "tag"],
  ["filter"],
];
const MOST_TOUCHED = 3;

/** What became of a packet on the side where it does not get through. */
export type OtherFate = {
  /** How it ended. */
  readonly found: FateClass;
  /** The end that it gets to instead; absent: it is stopped. */
  readonly elsewhere?: Id;
};

/** How a packet got through on one side. */
export type Passes = {
  /** The side. */
  readonly on: Side;
  /** The packet with its way. */
  readonly found: FateClass;
};

/** How a packet got through on one side, and what became of it on the other; absent: that end does not exist there. */
export type Turned = {
  /** Where it gets through. */
  readonly passes: Passes;
  /** Where it does not. */
  readonly stops: {
    readonly on: Side;
    /** Who is trusted there to be alone where it is sent, so that nobody is asked about sending it. */
    readonly vouched: readonly Vouched[];
  } & Partial<OtherFate>;
};

/** The deciding lines of both sides. */
export function decisionsFor({ passes, stops }: Turned, touched: TouchedLines): readonly Decision[] {
  const bar = barred({ passes, stops }, touched);
  const stop = bar ?? decisionsOn(stops, touched);
  const lets = letBy(passes.on, passes.found.path, touched, TELLING);
  const [first] = lets;
  // What leads a packet elsewhere stops nothing: what lets it by says more.
  const told = bar !== undefined || stops.elsewhere === undefined ? [...stop, ...lets] : [...lets, ...stop];
  const changed = told.filter(({ changed: is }) => is).slice(0, MOST_TOUCHED);
  const both = [...(first === undefined ? [] : [first]), ...stop].filter((each) => !changed.includes(each));
  if (changed.length > 0) return [...changed, ...both];
  return [...touchedThemselves(touched, [passes, stops]), ...both];
}

/**
 * The changed port that does not carry the packet on, where it is stopped before that: a copy of its frame then ended somewhere
 * else. Undefined: there is no such port, or something further on, or a list, stops it, too.
 */
function barred({ passes, stops: { on, found, elsewhere } }: Turned, touched: TouchedLines): Told | undefined {
  const lack = notCarried(passes.found.path, on.network);
  if (lack === undefined || !touched.concerns(lack.fate.origin)) return undefined;
  const end = found?.fate;
  const isList = (end?.end === "dropped" || end?.end === "refused") && end.reason === "filter";
  const port = deviceOf(lack.fate.at);
  const isFurther = lack.after.some(({ at }) => deviceOf(at) !== port && end && deviceOf(at) === deviceOf(end.at));
  // What was sent to the same next hop was sent elsewhere by nobody: its frame still gets to others.
  const isLed = elsewhere !== undefined && hopOf(found?.path ?? []) !== hopOf(lack.before);
  if (isList || isFurther || isLed) return undefined;
  return [decision(on, lack.fate.origin, tellFate(lack.fate, on.names), touched)];
}

/** Who sent a packet on last, and to whom. */
function hopOf(path: readonly PathStep[]): string | undefined {
  const last = path.findLast(({ did }) => did === "route");
  return last && `${last.at} ${last.detail}`;
}

type Told = readonly Decision[];

function decisionsOn({ on, found, elsewhere, vouched }: Turned["stops"], touched: TouchedLines): readonly Decision[] {
  const hosts = vouched.map(({ device }) => deviceName(device));
  if (vouched.length > 0) return vouched.map(({ at, origin }) => decision(on, origin, tellVouched(hosts, at), touched));
  if (found === undefined) return [];
  const { fate, path } = found;
  if (elsewhere === undefined) {
    const end = decision(on, fate.origin, tellFate(fate, on.names, path), touched);
    return end.changed ? [end] : [...sentThere(on, path, touched), end];
  }
  const forward = path.filter((step) => forwardAt(step, on.network) !== undefined);
  return letBy(on, forward.length > 0 ? forward : path, touched, LEADING)
    .slice(0, 1)
    .map((each) => ({ ...each, text: `gets to ${elsewhere} instead: ${each.text}` }));
}

/** What sent a packet to where it stops, where that is another way than before. */
function sentThere(on: Side, path: readonly PathStep[], touched: TouchedLines): readonly Decision[] {
  const last = path.findLast(({ did }) => did === "route");
  if (last === undefined || !touched.concerns(last.origin)) return [];
  return [decision(on, last.origin, textOf(last, on.names), touched)];
}

function decision({ side }: Side, origin: Origin, text: string, touched: TouchedLines): Decision {
  return { side, origin, text, changed: touched.concerns(origin) };
}

/** What let a packet by, the most telling first; a rule is shown by the word of it that changed. */
function letBy(
  on: Side,
  path: readonly PathStep[],
  touched: TouchedLines,
  telling: readonly (readonly string[])[],
): readonly Decision[] {
  return telling
    .flatMap((words) => path.filter(({ did }) => words.includes(did)).reverse())
    .map((step) => {
      const word = wordOf(step.origin, on.network, touched);
      return decision(on, word ?? step.origin, textOf(step, on.names), touched);
    });
}

/** The condition of a rule that the change touches, where it does not touch the rule itself. */
function wordOf(origin: Origin, { tables }: Network, touched: TouchedLines): Origin | undefined {
  if (touched.concerns(origin)) return undefined;
  for (const table of tables) {
    if (table.kind === "routes") continue;
    const rule = table.rules.find((each) => each.origin === origin);
    const found = rule?.when.flat().find((condition) => touched.concerns(condition.origin));
    if (found !== undefined) return found.origin;
  }
  return undefined;
}

function textOf({ did, at, origin, detail }: PathStep, names: Names): string {
  const device = deviceName(deviceOf(at));
  const name = nameAt(origin, names);
  if (did === "filter") return name === undefined ? `${device} accepts it` : `accepted by ${name}`;
  if (did === "translate") return `translated by ${name ?? device}`;
  if (did !== "route") return `carried across by ${device}`;
  const [, next] = / via ([^ ]+)/.exec(detail ?? "") ?? [];
  return next === undefined ? `${device} sends it on` : `${device} sends it on to ${next}`;
}

/**
 * Those that say something of a device on the way of the packet on their side, or of none, as a set does; where none does, all of
 * them. A way that is not known on one side is taken to be that of the other.
 */
function touchedThemselves({ spans }: TouchedLines, ways: readonly Way[]): readonly Decision[] {
  const [known] = ways.flatMap(({ found }) => found ?? []);
  const near = spans.filter(({ side, span }) =>
    ways.some(({ on, found = known }) => on.side === side && found !== undefined && isOnWay(span, found, on.network)),
  );
  return (near.length > 0 ? near : spans).slice(0, MOST_TOUCHED).map(({ side, span }) => ({
    side,
    origin: { by: "written", span },
    text: "this line",
    changed: true,
  }));
}

type Way = { readonly on: Side; readonly found?: FateClass };

/** Whether something of a device that a packet passed, or of a cable between two of them, is written there, or nothing of any device. */
function isOnWay({ file, start, end }: Span, { path, fate, sentAt }: FateClass, network: Network): boolean {
  const devices = new Set([...path.map(({ at }) => at), fate.at, sentAt].map((at) => deviceOf(at)));
  const { ports, bonds, bridges, stacks, tables, services, links } = network;
  const parts = [ports, bonds, bridges, stacks, tables, services].flat();
  const isHere = (part: unknown): boolean =>
    spansIn(part).some((span) => span.file === file && span.start < end && start < span.end);
  const written = [
    ...parts.filter(isHere).map(({ id }) => devices.has(deviceOf(id))),
    ...links.filter(isHere).map(({ ends }) => ends.every((port) => devices.has(deviceOf(port)))),
  ];
  return written.length === 0 || written.includes(true);
}

/** Every place that a part of the description names as its origin. */
function spansIn(value: unknown): readonly Span[] {
  if (typeof value !== "object" || value === null) return [];
  // Nothing but an origin has both.
  if ("span" in value && "by" in value) return [(value as Origin).span];
  return Object.values(value).flatMap(spansIn);
}
