/**
 * A client that comes back and hears no answer may use what is left of its lease (RFC 2131 section 3.2 step 3): it asks four times in a
 * minute (section 4.1), and a port of a tree forwards after twice its forward delay of 15 s (IEEE 802.1D-2004 table 17-1).
 */
import { describe, expect, it } from "vitest";
import { demandsIn, replayed, requestOf, told } from "./stories.ts";

const RESTART = "  - { at: 10m, restart: sw, takes: 2m }";
const LEASE = "{ name: the lease, lease: { client: pc, address: 10.9.10.100-149, server: gw } }";
const ROGUE =
  "  - { at: 30s, unplug: sw:p3 }\n  - { at: 1m, plug: [rogue:lan, sw:p3] }\n  - { at: 5m, restart: pc, takes: 1m }";

const saysOf = (story: string) =>
  told(story).moments.flatMap(({ atMs, changes }) =>
    changes.filter(({ device, what }) => device === "pc" && what === "lease").map(({ text }) => [atMs / 60_000, text]),
  );

describe("a lease that its client goes on with", () => {
  it("is told as remembered, a minute after the client began to ask", () => {
    expect(saysOf(`${RESTART}\n  - { at: 15m, wait: 1m }`)).toEqual([
      [13, expect.stringMatching(/^keeps its remembered lease of 10\.9\.10\.1\d\d for /)],
    ]);
  });

  it("still comes of its server, in one history", () => {
    const replayed = told(`${RESTART}\n  - { at: 20m, assert: ${LEASE} }`);
    expect(demandsIn(replayed)).toEqual(["assert the lease: passed"]);
    expect(replayed.assumptions.filter((text) => /takes the address|outcome/.test(text))).toEqual([]);
  });

  it("was a choice of two servers before, and is one of these two still", () => {
    const replayed = told(`${ROGUE}\n${RESTART}\n  - { at: 20m, assert: ${LEASE} }`);
    expect(demandsIn(replayed)).toEqual(["assert the lease: failed"]);
    expect(replayed.assumptions).toEqual(
      expect.arrayContaining([
        "pc/nic takes the address of gw/dhcp/house, not of rogue/dhcp/lan",
        "that is so in the account; what is demanded was judged in all 2 outcomes",
      ]),
    );
  });

  it("is none of a session's that was spoken on the port meanwhile", () => {
    const topology = `dryrack: topology/1
devices:
  far: { is: router, ports: { drop: 1G } }
  hub: { is: unmanaged-switch, ports: { h1..2: 1G } }
  edge: { is: router, ports: { wan: 1G } }
cables: [[far:drop, hub:h1], [hub:h2, edge:wan]]
`;
    const intent = `dryrack: intent/1
devices:
  far: { interfaces: { drop: { port: drop, ipv4: 10.3.0.1/24 } }, dhcp: { drop: { hosts: 10-20, lease: 12h } } }
  edge: { interfaces: { wan: { port: wan, ipv4: lease } } }
`;
    const assertions = `dryrack: assertions/1
assertions: [{ name: out, from: edge, to: far, service: icmp/echo-request, expect: connects }]
`;
    const story = `  - { at: 30s, assert: [out] }
  - { at: 1m, change: [{ set: edge.interfaces.wan.pppoe, to: yes }] }
  - { at: 2m, server-off: { dhcp: far/drop } }
  - { at: 5m, change: [{ remove: edge.interfaces.wan.pppoe }] }
  - { at: 30m, assert: [out] }`;
    expect(demandsIn(replayed(requestOf({ topology, intent, assertions }, story)))).toEqual([
      "assert out: passed",
      "assert out: failed",
    ]);
  });
});
