/**
 * Addresses of one link, proved and replayed: a router hands them back to their link (RFC 4291 section 2.5.6 forbids other
 * links only; seen on Linux 6.18), past switch ports that keep their stations apart.
 */
import { describe, expect, it } from "vitest";
import { parsePrefix, prefixKeys, type Ranges, ranges } from "../../src/address/index.ts";
import type { AskedPackets, Group } from "../../src/network/index.ts";
import type { Proof } from "../../src/prove/index.ts";
import { networkOf } from "../support/site.ts";
import { provedAt } from "./proved.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  desk: { is: host, ports: { nic: 1G } }
  mate: { is: host, ports: { nic: 1G } }
  sw: { is: switch, ports: { p1..3: 1G } }
  edge: { is: router, ports: { left: 1G, right: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[desk:nic, sw:p1], [mate:nic, sw:p2], [edge:left, sw:p3], [edge:right, shelf:nic]]
`;

const intent = (rules: string): string => `dryrack: intent/1
devices:
  sw: { switching: { ports: { p1: { untagged: 1, isolated: yes }, p2: { untagged: 1, isolated: yes } } } }
  desk: { legs: { nic: { ipv6: "fd31:1::9/64", gateway: "fd31:1::1" } } }
  mate: { legs: { nic: { ipv6: "fd31:1::8/64", gateway: "fd31:1::1" } } }
  edge:
    interfaces: { left: { port: left, ipv6: "fd31:1::1/64" }, right: { port: right, ipv6: "fd31:2::1/64" } }
    filter: { through: { otherwise: drop, rules: [${rules}] } }
  shelf: { legs: { nic: { ipv6: "fd31:2::9/64", gateway: "fd31:2::1" } } }
`;

const LINK_LOCAL: Ranges = keysOf("fe80::/10");

function keysOf(text: string): Ranges {
  const prefix = parsePrefix(text)?.prefix;
  if (prefix === undefined) throw new Error(`${text} is no prefix`);
  return ranges(prefixKeys(prefix));
}

/** What gets from the desk's port to a host, from or to addresses of a link. */
function proved(to: string, rules: string, end: "source" | "destination"): Proof["reached"] {
  const packets = ({ origin }: Group): AskedPackets => [[{ field: end, within: LINK_LOCAL, origin }]];
  return provedAt(networkOf(TOPOLOGY, intent(rules)), { to, entrance: "sw:p1", packets }).reached;
}

const SAME_LINK = "{ name: back, in: left, action: accept }";

describe("addresses of a link at a router", () => {
  it("are handed back to their link where the rules let them, past ports that keep stations apart", () => {
    const [found] = proved("mate", SAME_LINK, "destination");
    expect(found?.fate).toMatchObject({ at: "mate/stack", end: "delivered" });
    expect(proved("mate", "", "destination")).toEqual([]);
  });

  it("are led to no other link, whatever the rules say", () => {
    expect(proved("mate", SAME_LINK, "source")).not.toEqual([]);
    expect(proved("shelf", SAME_LINK, "source")).toEqual([]);
    expect(proved("shelf", SAME_LINK, "destination")).toEqual([]);
  });
});
