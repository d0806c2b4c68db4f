/**
 * What takes packets at a stack: stated listeners, and the well-known ports of DHCP servers, relays and resolvers.
 */
import { addressKey, single } from "../address/index.ts";
import type { Alternatives, Condition, Id, Service } from "../network/index.ts";
import { DHCP_SERVER_PORT, PROTOCOL_TCP, PROTOCOL_UDP } from "../wire/index.ts";
import { type Test, testOf } from "./match.ts";
import type { ListenPlan, StackPlan } from "./plan.ts";

const RESOLVER_PORT = 53; // RFC 1035 section 4.2, from memory

/** The listeners that a service amounts to; none for advertisements. */
export function listensOf(service: Service, stack: StackPlan): ListenPlan[] {
  switch (service.kind) {
    case "listen":
      return [listen(service, testOf(service.when), addressesOf(stack, service.boundTo))];
    case "dhcp-server":
    case "dhcp-relay":
      // A socket of these hears broadcasts too: not bound to an address.
      return [listen(service, portTest(service, PROTOCOL_UDP, DHCP_SERVER_PORT), undefined)];
    case "resolve":
      return [PROTOCOL_UDP, PROTOCOL_TCP].map((protocol) =>
        listen(service, portTest(service, protocol, RESOLVER_PORT), addressesOf(stack, service.listen)),
      );
    case "advertise":
      return [];
  }
}

function listen(service: Service, test: Test, boundTo: ListenPlan["boundTo"]): ListenPlan {
  const { id, origin } = service;
  return { id, origin, test, boundTo, answers: !(service.kind === "listen" && service.silent === true) };
}

function addressesOf(stack: StackPlan, interfaces: readonly Id[] | "all"): ReadonlySet<bigint> | undefined {
  if (interfaces === "all") return undefined;
  return new Set(interfaces.flatMap((id) => stack.byId.get(id)?.addresses.map(addressKey) ?? []));
}

function portTest({ origin }: Service, protocol: number, port: number): Test {
  const conditions: readonly Condition[] = [
    { origin, field: "protocol", within: single(BigInt(protocol)) },
    { origin, field: "destinationPort", within: single(BigInt(port)) },
  ];
  const when: Alternatives = [conditions];
  return testOf(when);
}
