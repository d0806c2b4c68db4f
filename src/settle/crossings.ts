/**
 * The graph of broadcast domains: where frames of each VLAN of a bridge, or of an interface, come out next, what they become
 * there, and which line lets them or stops them. Computed for whole sets of VLANs: the numbers at which any list on the
 * way changes cut 0..4094 into pieces that are treated alike; each piece is asked once.
 */
import { type Ranges, rangeOf, rangesContain, unionRanges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { DropReason, Id } from "../network/index.ts";
import { type Exit, exitsOf, type Wires } from "./exits.ts";
import { enterBridge, leaveBridge, type Passed, type Refused } from "./membership.ts";
import type { BridgePlace, Leg, Plant } from "./plant.ts";
import { type Taker, takerOf } from "./taker.ts";

/** One end of a crossing. */
export type DomainEnd =
  | {
      /** A port of a bridge: a domain of it is a VLAN, or for a bridge that ignores tags the tag kept (0: none). */
      readonly kind: "bridge";
      /** Id of the bridge. */
      readonly bridge: Id;
      /** Id of the `BridgePort`. */
      readonly port: Id;
    }
  | {
      /** An interface of a stack: it has one domain, 0. */
      readonly kind: "interface";
      /** Id of the stack. */
      readonly stack: Id;
      /** Id of the interface. */
      readonly interface: Id;
    };

/** Domains of the near end that get across. */
export type Passage = {
  /** Their numbers at the near end. */
  readonly domains: Ranges;
  /** With which tag they cross: their own number, or none. */
  readonly wire: "tagged" | "untagged";
  /** What they are at the far end: `same` number, or this one. */
  readonly becomes: "same" | number;
  /** The lines that let them: membership on the way out, port VLAN and membership on the way in. */
  readonly why: readonly Origin[];
};

/** Domains of the near end that do not. */
export type Barrier = {
  /** Their numbers at the near end. */
  readonly domains: Ranges;
  /** What becomes of the frame. */
  readonly reason: DropReason;
  /** The line to blame. */
  readonly origin: Origin;
};

/** From one end to the other, one direction. */
export type Crossing = {
  /** The near end. */
  readonly from: DomainEnd;
  /** The far end. */
  readonly to: DomainEnd;
  /** Physical ports it leaves by, in the order of joining; empty: inside the device. */
  readonly by: readonly Id[];
  /** What gets across; together with `stops` each domain at most once. */
  readonly passes: readonly Passage[];
  /** What does not; domains in neither list are taken by another end. */
  readonly stops: readonly Barrier[];
};

const VLANS: Ranges = rangeOf(1n, 4094n);
const TAGS: Ranges = rangeOf(0n, 4094n);
const ONLY_DOMAIN: Ranges = rangeOf(0n, 0n);

/** A near end on the way out. */
type Near =
  | { readonly kind: "bridge"; readonly place: BridgePlace }
  | { readonly kind: "interface"; readonly leg: Leg };

/** All crossings that begin at a bridge port. `blocked` are ports that the tree blocks, with the line. */
export function crossingsFromPort(wires: Wires, place: BridgePlace, blocked: ReadonlyMap<Id, Origin>): Crossing[] {
  const near: Near = { kind: "bridge", place };
  return place.port.own ? inward(wires, place) : outward(wires, near, place.port.on, blocked);
}

/** All crossings that begin at an interface. */
export function crossingsFromLeg(wires: Wires, leg: Leg, blocked: ReadonlyMap<Id, Origin>): Crossing[] {
  const own = wires.plant.placeAt.get(leg.interface.on);
  const near: Near = { kind: "interface", leg };
  if (!own?.port.own) return outward(wires, near, leg.interface.on, blocked);
  return [cross(wires, near, { kind: "bridge", ...own }, [], blocked)];
}

/** From a bridge's own port to the interfaces that stand on it. */
function inward(wires: Wires, place: BridgePlace): Crossing[] {
  const legs = wires.plant.legsAt.get(place.port.on) ?? [];
  const near: Near = { kind: "bridge", place };
  return legs.map((leg) => cross(wires, near, { kind: "interface", ...leg }, [], new Map()));
}

/** Over the cables: one crossing for everyone who may take a frame at the far attachments. */
function outward(wires: Wires, near: Near, attachment: Id, blocked: ReadonlyMap<Id, Origin>): Crossing[] {
  const exits = new Map<Id, Exit[]>();
  for (const exit of exitsOf(wires, attachment)) exits.set(exit.into, [...(exits.get(exit.into) ?? []), exit]);
  return [...exits].flatMap(([into, group]) =>
    takersAt(wires, into).map((taker) => cross(wires, near, taker, group, blocked)),
  );
}

function takersAt({ plant }: Wires, into: Id): Taker[] {
  const place = plant.placeAt.get(into);
  const legs = (plant.legsAt.get(into) ?? []).map((leg): Taker => ({ kind: "interface", ...leg }));
  return place && !place.port.own ? [...legs, { kind: "bridge", ...place }] : legs;
}

function cross(
  wires: Wires,
  near: Near,
  taker: Taker,
  exits: readonly Exit[],
  blocked: ReadonlyMap<Id, Origin>,
): Crossing {
  const ends = { from: nearEnd(near), to: takerEnd(taker), by: exits.map(({ by }) => by) };
  const stop = wholeStop(near, taker, exits, blocked);
  if (stop) return { ...ends, passes: [], stops: [{ domains: domainsOfEnd(wires, near), ...stop }] };
  return { ...ends, ...acrossTo(wires, near, taker, exits[0]?.into) };
}

/** What gets across where the cable is live and no end blocked. */
type Across = Pick<Crossing, "passes" | "stops">;

const across = new WeakMap<Plant, Map<string, Across>>();

/** That rests on the lists at both ends alone, so it is the same in every state of a site. */
function acrossTo(wires: Wires, near: Near, taker: Taker, into: Id | undefined): Across {
  const known = across.get(wires.plant) ?? new Map<string, Across>();
  across.set(wires.plant, known);
  const key = `${endKey(nearEnd(near))} ${endKey(takerEnd(taker))} ${into}`;
  const found = known.get(key) ?? collectAcross(wires, near, taker, into);
  known.set(key, found);
  return found;
}

function endKey(end: DomainEnd): string {
  return end.kind === "bridge" ? `bridge ${end.port}` : `interface ${end.interface}`;
}

function collectAcross(wires: Wires, near: Near, taker: Taker, into: Id | undefined): Across {
  const pieces = piecesOf(wires, domainsOfEnd(wires, near), near, taker, into);
  return collect(pieces, (domain) => crossOne(wires, near, taker, into, domain));
}

function domainsOfEnd({ plant }: Wires, near: Near): Ranges {
  if (near.kind === "interface") return ONLY_DOMAIN;
  return plant.habits.get(near.place.bridge.id)?.ignoresTags ? TAGS : VLANS;
}

/** What stops every domain alike: a blocked port at either end, members that are idle there. */
function wholeStop(
  near: Near,
  taker: Taker,
  exits: readonly Exit[],
  blocked: ReadonlyMap<Id, Origin>,
): Omit<Barrier, "domains"> | undefined {
  for (const end of [nearEnd(near), takerEnd(taker)]) {
    const origin = end.kind === "bridge" ? blocked.get(end.port) : undefined;
    if (origin) return { reason: "tree-blocked", origin };
  }
  const idle = exits.length > 0 && exits.every((exit) => exit.idle) ? exits[0]?.idle : undefined;
  return idle && { reason: "member-idle", origin: idle.origin };
}

function nearEnd(near: Near): DomainEnd {
  return near.kind === "bridge" ? bridgeEnd(near.place) : legEnd(near.leg);
}

function takerEnd(taker: Taker): DomainEnd {
  if (taker.kind === "bridge") return bridgeEnd(taker);
  if (taker.kind === "interface") return legEnd(taker);
  throw new Error(`a crossing cannot end at ${taker.kind}`);
}

function bridgeEnd({ bridge, port }: BridgePlace): DomainEnd {
  return { kind: "bridge", bridge: bridge.id, port: port.id };
}

function legEnd({ stack, interface: leg }: Leg): DomainEnd {
  return { kind: "interface", stack: stack.id, interface: leg.id };
}

type Result = (Passed & { readonly wire: number }) | Refused | "elsewhere";

/** One domain: out, over, in. `elsewhere`: somebody else at the far attachment takes it. */
function crossOne(wires: Wires, near: Near, taker: Taker, into: Id | undefined, domain: number): Result {
  const leaving = leaveOne(wires, near, domain);
  if (leaving.refused) return leaving;
  const wire = leaving.as;
  if (!takes(wires, taker, into, wire)) return "elsewhere";
  if (taker.kind !== "bridge") return { as: 0, why: leaving.why, wire };
  const entered = enterBridge(wires.plant, taker, wire);
  return entered.refused ? entered : { as: entered.as, why: [...leaving.why, ...entered.why], wire };
}

function leaveOne(wires: Wires, near: Near, domain: number): Passed | Refused {
  if (near.kind === "bridge") return leaveBridge(wires.plant, near.place, domain);
  return { as: near.leg.interface.vlan ?? 0, why: [near.leg.interface.origin] };
}

function takes({ plant }: Wires, taker: Taker, into: Id | undefined, wire: number): boolean {
  if (taker.kind === "interface") {
    const actual = takerOf(plant, into ?? taker.interface.on, wire);
    return actual.kind === "interface" && actual.interface.id === taker.interface.id;
  }
  return into === undefined || takerOf(plant, into, wire).kind === "bridge";
}

/** Pieces of the number line inside which every list on the way says the same. */
function piecesOf({ plant }: Wires, all: Ranges, near: Near, taker: Taker, into: Id | undefined): Ranges {
  if (all === ONLY_DOMAIN) return all;
  const cuts = new Set<bigint>([0n, 1n]);
  const at = (value: number) => cuts.add(BigInt(value)).add(BigInt(value) + 1n);
  const lists = [near, taker].flatMap((end) => (end.kind === "bridge" ? [placeOf(end).port] : []));
  for (const port of lists) {
    for (const { vlans } of port.members) for (const [low, high] of vlans) cuts.add(low).add(high + 1n);
  }
  const here = into ?? (taker.kind === "interface" ? taker.interface.on : undefined);
  for (const leg of here === undefined ? [] : (plant.legsAt.get(here) ?? [])) at(leg.interface.vlan ?? 0);
  const starts = [...cuts].filter((cut) => cut <= 4094n).sort((a, b) => (a < b ? -1 : 1));
  const pieces = starts.map((low, index) => [low, (starts[index + 1] ?? 4095n) - 1n] as const);
  return all === TAGS ? pieces : pieces.slice(1);
}

function placeOf(end: { readonly place: BridgePlace } | BridgePlace): BridgePlace {
  return "place" in end ? end.place : end;
}

/** Asks each piece by its lowest number and joins the pieces that fare alike. */
function collect(pieces: Ranges, ask: (domain: number) => Result): Across {
  const passes = new Map<string, Passage>();
  const stops = new Map<string, Barrier>();
  for (const piece of pieces) {
    const result = ask(Number(piece[0]));
    if (result === "elsewhere") continue;
    if (result.refused) addStop(stops, piece, result);
    else addPass(passes, piece, result);
  }
  return { passes: [...passes.values()], stops: [...stops.values()] };
}

function addStop(stops: Map<string, Barrier>, piece: Ranges[number], { refused, origin }: Refused): void {
  const key = `${refused} ${placeKey(origin)}`;
  const domains = unionRanges(stops.get(key)?.domains ?? [], [piece]);
  stops.set(key, { domains, reason: refused, origin });
}

function addPass(
  passes: Map<string, Passage>,
  piece: Ranges[number],
  result: Passed & { readonly wire: number },
): void {
  const keeps = result.wire > 0 && result.as === result.wire && piece[0] === BigInt(result.wire);
  const becomes = keeps ? "same" : result.as;
  const wire = result.wire === 0 ? "untagged" : "tagged";
  const key = `${becomes} ${wire} ${result.why.map(placeKey).join(" ")}`;
  const domains = unionRanges(passes.get(key)?.domains ?? [], [piece]);
  passes.set(key, { domains, wire, becomes, why: result.why });
}

function placeKey({ span, through, by }: Origin): string {
  const places = [span, ...(through ?? [])].map(({ file, start, end }) => `${file}:${start}-${end}`);
  return `${by} ${places.join(" ")}`;
}

/** What a domain of the near end is at the far end; undefined where it does not get across. */
export function crossedAs(crossing: Crossing, domain: number): number | undefined {
  const passage = crossing.passes.find(({ domains }) => rangesContain(domains, BigInt(domain)));
  return passage && (passage.becomes === "same" ? domain : passage.becomes);
}
