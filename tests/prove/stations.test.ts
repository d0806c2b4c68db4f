/**
 * Which station an example is sent from: no frame that a bridge knows to belong where it came in gets anywhere (seen on Linux 6.18, by
 * an example that bore the hardware address of the very host it was for).
 */
import { expect, it } from "vitest";
import { provedAt } from "../evaluate/proved.ts";
import { networkOf } from "../support/site.ts";

const TOPOLOGY = `dryrack: topology/1
devices:
  asks: { is: host, ports: { nic: 1G } }
  sw:   { is: switch, ports: { p1..2: 1G } }
  box:  { is: host, ports: { nic: 1G } }
cables: [[asks:nic, sw:p1], [sw:p2, box:nic]]
`;
const OTHER = 0x02005e000002n;

const site = (stations: string) => `dryrack: intent/1
devices:
  asks: { legs: { nic: { ipv4: 10.0.9.9/24 } } }
  box:
    legs: { nic: { ipv4: 10.0.9.8/24, mac: "02:00:5e:00:00:01" } }
    filter: { to: { otherwise: drop, rules: [ { name: known, source-mac: [${stations}], action: accept } ] } }
`;

function stationTo(stations: string): bigint | undefined {
  const { reached } = provedAt(networkOf(TOPOLOGY, site(stations)), { to: "box", entrance: "sw:p1" });
  const [found] = reached.filter(({ fate }) => fate.end === "delivered");
  return found && new Map(found.witness.numbers).get("sourceHardware");
}

it("is another one than the station that the frame goes to", () => {
  expect(stationTo('"02:00:5e:00:00:01", "02:00:5e:00:00:02"')).toBe(OTHER);
});
