/** What somebody may ask of the prover: how frames are tagged and addressed is part of its answers. */
import { expect, it } from "vitest";
import { type AskedField, type AskedPackets, askedOf } from "../../src/network/index.ts";
import { provedAt } from "../evaluate/proved.ts";
import { networkOf } from "../support/site.ts";

const origin = { by: "default", rule: "asked", source: "the test", span: { file: 0, start: 0, end: 0 } } as const;

it("asks for packets and stations, and for no tag of theirs", () => {
  const station = { field: "sourceHardware", within: [[1n, 1n]], origin } as const;
  const source = { field: "source", within: [[1n, 1n]], origin } as const;
  const packets: AskedPackets = [[source, station]];
  // @ts-expect-error: the compiler lets nobody ask for a tag, of which an answer would know nothing.
  const tagged: AskedPackets = [[source, { field: "vlan", within: [[4106n, 4106n]], origin }]];
  expect([...packets, ...tagged].map(askedOf)).toEqual([[source, station], [source]]);
});

const TOPOLOGY = `dryrack: topology/1
devices:
  sw:   { is: switch, ports: { p1..2: 1G } }
  edge: { is: router, ports: { in: 1G, out: 1G } }
  box:  { is: host, ports: { nic: 1G } }
cables: [[sw:p2, edge:in], [edge:out, box:nic]]
`;
const INTENT = `dryrack: intent/1
devices:
  edge:
    interfaces: { in: { port: in, mac: "02:00:5e:00:00:01", ipv4: 10.0.9.1/24 }, out: { port: out, ipv4: 10.0.8.1/24 } }
  box: { legs: { nic: { ipv4: 10.0.8.8/24 } } }
`;

it.each<[AskedField, own: bigint, other: bigint]>([
  ["sourceHardware", 0x02005e000001n, 0x02005e000002n],
  ["hopLimit", 1n, 2n],
])("asks for a %s of a site where nothing looks at it", (field, own, other) => {
  const gets = (value: bigint): boolean =>
    provedAt(networkOf(TOPOLOGY, INTENT), {
      to: "box",
      entrance: "sw:p1",
      packets: () => [[{ field, within: [[value, value]], origin }]],
    }).reached.length > 0;
  // A switch keeps frames that come from where they go to, and a router sends nothing on whose time is over.
  expect([gets(own), gets(other)]).toEqual([false, true]);
});
