/** Tunnels that failed stay down, and a tunnel's port on a host that listens on everything answers no stranger. */
import { expect, it } from "vitest";
import { worldsOf } from "../../src/evaluate/worlds.ts";
import { siteFrom, statuses } from "../check/verdicts.ts";

const SITE = siteFrom(
  "devices:\n  a: { is: host, ports: { nic: 1G } }\n  b: { is: host, ports: { nic: 1G } }\ncables: [[a:nic, b:nic]]\n",
  `
devices:
  a:
    legs: { nic: { ipv4: 10.1.0.1/24 }, home: { port: link, ipv4: 10.9.0.1/24 } }
    tunnels: { link: { listen: 4701, peers: { b/link: { allowed: [10.9.0.2] } } } }
  b:
    legs: { nic: { ipv4: 10.1.0.2/24 }, home: { port: link, ipv4: 10.9.0.2/24 } }
    tunnels: { link: { peers: { a/link: { endpoint: 10.1.0.1, allowed: [10.9.0.1] } } } }
`,
);

it("is up by itself, and down where its link failed", () => {
  const link = SITE.network.links.find(({ outer }) => outer !== undefined);
  if (link === undefined) throw new Error("no tunnel");
  const down = (failed: readonly string[]) => worldsOf(SITE.network, { up: [], down: failed }).worlds[0]?.settled.down;
  expect(down([])).not.toContain(link.id);
  expect(down([link.id])).toContain(link.id);
});

it("answers no stranger at its port", () => {
  expect(statuses(SITE, "from: b, to: a/nic, service: udp/4701, expect: connects")).toEqual(["failed"]);
  expect(statuses(SITE, "from: b, to: a/nic, service: udp/4702, expect: connects")).toEqual(["passed"]);
});
