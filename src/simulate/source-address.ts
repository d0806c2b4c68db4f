/**
 * The source address that a stack gives a packet of its own. IPv4: of the egress interface, facing the next hop (kernel
 * fact 21 says the same of masquerade). IPv6: the one that RFC 6724 prefers of its own addresses.
 */
import { type Address, addressKey, isLinkLocal, isLoopback, prefixContains, prefixOf } from "../address/index.ts";
import type { InterfaceAddress } from "../network/index.ts";
import { isOfLink, preferredSource, sourceCandidates } from "../protocol/index.ts";
import type { PickBook } from "./picks.ts";
import type { InterfacePlan, StackPlan } from "./plan.ts";
import { wayTo } from "./route-choice.ts";

/** From where a stack speaks to itself by an address that means that. */
const LOOPBACK: Readonly<Record<4 | 6, Address>> = {
  4: { family: 4, value: 0x7f000001n },
  6: { family: 6, value: 1n },
};

/** The source that a stack selects for a destination; undefined: it has none. `bound`: the egress interface. */
export function selectSource(
  stack: StackPlan,
  destination: Address,
  picks: PickBook,
  bound?: InterfacePlan,
): Address | undefined {
  if (isLoopback(destination) && bound === undefined) return LOOPBACK[destination.family];
  const way = wayTo(stack, destination, picks, bound);
  switch (way.to) {
    case "own":
      return ownSource(stack, destination);
    case "group":
      return way.egress && addressFacing(stack, way.egress, destination, destination);
    case "hop":
      return addressFacing(stack, way.egress, way.nextHop ?? destination, destination);
    case "nowhere":
      return anyAddress(stack, destination.family);
  }
}

/** To itself a stack speaks from the address it speaks to; to an anycast one from the best of the same interface. */
function ownSource(stack: StackPlan, destination: Address): Address | undefined {
  const key = addressKey(destination);
  const [leg] = stack.own.get(key) ?? [];
  if (leg === undefined) return anyAddress(stack, destination.family);
  return stack.anycast.has(key) ? bestSource(stack, leg, destination) : destination;
}

/** A program without a route still has an address to fail from, and an upstream one to speak to itself. */
function anyAddress(stack: StackPlan, family: 4 | 6): Address | undefined {
  return firstOf(stack.interfaces, family);
}

function firstOf(legs: readonly InterfacePlan[], family: 4 | 6): Address | undefined {
  for (const leg of legs) for (const address of leg.addresses) if (address.family === family) return plain(address);
  return undefined;
}

function plain({ family, value }: InterfaceAddress): Address {
  return { family, value };
}

/** The address of an interface that faces a next hop. */
export function addressFacing(
  stack: StackPlan,
  egress: InterfacePlan,
  nextHop: Address,
  destination: Address = nextHop,
): Address | undefined {
  if (destination.family === 6) return bestSource(stack, egress, destination);
  const facing = egress.addresses.find(
    (address) => address.family === 4 && prefixContains(prefixOf(address, address.prefixLength), nextHop),
  );
  if (facing !== undefined) return plain(facing);
  return firstOf([egress], 4) ?? firstOf(stack.interfaces, 4);
}

function bestSource(stack: StackPlan, egress: InterfacePlan, destination: Address): Address | undefined {
  const legs = isOfLink(destination) ? [egress] : [egress, ...stack.interfaces.filter((leg) => leg !== egress)];
  const candidates = legs.flatMap((leg) =>
    sourceCandidates(leg.addresses, leg === egress).filter(({ address }) => leg === egress || !isLinkLocal(address)),
  );
  const best = preferredSource(candidates, destination);
  return best && plain(best);
}
