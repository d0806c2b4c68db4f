/** A list that lacks a network is told with the network's name, and the device's own list where that would stand. */
import { expect, it } from "vitest";
import { judge, siteFrom } from "./verdicts.ts";

function site(switching: string) {
  return siteFrom(
    `dryrack: topology/1
devices:
  r: { is: router, ports: { p1..4: 1G } }
  a: { is: host, ports: { nic: 1G } }
cables: [[r:p1, a:nic]]`,
    `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 }, blue: { vlan: 20, ipv4: 10.2.0.0/24 } }
devices:
  r:
    switching: { unlisted: "off", ${switching} }
    interfaces: { red: { network: red, host: 1 }, blue: { network: blue, host: 1 } }
  a: { legs: { nic: { network: red, host: 10, gateway: 10.1.0.1 } } }`,
  );
}

it.each([
  ["p1: { untagged: red }", ", own: { tagged: [blue] }", "`red` in this list of tagged networks"],
  ["p1: { untagged: red }", "", "`red` in the device's `own` membership"],
])("ports: %s%s", (ports, own, wanted) => {
  const there = site(`ports: { ${ports} }${own}`);
  const ends = ["from: a, to: r/red, expect: connects", "from: r/red, to: a, expect: connects"];
  expect(judge(there, ...ends).map(({ decided }) => decided[0])).toEqual([wanted, wanted]);
});

it("a segment's port", () => {
  const there = site("ports: { p1: { tagged: [blue] } }, own: { tagged: [red, blue] }");
  const [verdict] = judge(there, "segment: { network: red, ports: [r:p1] }");
  expect(verdict?.decided).toEqual(["`red` in this list of tagged networks"]);
});
