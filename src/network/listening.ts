/**
 * What of the packets that are for a stack a service of it takes: stated listeners, and the well-known ports of DHCP servers, relays
 * and resolvers (RFC 2131 section 4.1; RFC 1035 section 4.2, from memory).
 */
import { single } from "../address/index.ts";
import { DHCP_SERVER_PORT, PROTOCOL_TCP, PROTOCOL_UDP } from "../wire/index.ts";
import type { Id } from "./entry.ts";
import type { Alternatives, Condition } from "./match.ts";
import type { Service } from "./service.ts";

const RESOLVER_PORT = 53;

/** Packets that a service takes. */
export type Listening = {
  /** What it takes: protocol, ports. */
  readonly when: Alternatives;
  /** Interfaces whose addresses it is bound to; "all": any address, and broadcasts. */
  readonly boundTo: readonly Id[] | "all";
  /** False: it takes what fits and says nothing to strangers. */
  readonly answers: boolean;
};

/** The listeners that a service amounts to; none for advertisements. */
export function listeningOf(service: Service): readonly Listening[] {
  switch (service.kind) {
    case "listen":
      return [{ when: service.when, boundTo: service.boundTo, answers: service.silent !== true }];
    case "dhcp-server":
    case "dhcp-relay":
      // A socket of these hears broadcasts too: not bound to an address.
      return [{ when: atPort(service, PROTOCOL_UDP, DHCP_SERVER_PORT), boundTo: "all", answers: true }];
    case "resolve":
      return [PROTOCOL_UDP, PROTOCOL_TCP].map((protocol) => ({
        when: atPort(service, protocol, RESOLVER_PORT),
        boundTo: service.listen,
        answers: true,
      }));
    case "advertise":
      return [];
  }
}

function atPort({ origin }: Service, protocol: number, port: number): Alternatives {
  const conditions: readonly Condition[] = [
    { origin, field: "protocol", within: single(BigInt(protocol)) },
    { origin, field: "destinationPort", within: single(BigInt(port)) },
  ];
  return [conditions];
}
