/**
 * Behind the address of an interface with several: in IPv4 the one that faces the next hop, which on the link is the destination
 * (kernel fact 21), in IPv6 the one preferred for the destination (RFC 6724 section 5, rule 8). So packets of one route to one
 * link may be seen from different addresses.
 */
import { describe, expect, it } from "vitest";
import type { Network } from "../../src/network/index.ts";
import { originIn, provedAt } from "../evaluate/proved.ts";
import { networkOf } from "../support/site.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  asks: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { in: 1G, out: 1G } }
  box:  { is: host, ports: { nic: 1G } }
cables: [[asks:nic, edge:in], [edge:out, box:nic]]
`;

/** How addresses of a family are written: the key, then a host of a network. */
type Tongue = {
  readonly key: "ipv4" | "ipv6";
  readonly length: number;
  readonly at: (net: string, host: number) => string;
};

const FOUR: Tongue = { key: "ipv4", length: 24, at: (net, host) => `10.0.${net}.${host}` };
const SIX: Tongue = { key: "ipv6", length: 64, at: (net, host) => `fd00:${net}::${host}` };

/** A box with two addresses, of which it takes packets from some sources alone. */
function site({ key, length, at }: Tongue, second: string, takes: readonly [source: string, dest: string]): Network {
  const on = (net: string, host: number): string => `"${at(net, host)}/${length}"`;
  const [source, dest] = takes;
  return networkOf(
    TOPOLOGY,
    `dryrack: intent/1
devices:
  asks: { legs: { nic: { ${key}: ${on("9", 9)}, gateway: "${at("9", 1)}" } } }
  edge:
    interfaces:
      in:  { port: in, ${key}: ${on("9", 1)} }
      out: { port: out, ${key}: [${on("2", 1)}, ${on(second, 1)}] }
    translate: { source: [ { name: hide, out: out, to: external-address } ] }
  box:
    legs: { nic: { ${key}: [${on("2", 12)}, ${on(second, 12)}], gateway: "${at("2", 1)}" } }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: neighbours, service: [icmp6/neighbour-solicitation, icmp6/neighbour-advertisement], action: accept }
          - { name: taken, source: "${source}", dest: "${dest}", action: accept }
`,
  );
}

/** Whether a SYN for the web server gets to the box that needs no others before it, each class of the proof replayed. */
function getsThere(network: Network): boolean {
  const origin = originIn(network);
  const web = [
    { field: "protocol" as const, within: [[6n, 6n] as const], origin },
    { field: "destinationPort" as const, within: [[443n, 443n] as const], origin },
    // What is no beginning is invalid, and translated by nobody.
    { field: "tcpFlags" as const, within: [[2n, 2n] as const], origin },
  ];
  const { reached } = provedAt(network, { to: "box", entrance: "edge:in", packets: () => [web] });
  return reached.some(({ fate, before }) => fate.end === "delivered" && before.length === 0);
}

describe("two prefixes on one link", () => {
  it.each([
    ["10.0.2 and 10.0.3", FOUR, "3"],
    ["10.0.2 and 10.0.131", FOUR, "131"],
    ["fd00:2 and fd00:3", SIX, "3"],
    ["fd00:2 and fd00:8131", SIX, "8131"],
  ] as const)("each has its own address: %s", (_, tongue, second) => {
    const { at } = tongue;
    expect(getsThere(site(tongue, second, [at(second, 1), at(second, 12)]))).toBe(true);
    expect(getsThere(site(tongue, second, [at("2", 1), at("2", 12)]))).toBe(true);
    expect(getsThere(site(tongue, second, [at("2", 1), at(second, 12)]))).toBe(false);
    expect(getsThere(site(tongue, second, [at(second, 1), at("2", 12)]))).toBe(false);
  });
});
