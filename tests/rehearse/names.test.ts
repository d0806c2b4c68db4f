/** Names over a story: a resolver that stops, an uplink that is pulled, a lease that names another resolver. */
import { describe, expect, it } from "vitest";
import { demandsIn, replayed, requestOf, turnsIn } from "./stories.ts";

const PUMP = {
  topology: `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  well: { is: router, ports: { wan: 1G, l1..2: 1G } }
  valve: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, well:wan], [well:l1, valve:nic]]
`,
  intent: `dryrack: intent/1
networks: { yard: { ipv4: 10.67.10.0/24 } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110, lease: 12h } } }
  well:
    interfaces: { wan: { port: wan, ipv4: lease }, yard: { network: yard, port: l1, host: 1 } }
    dhcp: { yard: { hosts: 100-110, lease: 12h } }
    resolver: { listen: [yard], forward: [198.51.100.53] }
    translate: { source: [{ name: hide, family: ipv4, out: wan, to: external-address }] }
  valve: { legs: { nic: lease } }
`,
  assertions: `dryrack: assertions/1
assertions:
  - { name: names work, from: valve, expect: resolves }
`,
};

describe("names over a story", () => {
  it("break when the resolver stops, and work when it is back", () => {
    const story = `  - { at: 1m, server-off: { resolver: well } }
  - { at: 2m, assert: names work }
  - { at: 3m, server-on: { resolver: well } }
  - { at: 4m, assert: names work }`;
    const told = replayed(requestOf(PUMP, story));
    expect(turnsIn(told).filter((line) => line.includes("names"))).toEqual([
      "1m names work: failed",
      "3m names work: passed",
    ]);
    expect(demandsIn(told)).toEqual(["assert names work: failed", "assert names work: passed"]);
    expect(told.demands[0]?.text).toBe(
      "valve asks 10.67.10.1 (well): nothing on well listens for it (icmp/port-unreachable from well)",
    );
    expect(told.demands[0]?.cause?.steps.map(({ kind }) => kind)).toEqual(["server-off"]);
  });

  it("break when the uplink is pulled, though the resolver answers", () => {
    const told = replayed(requestOf(PUMP, "  - { at: 1m, unplug: well:wan }\n  - { at: 2m, assert: names work }"));
    expect(demandsIn(told)).toEqual(["assert names work: failed"]);
    expect(told.demands[0]?.text).toMatch(/^valve asks 10\.67\.10\.1 \(well\), well asks 198\.51\.100\.53: /);
  });

  it("go on with the resolver of the lease that a client holds, until it asks again", () => {
    const story = `  - { at: 1m, change: [{ set: well.dhcp.yard.resolvers, to: [10.67.10.99] }] }
  - { at: 2m, assert: names work }
  - { at: 3m, unplug: valve:nic }
  - { at: 4m, plug: [valve:nic, well:l1] }
  - { at: 6m, assert: names work }`;
    const told = replayed(requestOf(PUMP, story));
    expect(demandsIn(told)).toEqual(["assert names work: passed", "assert names work: failed"]);
    expect(told.demands[1]?.text).toMatch(/^valve asks 10\.67\.10\.99: nobody answers for 10\.67\.10\.99/);
  });
});
