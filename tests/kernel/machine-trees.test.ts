/**
 * Kernel facts 46 to 48 under emulation: spanning trees on loops, through bridges that run none, with costs and priorities.
 * What a tree decides is read from the kernel's own ports and held against the description's.
 */
import { expect } from "vitest";
import { needs } from "../support/needs.ts";
import { type Judged, judgedFully } from "./judge.ts";
import { machineRack } from "./machine-rack.ts";

const { describe, it } = needs("qemu-system-x86_64");
const rack = machineRack();

/** Three switches in a ring, a host behind each: 10.31.1.1 to 10.31.1.3. `told`: the inside of each one's `switching`. */
function ring(...told: readonly string[]): Promise<Judged> {
  return judgedFully(
    rack(),
    `
devices:
${[1, 2, 3].map((one) => `  sw${one}: { is: switch, ports: { left: 1G, right: 1G, seat: 1G } }\n  box${one}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables:
  - [sw1:right, sw2:left]
  - [sw2:right, sw3:left]
  - [sw3:right, sw1:left]
${[1, 2, 3].map((one) => `  - [sw${one}:seat, box${one}:nic]`).join("\n")}`,
    `
networks: { crew: { vlan: 30 } }
devices:
${[1, 2, 3]
  .map(
    (one) =>
      `  sw${one}: { switching: { ${told[one - 1] ?? ""} } }\n  box${one}: { legs: { nic: { ipv4: 10.31.1.${one}/24 } } }`,
  )
  .join("\n")}`,
  );
}

async function everybody(site: Judged): Promise<void> {
  for (const [from, to] of [
    [1, 2],
    [2, 3],
    [3, 1],
  ] as const) {
    expect(await site.ask(`box${from}`, "ping", `10.31.1.${to}`)).toMatch(/^answered/);
  }
}

describe("a ring of switches (fact 46)", () => {
  it("reaches everybody, with the same port blocked as in the model", async () => {
    const site = await ring();
    await everybody(site);
    expect(await site.blocked()).toHaveLength(1);
  });

  it("has the root and the way that priorities and costs say", async () => {
    const site = await ring(
      "spanning-tree: { priority: 8192 }",
      "spanning-tree: { priority: 4096, costs: { left: 60000 } }",
      "",
    );
    await everybody(site);
    expect(await site.blocked()).toHaveLength(1);
  });

  it("goes by the port's priority and then its number where two cables join two switches", async () => {
    const twin = (settings: string) =>
      judgedFully(
        rack(),
        `
devices:
  sw1: { is: switch, ports: { p1..2: 1G, seat: 1G } }
  sw2: { is: switch, ports: { p1..2: 1G, seat: 1G } }
  box1: { is: host, ports: { nic: 1G } }
  box2: { is: host, ports: { nic: 1G } }
cables: [[sw1:p1, sw2:p2], [sw1:p2, sw2:p1], [sw1:seat, box1:nic], [sw2:seat, box2:nic]]`,
        `
networks: { crew: { vlan: 30 } }
devices:
  sw1: { switching: { spanning-tree: { priority: 4096${settings} } } }
  box1: { legs: { nic: { ipv4: 10.31.1.1/24 } } }
  box2: { legs: { nic: { ipv4: 10.31.1.2/24 } } }`,
      );
    const plain = await twin("");
    expect(await plain.ask("box1", "ping", "10.31.1.2")).toMatch(/^answered/);
    expect(await plain.blocked()).toEqual(["sw2:p1"]);
    const turned = await twin(", port-priorities: { p2: 64 }");
    expect(await turned.ask("box1", "ping", "10.31.1.2")).toMatch(/^answered/);
    expect(await turned.blocked()).toEqual(["sw2:p2"]);
  });
});

describe("a bridge without a tree in the ring (fact 37)", () => {
  it("hands spanning-tree frames on, so that the others find the loop", async () => {
    const site = await ring("", "spanning-tree: off", "");
    await everybody(site);
    expect(await site.blocked()).toHaveLength(1);
  });
});

describe("a bond in the ring counts with the members that carry", () => {
  /** Three switches: two cables bonded between the first and the second, and a third switch, the root, to go round by. */
  const bonded = (one: string, other: string): Promise<Judged> =>
    judgedFully(
      rack(),
      `
devices:
  sw1: { is: switch, ports: { p1..2: 1G, side: 1G, seat: 1G } }
  sw2: { is: switch, ports: { p1..2: 1G, side: 1G, seat: 1G } }
  sw3: { is: switch, ports: { left: 1G, right: 1G } }
  box1: { is: host, ports: { nic: 1G } }
  box2: { is: host, ports: { nic: 1G } }
cables: [[sw1:p1, sw2:p1], [sw1:p2, sw2:p2], [sw1:side, sw3:left], [sw2:side, sw3:right], [sw1:seat, box1:nic], [sw2:seat, box2:nic]]`,
      `
networks: { crew: { vlan: 30 } }
devices:
  sw1: { bonds: { pair: { members: [p1, p2], ${one} } }, switching: { spanning-tree: { priority: 8192, costs: { side: 16000 } }, ports: { pair: { untagged: crew }, seat: { untagged: crew } } } }
  sw2: { bonds: { pair: { members: [p1, p2], ${other} } }, switching: { spanning-tree: { priority: 4096 }, ports: { pair: { untagged: crew }, seat: { untagged: crew } } } }
  sw3: { switching: { spanning-tree: { costs: { right: 2000 } } } }
  box1: { legs: { nic: { ipv4: 10.31.1.1/24 } } }
  box2: { legs: { nic: { ipv4: 10.31.1.2/24 } } }`,
    );

  // 16000 + 2000 the other way; the bond costs 10000 with two members, 20000 with one.
  it.each([
    ["mode: lacp", "mode: lacp", "sw1:side"],
    ["mode: static", "mode: static", "sw1:side"],
    ["mode: active-backup", "mode: active-backup", "sw1:pair"],
  ])("%s with %s", async (one, other, blocked) => {
    const site = await bonded(one, other);
    await site.ask("box1", "ping", "10.31.1.2");
    expect(await site.blocked()).toEqual([blocked]);
  });

  it("nothing is heard of a static bond that sends the tree's frames by a member on which LACP takes none", async () => {
    const site = await bonded("mode: lacp", "mode: static");
    await site.ask("box1", "ping", "10.31.1.2");
    expect(await site.blocked()).toEqual([]);
  });
});
