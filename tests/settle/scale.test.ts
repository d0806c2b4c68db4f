import { expect, test } from "vitest";
import { domainMapOf, settle } from "../../src/settle/index.ts";
import { type Plan, plan } from "./plan.ts";

const VLANS = Array.from({ length: 20 }, (_, index) => 10 + index);

/** A core, switches in pairs of cables below it, hosts below them: 1,000 devices and 40 rings. */
function campus(): Plan {
  const net = plan();
  const ups = Array.from({ length: 80 }, (_, index) => `u${index}`);
  const trunk = { tagged: VLANS };
  net.device("core", ups).bridge("core", { ports: Object.fromEntries(ups.map((up) => [up, trunk])), tree: 4096 });
  for (let index = 0; index < 40; index++) {
    const id = `s${index}`;
    const seats = Array.from({ length: 24 }, (_, seat) => `p${seat}`);
    const ports = {
      x0: trunk,
      x1: trunk,
      ...Object.fromEntries(seats.map((p, seat) => [p, { untagged: 10 + (seat % 20) }])),
    };
    net.device(id, Object.keys(ports)).bridge(id, { ports, tree: 32768 });
    net.cable(`core:u${2 * index}`, `${id}:x0`).cable(`core:u${2 * index + 1}`, `${id}:x1`);
    for (const seat of seats) {
      const host = `h${index}-${seat}`;
      net.host(host, `10.${index}.${seat.slice(1)}.1/24`).cable(`${id}:${seat}`, `${host}:nic`);
    }
  }
  return net;
}

test("a thousand devices with forty rings settle to one blocked port a ring and no storm", () => {
  const network = campus().build();
  expect(network.devices.length).toBe(1001);
  const settled = settle(network);
  expect(settled.blocked).toHaveLength(40);
  expect(settled.storms).toEqual([]);
  expect([...domainMapOf(network, settled).from.values()].flat().length).toBeGreaterThan(2000);
});
