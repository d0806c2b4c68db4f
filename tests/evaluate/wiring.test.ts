/** Which places lie on the ways between some ends, and which in twigs that have no part in what passes there. */
import { describe, expect, it } from "vitest";
import { Wiring } from "../../src/evaluate/index.ts";
import { networkOf } from "../support/site.ts";

const TOPOLOGY = `devices:
  r: { is: router, ports: { a: 1G } }
  s: { is: switch, ports: { p1..5: 1G } }
  t: { is: switch, ports: { p1..5: 1G } }
  one: { is: host, ports: { nic: 1G } }
  two: { is: host, ports: { nic: 1G } }
  far: { is: host, ports: { nic: 1G } }
cables:
  - [r:a, s:p1]
  - [s:p2, one:nic]
  - [s:p3, t:p1]
  - [t:p2, two:nic]
  - [t:p3, far:nic]
`;
const INTENT = `networks: { near: { vlan: 10, ipv4: 10.0.1.0/24 } }
devices:
  r: { interfaces: { a: { port: a, network: near, host: 1 } } }
  one: { legs: { nic: { network: near, host: 11, gateway: none } } }
  two: { legs: { nic: { network: near, host: 12, gateway: none } } }
  far: { legs: { nic: { network: near, host: 13, gateway: none } } }
`;
const HERE: ReadonlySet<string> = new Set(["one/nic", "r/a"]);
const ACROSS: ReadonlySet<string> = new Set(["one/nic", "two/nic"]);

const wiringOf = (...more: readonly string[]): Wiring =>
  new Wiring([networkOf([TOPOLOGY, ...more.map((line) => `  - ${line}\n`)].join(""), INTENT)]);

describe("a place counts", () => {
  const wiring = wiringOf();

  it.each(["one:nic", "s:p2", "s/switching/p2", "s/switching", "s:p1", "r:a", "r/a"])("on the way: %s", (id) => {
    expect(wiring.touches([id], HERE)).toBe(true);
  });

  // What lies towards the middle of a part without rings, here the cable between the switches, counts though it need not.
  it.each(["t/switching", "t/switching/p2", "t:p2", "two:nic", "two/nic", "s:p5", "s/switching/p5"])(
    "not in a twig: %s",
    (id) => {
      expect(wiring.touches([id], HERE)).toBe(false);
    },
  );

  it("where an end lies behind it", () => {
    for (const id of ["t:p1", "t/switching", "t:p2", "two:nic"]) expect(wiring.touches([id], ACROSS)).toBe(true);
    for (const id of ["t:p3", "far:nic", "far/nic"]) expect(wiring.touches([id], ACROSS)).toBe(false);
  });
});

describe("more than the way counts", () => {
  it("in a ring, by which frames can come back, and what leads there", () => {
    const ringed = wiringOf("[s:p4, t:p4]");
    for (const id of ["t:p1", "t/switching", "s:p4", "t:p4"]) expect(ringed.touches([id], HERE)).toBe(true);
    for (const id of ["t:p2", "two:nic", "far/nic"]) expect(ringed.touches([id], HERE)).toBe(false);
  });

  it("of a cable that makes a hub of a port on the way", () => {
    const network = networkOf(TOPOLOGY, INTENT);
    const links = network.links.map((link) => {
      return link.ends.includes("far:nic") ? ({ ...link, ends: ["s:p2", "far:nic"] } as const) : link;
    });
    const hub = { ...network, links };
    const cable = links.find(({ ends }) => ends.includes("far:nic"))?.id ?? "";
    expect(new Wiring([network]).touches([cable], HERE)).toBe(false);
    expect(new Wiring([hub]).touches([cable], HERE)).toBe(true);
    expect(new Wiring([hub]).touches(["far/nic"], HERE)).toBe(false);
  });

  it("of an interface with the hardware address of an end", () => {
    const twins = INTENT.replaceAll(/(one|far): \{ legs: \{ nic: \{/g, '$& mac: "02:00:00:00:00:77",');
    const wiring = new Wiring([networkOf(TOPOLOGY, twins)]);
    expect(wiring.touches(["t/switching"], HERE)).toBe(true);
    expect(wiring.touches(["two:nic"], HERE)).toBe(false);
  });
});
