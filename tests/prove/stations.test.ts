/**
 * Which station an example is sent from: no frame that a bridge knows to belong where it came in gets anywhere, and one to
 * everyone is taken but not sent on (each seen on Linux 6.18; `tests/kernel/witnesses` tries the first site there).
 */
import { expect, it } from "vitest";
import { type ProvedAbout, provedAt } from "../evaluate/proved.ts";
import { networkOf } from "../support/site.ts";
import { letsIn } from "./own-address.ts";

const OTHER = 0x02005e000002n;
const OWN = 0x02005e000001n;
const EVERYONE = 0xffffffffffffn;

/** Hardware addresses that the example of what is delivered comes from and goes to. */
function frameTo(texts: readonly [string, string], about: Partial<ProvedAbout> = {}): readonly (bigint | undefined)[] {
  const { reached } = provedAt(networkOf(...texts), { to: "box", entrance: "sw:p1", ...about });
  const [found] = reached.filter(({ fate }) => fate.end === "delivered");
  const numbers = new Map(found?.witness.numbers);
  return found === undefined ? [] : [numbers.get("sourceHardware"), numbers.get("destinationHardware")];
}

it("is another one than the station that the frame goes to, where there is one", () => {
  expect(frameTo(letsIn('"02:00:5e:00:00:01", "02:00:5e:00:00:02"'))).toEqual([OTHER, OWN]);
});

it("is the station itself in a frame to everyone, where the list knows no other one", () => {
  expect(frameTo(letsIn('"02:00:5e:00:00:01"'))).toEqual([OWN, EVERYONE]);
});

it("is the station itself in a frame to it, where no switch lies between", () => {
  const cabled = `dryrack: topology/1
devices:
  asks: { is: host, ports: { nic: 1G } }
  box:  { is: host, ports: { nic: 1G } }
cables: [[asks:nic, box:nic]]
`;
  const [, intent] = letsIn('"02:00:5e:00:00:01"');
  expect(frameTo([cabled, intent], { entrance: "box:nic" })).toEqual([OWN, OWN]);
});

it("is the station itself in a frame to it, where the first switch is the station's own", () => {
  const own = `dryrack: intent/1
networks: { lan: { vlan: 5, ipv4: 10.0.9.0/24 } }
devices:
  sw:
    mac: "02:00:5e:00:00:01"
    switching: { ports: { p1..2: { untagged: lan } }, own: { tagged: [lan] } }
    interfaces: { lan: { network: lan, host: 8 } }
    filter: { to: { otherwise: drop, rules: [ { name: known, source-mac: ["02:00:5e:00:00:01"], action: accept } ] } }
`;
  const [topology] = letsIn("");
  expect(frameTo([topology, own], { to: "sw" })).toEqual([OWN, OWN]);
});

it("gets nothing sent on by a router that lets nothing on but what bears its own address", () => {
  const topology = `dryrack: topology/1
devices:
  asks: { is: host, ports: { nic: 1G } }
  sw:   { is: switch, ports: { p1..2: 1G } }
  edge: { is: router, ports: { in: 1G, out: 1G } }
  box:  { is: host, ports: { nic: 1G } }
cables: [[asks:nic, sw:p1], [sw:p2, edge:in], [edge:out, box:nic]]
`;
  const site = (stations: string) => `dryrack: intent/1
devices:
  asks: { legs: { nic: { ipv4: 10.0.9.9/24, gateway: 10.0.9.1 } } }
  edge:
    interfaces: { in: { port: in, mac: "02:00:5e:00:00:01", ipv4: 10.0.9.1/24 }, out: { port: out, ipv4: 10.0.8.1/24 } }
    filter: { through: { otherwise: drop, rules: [ { name: known, source-mac: [${stations}], action: accept } ] } }
  box: { legs: { nic: { ipv4: 10.0.8.8/24 } } }
`;
  expect(frameTo([topology, site('"02:00:5e:00:00:01", "02:00:5e:00:00:02"')])).toEqual([OTHER, OWN]);
  expect(frameTo([topology, site('"02:00:5e:00:00:01"')])).toEqual([]);
});

it("is the station itself in a frame to everyone where that only begins a connection, of which a router then lets packets on", () => {
  const topology = `dryrack: topology/1
devices:
  sw:   { is: switch, ports: { p1..2: 1G } }
  edge: { is: router, ports: { in: 1G, out: 1G } }
  box:  { is: host, ports: { nic: 1G } }
cables: [[sw:p2, edge:in], [edge:out, box:nic]]
`;
  const site = (stations: string) => `dryrack: intent/1
devices:
  edge:
    interfaces: { in: { port: in, mac: "02:00:5e:00:00:01", ipv6: "2001:db8:9::1/64" }, out: { port: out, ipv6: "2001:db8:8::1/64" } }
    filter:
      to: { otherwise: drop, rules: [ { name: known, source-mac: [${stations}], action: accept } ] }
      through: { otherwise: drop, rules: [ { name: answers, state: [established, related], action: accept } ] }
  box: { legs: { nic: { ipv6: "2001:db8:8::8/64" } } }
`;
  // In IPv6 nobody minds a packet that comes from outside with an own address as its source.
  const framesBefore = (stations: string) =>
    provedAt(networkOf(topology, site(stations)), { to: "box", entrance: "sw:p1" }).reached.flatMap(({ before }) =>
      before.map(({ witness }) => new Map(witness.numbers).get("destinationHardware")),
    );
  expect(framesBefore('"02:00:5e:00:00:02"')).toEqual([OWN]);
  expect(framesBefore('"02:00:5e:00:00:01"')).toEqual([EVERYONE]);
});

it("finds no neighbour that has its own address: the switch keeps the answer", () => {
  const endsFor = (mac: string): readonly string[] => {
    const network = networkOf(...letsIn(`"${mac}"`, mac));
    const asks = network.stacks.find(({ id }) => id === "asks/stack");
    const senders = [{ stack: "asks/stack", interfaces: asks?.interfaces.map(({ id }) => id) ?? [] }];
    return provedAt(network, { to: "box", senders }).reached.map(({ fate }) => fate.end);
  };
  expect(endsFor("02:00:5e:00:00:09")).toEqual(["delivered"]);
  expect(endsFor("02:00:5e:00:00:01")).not.toContain("delivered");
});
