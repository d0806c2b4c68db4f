/**
 * Whether what the simulator saw of a packet got to a question's target, which is told there by where packets arrive and which
 * segments they cross.
 */
import { addressKey, isLinkLocal, rangesContain, single } from "../address/index.ts";
import type { Id, Settled } from "../network/index.ts";
import type { Target } from "../prove/index.ts";
import type { Injection, SegmentCrossing, StackArrival } from "../simulate/index.ts";
import { type Holder, type Holders, holdersOf, stacksWithin } from "./holders.ts";

/** The target with its interfaces as they are now, all their addresses, and the stacks that own some that count. */
export type Aim = {
  /** What was asked for. */
  readonly target: Target;
  /** Its interfaces, with the addresses that each has. */
  readonly legs: ReadonlyMap<Id, Holder>;
  /** All of their addresses, by key. */
  readonly own: ReadonlySet<bigint>;
  /** Stacks that have one of its addresses or interfaces. */
  readonly owners: ReadonlySet<Id>;
  /** Who has which address. */
  readonly holders: Holders;
};

/** The packet was delivered at the target, put on a segment of it, or handed to an upstream of it. */
export function reaches(injection: Injection, aim: Aim): boolean {
  const onTarget = ({ point }: SegmentCrossing): boolean =>
    aim.target.segments.some((each) => each.at === point.at && each.vlan === point.vlan);
  return (
    injection.arrivals.some((arrival) => arrival.descent === "sent" && isAtTarget(arrival, aim)) ||
    injection.segments.some((crossing) => crossing.descent === "sent" && onTarget(crossing))
  );
}

function isAtTarget(arrival: StackArrival, aim: Aim): boolean {
  const { target, owners } = aim;
  if (isHandedUp(arrival, target)) return true;
  if (isOwn(arrival, aim)) return true;
  // That a router has an address out there does not make it the internet.
  const isOwner = target.upstreams.length === 0 && owners.has(arrival.stack);
  const isHere = target.stacks.length === 0 || target.stacks.includes(arrival.stack) || isOwner;
  const isListed =
    target.anyAddress === true || rangesContain(target.addresses, addressKey(arrival.packet.destination));
  return isHere && isListed;
}

/** To an address of the target's interfaces; a link-local one counts on its own link only (RFC 4007 section 5). */
function isOwn({ stack, ingress, packet: { destination } }: StackArrival, { legs, own, holders }: Aim): boolean {
  const key = addressKey(destination);
  // An upstream that stands for an address is not one that has it.
  if (destination.family === 4 || !isLinkLocal(destination))
    return own.has(key) && stacksWithin(holders, single(key)).has(stack);
  if (ingress !== undefined) return legs.get(ingress)?.keys.has(key) === true;
  return [...legs.values()].some((leg) => leg.stack === stack && leg.keys.has(key));
}

function isHandedUp({ ingress, packet }: StackArrival, { upstreams, beyond }: Target): boolean {
  if (ingress === undefined || !upstreams.includes(ingress)) return false;
  return beyond === undefined || rangesContain(beyond, addressKey(packet.destination));
}

/** The target in a site at rest. */
export function aimAt(settled: Settled, target: Target): Aim {
  const holders = holdersOf(settled);
  const legs = new Map(
    target.interfaces.flatMap((id) => {
      const leg = holders.legs.get(id);
      return leg === undefined ? [] : [[id, leg] as const];
    }),
  );
  const mine = [...legs.values()];
  const own = new Set(mine.flatMap(({ keys }) => [...keys]));
  const owners = new Set([...stacksWithin(holders, target.addresses), ...mine.map(({ stack }) => stack)]);
  return { target, legs, own, owners, holders };
}
