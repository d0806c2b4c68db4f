/**
 * Who answers for an address: by ARP every own address of the device on any leg (kernel fact 4) or that leg's only,
 * by neighbour discovery that leg's only, and an upstream for everything it has no route to.
 */
import { type Address, addressKey, isLinkLocal } from "../address/index.ts";
import type { InterfacePlan, Plan, StackPlan } from "./plan.ts";
import { lookUpRoute } from "./route-table.ts";

/** Stacks that may answer for an address on some leg. */
export function ownersHeard(plan: Plan, address: Address): readonly StackPlan[] {
  const owners = plan.owners.get(addressKey(address)) ?? [];
  return plan.everywhere.length === 0 ? owners : [...new Set([...owners, ...plan.everywhere])];
}

/** Whether a stack answers on a leg for an address that a neighbour asks for. */
export function answersFor(leg: InterfacePlan, address: Address): boolean {
  const { stack } = leg;
  const key = addressKey(address);
  switch (stack.stack.answersFor) {
    case "any-own-address":
      return address.family === 4 ? stack.own.has(key) : leg.own.has(key);
    case "this-leg":
      return leg.own.has(key);
    case "everywhere":
      return leg.own.has(key) || standsFor(stack, address);
  }
}

/** Whether an address lies behind an upstream: no route of its own leads there. No link-local one does. */
function standsFor(stack: StackPlan, address: Address): boolean {
  if (address.family === 6 && isLinkLocal(address)) return false;
  if (stack.stack.answersFor !== "everywhere" || stack.own.has(addressKey(address))) return false;
  const route = lookUpRoute(stack.routes, address);
  return route === undefined || route.action.do === "local";
}
