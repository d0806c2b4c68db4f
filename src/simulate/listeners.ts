/**
 * What takes packets at a stack, in the private form of the simulator.
 */
import { addressKey } from "../address/index.ts";
import { type Id, listeningOf, type Service } from "../network/index.ts";
import { testOf } from "./match.ts";
import type { ListenPlan, StackPlan } from "./plan.ts";

/** The listeners that a service amounts to; none for advertisements. */
export function listensOf(service: Service, stack: StackPlan): ListenPlan[] {
  const { id, origin } = service;
  return listeningOf(service).map(({ when, boundTo, answers }) => ({
    id,
    origin,
    test: testOf(when),
    boundTo: addressesOf(stack, boundTo),
    answers,
  }));
}

function addressesOf(stack: StackPlan, interfaces: readonly Id[] | "all"): ReadonlySet<bigint> | undefined {
  if (interfaces === "all") return undefined;
  return new Set(interfaces.flatMap((id) => stack.byId.get(id)?.addresses.map(addressKey) ?? []));
}
