/**
 * `bandwidth`: what one flow gets at least on the way that an exchange took, told by the ports that its frames left by. Of a
 * bond a flow gets one member (common practice), and nobody chooses which. The slower end of a cable counts. A way that leaves twice by one port for the same next port gets half.
 *
 * A tunnel carries what the ways of its outer packets carry. Rates of radios are not modelled, so nobody can tell of a way
 * over one, unless a cable on it is too slow anyway. Rates are those of the wire: what headers take is not subtracted.
 */
import type { ReachAssertion } from "../document/index.ts";
import { directoryOf, type World } from "../evaluate/index.ts";
import { deviceOf, type Id, type Link, type Network, type PathStep, type Port } from "../network/index.ts";
import { type Bottleneck, deviceName, type Evidence, tellRate } from "../result/index.ts";
import { choiceId, plantOf } from "../settle/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import type { CheckContext } from "./context.ts";

/** The tightest place on the ways of an exchange. */
export type Narrow = Bottleneck & {
  /** Lines that make it so, the slowest first. */
  readonly evidence: readonly Evidence[];
  /** What would widen it. */
  readonly help: string;
};

/** What the ways of an exchange carry. */
export type Capacity = {
  /** Upstreams on the ways, each once. */
  readonly beyond: readonly Id[];
  /** The tightest place whose rate is known; absent: none is. */
  readonly narrow?: Narrow;
  /** A part whose rate nobody knows; absent: all are known. */
  readonly unknown?: Evidence;
};

/** What falls short of the rate that was asked for. */
export type Shortage = {
  /** `undecided`: a part of the way has a rate that nobody knows. */
  readonly status: "failed" | "undecided";
  /** A sentence fragment. */
  readonly text: string;
  /** Deciding lines, the primary one first. */
  readonly decidedBy: readonly Evidence[];
  /** What would mend it. */
  readonly help: string;
  /** What nobody knows. */
  readonly limit?: string;
};

/** The capacity of an exchange's way there, and back where the assertion asks for a whole exchange. */
export function capacityOf(
  { path, answerPath }: ProbeResult,
  { expect }: ReachAssertion,
  world: World,
  context: CheckContext,
): Capacity {
  const there = carriedBy(path, "there", { world, context });
  return expect.value === "arrives" ? there : tighter(there, carriedBy(answerPath, "back", { world, context }));
}

/** Of no way at all. */
export const UNLIMITED: Capacity = { beyond: [] };

/** The tighter of two; what is not known of either. */
export function tighter(one: Capacity, other: Capacity): Capacity {
  const unknown = one.unknown ?? other.unknown;
  const narrow = narrower(one.narrow, other.narrow);
  const beyond = [...new Set([...one.beyond, ...other.beyond])];
  return { beyond, ...(narrow === undefined ? {} : { narrow }), ...(unknown === undefined ? {} : { unknown }) };
}

function narrower(one: Narrow | undefined, other: Narrow | undefined): Narrow | undefined {
  if (one === undefined || other === undefined) return one ?? other;
  return other.rateMbps < one.rateMbps ? other : one;
}

/** What keeps a capacity from the rate that was asked for; undefined: nothing. */
export function shortageOf({ narrow, unknown }: Capacity, leastMbps: number): Shortage | undefined {
  if (narrow !== undefined && narrow.rateMbps < leastMbps) {
    const { rateMbps, at, evidence, help } = narrow;
    const text = `only ${tellRate(rateMbps)} gets through ${at}`;
    return { status: "failed", text, decidedBy: evidence, help: `${help} ${tellRate(leastMbps)}` };
  }
  if (unknown === undefined) return undefined;
  const help = "ask for no rate on this way, or measure it there";
  return {
    status: "undecided",
    text: `nobody can tell: ${unknown.text}`,
    decidedBy: [unknown],
    help,
    limit: unknown.text,
  };
}

/** A tight place as a verdict carries it. */
export function bottleneckOf({ rateMbps, at, link, way }: Narrow): Bottleneck {
  return { rateMbps, at, link, way };
}

/** The bottleneck of what holds, in words. */
export function tellNarrow({ rateMbps, at }: Bottleneck): string {
  return `the bottleneck is ${at} with ${tellRate(rateMbps)}`;
}

/** What lies behind an upstream on the way is not known, and taken to be fast enough. */
export function assumedBeyond({ beyond }: Capacity): readonly string[] {
  return beyond.map((id) => `what lies behind ${id} is taken to be as fast as its port`);
}

// -- one way -------------------------------------------------------------------------------------------------------

type Place = { readonly world: World; readonly context: CheckContext };

/** One crossing of a link: from the port that a frame left by to the one that it came in at. */
type Hop = { readonly from: Id; readonly to: Id; readonly link: Link };

/** Of tunnels within tunnels, and of what their outer packets leave open, so many ways are looked at. */
const MOST_WAYS = 256;

function carriedBy(path: readonly PathStep[], direction: "there" | "back", place: Place): Capacity {
  const ways = expanded(path, place, new Set());
  if (ways.length > MOST_WAYS) return { ...UNLIMITED, unknown: tooMany(ways[0] ?? []) };
  return ways.map((hops) => capacityOfHops(hops, direction, place)).reduce(tighter, UNLIMITED);
}

function tooMany([first]: readonly Hop[]): Evidence {
  if (first === undefined) throw new Error("too many ways, and none of them leaves its device");
  return { origin: first.link.origin, text: `outer packets have more than ${MOST_WAYS} ways` };
}

/** The hops of a way, a tunnel's replaced by those of its outer packets, once for each way that these may take. */
function expanded(path: readonly PathStep[], place: Place, within: ReadonlySet<Id>): readonly (readonly Hop[])[] {
  return hopsOf(path, place).reduce<readonly (readonly Hop[])[]>(
    (ways, hop) => {
      if (ways.length > MOST_WAYS) return ways;
      const others = outerHops(hop, place, within);
      return ways.flatMap((before) => others.map((hops) => [...before, ...hops]));
    },
    [[]],
  );
}

function hopsOf(path: readonly PathStep[], { context }: Place): readonly Hop[] {
  const { linksAt } = plantOf(context.evaluation.network);
  return path.flatMap((step, index) => {
    const next = path[index + 1];
    if (step.did !== "leave" || next?.did !== "enter") return [];
    const links = linksAt.get(step.at) ?? [];
    const link = links.find(({ ends }) => ends.includes(next.at)) ?? links[0];
    return link === undefined ? [] : [{ from: step.at, to: next.at, link }];
  });
}

function outerHops(hop: Hop, place: Place, within: ReadonlySet<Id>): readonly (readonly Hop[])[] {
  const { link } = hop;
  if (link.outer === undefined || within.has(link.id)) return [[hop]];
  const from = link.outer.ends[link.ends[0] === hop.from ? 0 : 1].stack;
  const { outcomes, limit } = place.context.evaluation.outerWays(place.world, link);
  const inside = new Set([...within, link.id]);
  const ways = outcomes.flatMap((sent) => {
    const way = sent.find((each) => each.from === from);
    return way === undefined ? [[hop]] : expanded(way.path, place, inside);
  });
  return limit === undefined ? ways : [...ways, [hop]];
}

function capacityOfHops(hops: readonly Hop[], direction: "there" | "back", place: Place): Capacity {
  const times = new Map<string, number>();
  for (const hop of hops) times.set(keyOf(hop), (times.get(keyOf(hop)) ?? 0) + 1);
  return hops
    .flatMap((hop) => {
      const crossed = { times: times.get(keyOf(hop)) ?? 1, direction };
      return membersFor(hop, place).map((each) => capacityOfHop(each, crossed, place));
    })
    .reduce(tighter, UNLIMITED);
}

function keyOf({ from, to }: Hop): string {
  return `${from} ${to}`;
}

/**
 * The same hop by each member of a bond that may be given the flow. Where members lead to different places they are
 * outcomes, and each has its own way; else one stands for all on the way, and the port of a client decides.
 */
function membersFor(hop: Hop, { world: { settled }, context }: Place): readonly Hop[] {
  const { bondOf, linksAt } = plantOf(context.evaluation.network);
  const bond = bondOf.get(hop.from);
  if (bond === undefined || settled.choices.some(({ id }) => id === choiceId("bond-member", bond.id))) return [hop];
  const sends = settled.bonds.find((each) => each.bond === bond.id)?.sends ?? [];
  const down = new Set(settled.down);
  return sends.flatMap((from) => {
    const link = linksAt.get(from)?.find(({ id }) => !down.has(id));
    const to = link?.ends.find((end) => end !== from);
    return link === undefined || to === undefined ? [] : [{ from, to, link }];
  });
}

// -- one hop -------------------------------------------------------------------------------------------------------

type Crossed = { readonly times: number; readonly direction: "there" | "back" };

function capacityOfHop(hop: Hop, crossed: Crossed, place: Place): Capacity {
  const { link } = hop;
  const label = labelOf(link);
  switch (link.kind) {
    case "radio":
      return { ...UNLIMITED, unknown: { origin: link.origin, text: `the rate of ${label} is not known` } };
    case "tunnel":
      return {
        ...UNLIMITED,
        unknown: { origin: link.origin, text: `nobody knows all ways of the outer packets of ${label}` },
      };
    case "internet":
      return UNLIMITED;
    case "cable":
      return { narrow: narrowAt(hop, label, crossed, place), beyond: upstreamsAt(hop, place) };
  }
}

function upstreamsAt({ from, to }: Hop, { context }: Place): readonly Id[] {
  const { devices } = directoryOf(context.evaluation.network);
  return [from, to].map(deviceOf).filter((id) => devices.get(id)?.is === "upstream");
}

function narrowAt(hop: Hop, label: string, { times, direction }: Crossed, { context }: Place): Narrow {
  const { network } = context.evaluation;
  const [slow, fast] = endsOf(hop, network);
  if (slow === undefined) throw new Error(`nobody knows the rate of ${label}, and it is a cable`);
  const bond = plantOf(network).bondOf.get(hop.from);
  const asides = [
    ...(bond === undefined ? [] : [`one flow takes one member of ${bond.id}`]),
    ...(times === 1 ? [] : [`which is passed ${times} times`]),
  ];
  const text = [`${label} carries ${tellRate(slow.rateMbps)}`, ...asides].join(", ");
  // Where both ends are as fast, the cable itself may be what limits them: its line comes first.
  const isOneEnd = fast !== undefined && fast.rateMbps > slow.rateMbps;
  const lines = isOneEnd ? [slow, hop.link] : [hop.link, slow, ...(fast === undefined ? [] : [fast])];
  const help = bond === undefined ? "" : "more members give one flow no more: ";
  return {
    rateMbps: slow.rateMbps / times,
    at: [label, ...asides].join(", "),
    link: hop.link.id,
    way: direction,
    evidence: lines.map(({ origin }) => ({ origin, text })),
    help: `${help}${isOneEnd ? slow.id : label} would have to carry`,
  };
}

/** The ports of a hop, the slower one first; whoever plugs in is as fast as the socket. */
function endsOf({ from, to }: Hop, network: Network): readonly Port[] {
  const { ports } = plantOf(network);
  const { devices } = directoryOf(network);
  const found = [from, to].flatMap((id) => ports.get(id) ?? []);
  return found
    .filter(({ device }) => devices.get(device)?.standIn !== true)
    .toSorted((one, other) => one.rateMbps - other.rateMbps);
}

function labelOf({ kind, ends }: Link): string {
  const word = kind === "radio" ? "the radio link" : `the ${kind}`;
  return `${word} ${ends.map(endName).join(" - ")}`;
}

function endName(id: Id): string {
  return deviceOf(id).startsWith("~") ? deviceName(id) : id;
}
