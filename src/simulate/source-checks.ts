/**
 * Two checks of a packet's source: is it one of the receiver's own addresses (kernel fact 7), and does the way back
 * leave where the packet came in (RFC 3704).
 */
import { type Address, addressKey, isLinkLocal } from "../address/index.ts";
import type { Route } from "../network/index.ts";
import type { InterfacePlan, StackPlan } from "./plan.ts";
import { lookUpRoute } from "./route-table.ts";

/** Whether an address is one of the stack's own, as far as the kernel looks: it does so in IPv4 only. */
export function isOwnSource(stack: StackPlan, source: Address): boolean {
  return source.family === 4 && stack.own.has(addressKey(source));
}

/**
 * Whether the source of a packet may come in by an interface. `strict`: the best route to it leaves there (one of its hops does);
 * `loose`: there is a route that forwards. What is sent to an address of the link asks for the routes of the longest prefix that
 * leave by that link first, whatever their metrics (seen on Linux 6.18). Neither way leads out to an own address (IPv6: both seen on Linux 6.18), nor
 * to the broadcast address of an own network, which is no station's (RFC 1812 section 5.3.7; both seen on Linux 6.18).
 */
export function checkReversePath(
  leg: InterfacePlan,
  source: Address,
  mode: "strict" | "loose",
  destination?: Address,
): boolean {
  if (leg.stack.own.has(addressKey(source))) return false;
  if (isBroadcastOf(leg.stack, source)) return false;
  const route = routeBack(leg, source, destination);
  if (route === undefined) return leg.stack.stack.answersFor === "everywhere";
  const { action } = route;
  if (action.do === "local") return true;
  if (action.do === "refuse") return false;
  return mode === "loose" || action.hops.some(({ egress }) => egress === leg.interface.id);
}

function routeBack(
  { stack, interface: { id } }: InterfacePlan,
  source: Address,
  destination?: Address,
): Route | undefined {
  const best = lookUpRoute(stack.routesBack, source);
  if (destination?.family !== 6 || !isLinkLocal(destination)) return best;
  const own = lookUpRoute(stack.routesBack, source, id);
  return own?.length === best?.length ? own : best;
}

const LIMITED_BROADCAST = 0xffffffffn;

/** Whether an address is a broadcast address that the stack knows: of its networks, or the limited one. */
export function isBroadcastOf({ broadcasts }: StackPlan, { family, value }: Address): boolean {
  return family === 4 && (value === LIMITED_BROADCAST || broadcasts.has(value));
}
