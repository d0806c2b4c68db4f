/**
 * The plan of a random site before it becomes text: routers joined to a tree and now and then in a ring, segments with
 * their members, hosts on them, some with several legs.
 */
import type { Dice } from "../dice.ts";
import { type Further, furtherOf } from "./further.ts";

/** A subnet with a number: 10.40.ID.0/24, fd40:ID::/64 where it speaks IPv6. */
export type Segment = {
  readonly id: number;
  readonly members: Member[];
  readonly six: boolean;
  /** Whether its hosts state their hardware addresses. */
  readonly stated: boolean;
  /** Whether its routers advertise it, and most of its hosts wait for that. */
  readonly advertised: boolean;
  /** Whether it has a further IPv4 subnet. */
  readonly moved: boolean;
  /** Whether it has further IPv6 subnets, of several labels. */
  readonly labelled: boolean;
  /** The router whose own bridge joins its members; absent: cables and switches do. */
  bridge?: string;
};
/** A leg as its segment sees it. */
export type Member = {
  readonly device: string;
  readonly leg: string;
  readonly host: number;
  /** In further subnets. */
  readonly further: Further;
};
/** A router or a host. */
export type Box = { readonly name: string; readonly router: boolean; readonly legs: Leg[] };
/** A leg as its device sees it. */
export type Leg = {
  readonly name: string;
  readonly segment: Segment;
  readonly host: number;
  /** Whether it has a second IPv4 address, `SECOND` higher. */
  readonly second: boolean;
  /** In further subnets. */
  readonly further: Further;
};
/** A router's way towards the root of the tree. */
export type Uplink = { readonly child: number; readonly parent: number; readonly segment: Segment };
/** Whom a question is worth. */
export type Aim = { readonly to: string; readonly ask: string };

/** Everything so far. */
export type Draft = {
  readonly dice: Dice;
  readonly boxes: Box[];
  readonly segments: Segment[];
  readonly uplinks: Uplink[];
  /** Whether segments have IPv6 subnets of several labels. */
  readonly labels: boolean;
  /** Questions that something in the intent was written for. */
  readonly aims: Aim[];
};

/** Services that are asked, served and matched. */
export const SERVICES: readonly string[] = ["tcp/80", "tcp/443", "udp/53", "udp/5000"];
/** Ports that translation may lead to. */
export const PORTS: readonly number[] = [80, 443, 53, 5000, 8080, 8081, 8082, 8083];

/** How much higher the second address of a leg is. */
export const SECOND = 100;

const FORMED = 60;

/** Whether a host of this number makes its IPv6 addresses of what is advertised, with its hardware address. */
export function isFormed(host: number): boolean {
  return host >= FORMED && host < FORMED + 10;
}

const LARGEST = 30; // devices of a site

/** Boxes and segments of a new site. */
export function draftSite(dice: Dice): Draft {
  const draft: Draft = { dice, boxes: [], segments: [], uplinks: [], labels: dice.chance(0.4), aims: [] };
  const routers = dice.chance(0.1) ? 1 : 2 + dice.below(dice.chance(0.3) ? 5 : 3);
  for (let index = 0; index < routers; index++) addRouter(draft, index);
  if (routers > 2 && dice.chance(0.3)) addRing(draft, routers);
  for (let index = 0; index < routers; index++) addStubs(draft, index, routers > 3 ? 1 : 2);
  return draft;
}

function addSegment({ segments, dice, labels }: Draft): Segment {
  const six = dice.chance(labels ? 0.85 : 0.6);
  const advertised = six && dice.chance(labels ? 0.12 : 0.3);
  const segment = {
    id: segments.length + 1,
    members: [],
    six,
    stated: advertised || dice.chance(0.5),
    advertised,
    moved: dice.chance(0.1),
    labelled: labels && six && !advertised && dice.chance(0.85),
  };
  segments.push(segment);
  return segment;
}

function plug({ dice }: Draft, box: Box, segment: Segment): void {
  // Which of two default routes alike is used is luck, so a host waits on one leg.
  const waits = segment.advertised && !box.router && !box.legs.some((leg) => isFormed(leg.host)) && dice.chance(0.85);
  const host = segment.members.length + (box.router ? 1 : waits ? FORMED : 10);
  const leg = `e${box.legs.length}`;
  const further = furtherOf(dice, segment, host, box.router);
  box.legs.push({ name: leg, segment, host, second: dice.chance(0.06), further });
  segment.members.push({ device: box.name, leg, host, further });
}

function addRouter(draft: Draft, index: number): void {
  const box: Box = { name: `r${index}`, router: true, legs: [] };
  draft.boxes.push(box);
  if (index === 0) return;
  const parent = draft.dice.below(index);
  const segment = addSegment(draft);
  plug(draft, boxAt(draft, parent), segment);
  plug(draft, box, segment);
  draft.uplinks.push({ child: index, parent, segment });
}

/** Two routers with a second way between them, which no route or the one or the other takes. */
function addRing(draft: Draft, routers: number): void {
  const segment = addSegment(draft);
  const one = draft.dice.below(routers);
  plug(draft, boxAt(draft, one), segment);
  plug(draft, boxAt(draft, (one + 1 + draft.dice.below(routers - 1)) % routers), segment);
}

function addStubs(draft: Draft, index: number, most: number): void {
  const { dice } = draft;
  const router = boxAt(draft, index);
  for (let count = 1 + dice.below(most); count > 0; count--) {
    const segment = addSegment(draft);
    plug(draft, router, segment);
    for (let hosts = 1 + dice.below(3); hosts > 0 && draft.boxes.length < LARGEST; hosts--) addHost(draft, segment);
    if (dice.chance(0.15)) segment.bridge = router.name;
  }
}

function addHost(draft: Draft, segment: Segment): void {
  const { dice, boxes, segments } = draft;
  const box: Box = { name: `h${boxes.length}`, router: false, legs: [] };
  boxes.push(box);
  plug(draft, box, segment);
  for (let more = dice.chance(0.2) ? 1 + dice.below(2) : 0; more > 0; more--) {
    const other = dice.pick(segments);
    if (other.bridge === undefined && box.legs.every((leg) => leg.segment !== other)) plug(draft, box, other);
  }
}

/** A box by its place. */
export function boxAt({ boxes }: Draft, index: number): Box {
  const box = boxes[index];
  if (box === undefined) throw new Error(`no box ${index}`);
  return box;
}

/** An IPv4 address of a segment. */
export function address4(id: number, host: number): string {
  return `10.40.${id}.${host}`;
}

/** The hardware address that a host states in such a segment. */
export function hardware(id: number, host: number): string {
  return `02:00:5e:10:${[id, host].map((part) => part.toString(16).padStart(2, "0")).join(":")}`;
}

/** Has a question asked of somebody, in one version of IP or the other. */
export function aimAt(
  { dice, aims }: Draft,
  { segment: { id, six } }: Leg | { segment: Segment },
  host: number,
  ask: string,
): void {
  const isSix = six && dice.chance(0.4);
  const to = isSix ? address6(id, host) : address4(id, host);
  aims.push({ to, ask: isSix && ask === "ping" ? "ping6" : ask });
}

/** An IPv6 address of a segment; of who waits for advertisements, the one that is made (RFC 4291 appendix A). */
export function address6(id: number, host: number): string {
  return isFormed(host) ? `fd40:${id}::5eff:fe10:${(256 * id + host).toString(16)}` : ownAddress6(id, host);
}

/** One that is written. */
export function ownAddress6(id: number, host: number): string {
  return `fd40:${id}::${host}`;
}
