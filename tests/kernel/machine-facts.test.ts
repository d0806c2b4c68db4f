/**
 * Kernel facts 36, 38 to 40, 43 to 45, 47 and 48 under emulation, each a small site: what bridges learn, whose hardware address an
 * interface has, which member of a bond a flow takes and what is left when a cable was pulled, and a storm.
 */
import { expect } from "vitest";
import { formatHardware } from "../../src/address/index.ts";
import { buildKernelSite, planKernel } from "../../src/kernel/index.ts";
import type { DevicePlan } from "../../src/kernel/plan.ts";
import { idOf } from "../../src/network/index.ts";
import { settle } from "../../src/settle/index.ts";
import { needs } from "../support/needs.ts";
import { networkOf, siteOf } from "../support/site.ts";
import { type Judged, judgedFully } from "./judge.ts";
import { machineRack } from "./machine-rack.ts";
import { STATIC_PAIR } from "./machine-sites.ts";

const { describe, it } = needs("qemu-system-x86_64");
const rack = machineRack();

/** Hosts on a switch, one port each; `legs` of each, `core` its switching. */
function hosts(core: string, ...legs: readonly string[]): Promise<Judged> {
  const boxes = legs.map((leg, index) => [`box${index + 1}`, `p${index + 1}`, leg] as const);
  return judgedFully(
    rack(),
    `
devices:
  core: { is: switch, ports: { p1..${legs.length}: 1G } }
${boxes.map(([box]) => `  ${box}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables: [${boxes.map(([box, port]) => `[${box}:nic, core:${port}]`).join(", ")}]`,
    `
networks: { crew: { vlan: 30 }, yard: { vlan: 40 } }
devices:
  core: { ${core} }
${boxes.map(([box, , leg]) => `  ${box}: { legs: { nic: { ${leg} } } }`).join("\n")}`,
  );
}

/** A host with two bonded ports, each with a cable to a host of its own. */
function fork(bond: string, ...legs: readonly [string, string]): Promise<Judged> {
  const [one, other] = legs.map((leg) => `legs: { nic: { ${leg} } }`);
  return forked(bond, one ?? "", other ?? "");
}

/** Likewise, with all that each of the two hosts is told. */
function forked(bond: string, ...told: readonly [string, string]): Promise<Judged> {
  return judgedFully(
    rack(),
    `
devices:
  near: { is: host, ports: { a: 1G, b: 1G } }
  box1: { is: host, ports: { nic: 1G } }
  box2: { is: host, ports: { nic: 1G } }
cables: [[near:a, box1:nic], [near:b, box2:nic]]`,
    `
devices:
  near: { bonds: { pair: { members: [a, b], ${bond} } }, legs: { both: { port: pair, ipv4: 10.31.1.9/24 } } }
  box1: { ${told[0]} }
  box2: { ${told[1]} }`,
  );
}

/** The first word of an answer. */
function word(answer: string): string {
  return answer.split(/[; ]/)[0] ?? "";
}

const SAME = 'mac: "02:00:00:00:00:07"';

describe("an interface with a tag on a port that is switched", () => {
  it("takes its VLAN before the bridge (fact 36)", async () => {
    const site = await judgedFully(
      rack(),
      `
devices:
  core: { is: switch, ports: { p1..3: 1G } }
${[1, 2, 3].map((one) => `  box${one}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables: [${[1, 2, 3].map((one) => `[box${one}:nic, core:p${one}]`).join(", ")}]`,
      `
networks: { crew: { vlan: 30 } }
devices:
  core:
    switching: { tags: ignored, spanning-tree: off, ports: { p1..3: { untagged: crew } } }
    interfaces: { side: { port: p1, tag: 40, ipv4: 10.31.4.9/24 } }
${[1, 2].map((one) => `  box${one}: { legs: { tagged: { port: nic, tag: 40, ipv4: 10.31.4.${one}/24 } } }`).join("\n")}
  box3: { legs: { tagged: { port: nic, tag: 40, ipv4: 10.31.4.3/24 } } }`,
    );
    expect(word(await site.ask("box1", "ping", "10.31.4.9"))).toBe("answered");
    expect(word(await site.ask("box1", "ping", "10.31.4.2"))).toBe("refused");
    expect(word(await site.ask("box2", "ping", "10.31.4.3"))).toBe("answered");
    expect(word(await site.ask("box2", "ping", "10.31.4.9"))).toBe("refused");
  });
});

describe("a bridge learns", () => {
  it("for each VLAN apart (fact 38)", async () => {
    const site = await hosts(
      "switching: { spanning-tree: off, ports: { p1..2: { untagged: crew }, p3..4: { untagged: yard } } }",
      `ipv4: 10.31.1.1/24, ${SAME}`,
      "ipv4: 10.31.1.2/24",
      `ipv4: 10.31.1.3/24, ${SAME}`,
      "ipv4: 10.31.1.4/24",
    );
    const asked = [
      ["box2", 1],
      ["box4", 3],
      ["box2", 1],
      ["box4", 3],
    ] as const;
    for (const [from, to] of asked) expect(word(await site.ask(from, "ping", `10.31.1.${to}`))).toBe("answered");
  });

  it("at once where a station speaks that was elsewhere before (fact 38)", async () => {
    const site = await hosts(
      "switching: { spanning-tree: off, ports: { p1..3: { untagged: crew } } }",
      `ipv4: 10.31.1.1/24, ${SAME}`,
      "ipv4: 10.31.1.2/24",
      `ipv4: 10.31.1.3/24, ${SAME}`,
    );
    expect(word(await site.ask("box2", "ping", "10.31.1.1"))).toBe("answered");
    expect(word(await site.ask("box3", "ping", "10.31.1.2"))).toBe("answered");
    expect(await site.ask("box2", "ping", "10.31.1.1")).toBe("silent");
    expect(word(await site.ask("box1", "ping", "10.31.1.2"))).toBe("answered");
    expect(word(await site.ask("box2", "ping", "10.31.1.1"))).toBe("answered");
  });
});

/** A device whose bridges, bonds and interfaces with tags the kernel gives their hardware addresses itself. */
function unaddressed(device: DevicePlan): DevicePlan {
  const bare = (line: string): string => line.replace(/ address \S+(?= type (?:bridge|bond|vlan))/, "");
  return { ...device, bridges: device.bridges.map(bare), links: device.links.map(bare) };
}

describe("hardware addresses (fact 39)", () => {
  it("of bridges, bonds and interfaces with tags are those of the description", async () => {
    const texts = [
      `
devices:
  core: { is: switch, ports: { p1..3: 1G } }
  near: { is: host, ports: { a: 1G, b: 1G } }
  edge: { is: router, ports: { left: 1G } }
cables: [[near:a, core:p1], [near:b, core:p2], [edge:left, core:p3]]`,
      `
networks: { crew: { vlan: 30 } }
devices:
  core:
    bonds: { up: { members: [p1, p2], mode: static } }
    switching: { spanning-tree: off, ports: { up: { untagged: crew }, p3: { tagged: [crew] } }, own: { tagged: [crew] } }
    interfaces: { manage: { network: crew, ipv4: 10.31.1.1/24 } }
  near: { bonds: { pair: { members: [b, a], mode: static } }, legs: { both: { port: pair, ipv4: 10.31.1.2/24 } } }
  edge: { interfaces: { tagged: { port: left, tag: 30, ipv4: 10.31.1.3/24 } } }`,
    ];
    const network = networkOf(...texts);
    const plan = planKernel(siteOf(...texts), "full");
    const devices = plan.devices.map(unaddressed);
    const made = devices.flatMap(({ bridges, links }) => [...bridges, ...links]);
    expect(made.filter((line) => / type (bridge|bond|vlan)/.test(line))).toHaveLength(5);
    expect(made.filter((line) => / address /.test(line))).toEqual([]);
    const site = await buildKernelSite(rack(), { ...plan, devices });
    for (const [device, leg] of [
      ["core", "manage"],
      ["near", "both"],
      ["edge", "tagged"],
    ] as const) {
      const name = plan.devices.find((each) => each.device === device)?.interfaceNames.get(leg) ?? "";
      // `ip -j link` tells each link with this field.
      type Links = readonly { readonly address: string }[];
      const seen = JSON.parse(await site.run(device, ["ip", "-j", "link", "show", "dev", name])) as Links;
      const legs = network.stacks.flatMap(({ interfaces }) => interfaces);
      const described = legs.find(({ id }) => id === idOf(device, leg))?.hardware ?? 0n;
      expect([device, seen[0]?.address]).toEqual([device, formatHardware(described)]);
    }
    await site.close();
  });
});

describe("a bond with a host behind each member", () => {
  it("sends each flow by the member that its hash picks (fact 45)", async () => {
    for (const hash of ["layer2", "layer2+3", "layer3+4"]) {
      const site = await fork(
        `mode: static, hash: ${hash}`,
        `ipv4: 10.31.1.2/24, ${SAME}`,
        `ipv4: 10.31.1.2/24, ${SAME}`,
      );
      const seen = new Set<string>();
      for (let port = 4001; port < 4009; port++) {
        const answer = await site.ask("near", `udp/${port}`, "10.31.1.2", { sourcePort: 3 * port });
        seen.add(answer.split("; ")[1]?.split(" ")[0] ?? "");
      }
      expect(seen.size).toBe(hash === "layer3+4" ? 2 : 1);
    }
  });

  it("reaches by LACP without a partner what is behind the first member alone (fact 40)", async () => {
    const site = await fork("mode: lacp", "ipv4: 10.31.1.1/24", "ipv4: 10.31.1.2/24");
    expect(word(await site.ask("near", "ping", "10.31.1.1"))).toBe("answered");
    expect(word(await site.ask("near", "ping", "10.31.1.2"))).toBe("refused");
  });

  it("carries by LACP for one of two partners alone (fact 40)", async () => {
    const single = (host: number) =>
      `bonds: { one: { members: [nic], mode: lacp } }, legs: { nic: { port: one, ipv4: 10.31.1.${host}/24 } }`;
    const site = await forked("mode: lacp", single(1), single(2));
    expect(word(await site.ask("near", "ping", "10.31.1.1"))).toBe("answered");
    expect(word(await site.ask("near", "ping", "10.31.1.2"))).toBe("refused");
    expect(word(await site.ask("box2", "ping", "10.31.1.9"))).toBe("refused");
  });

  it("does not go back to the first member when its cable is plugged in again (fact 43)", async () => {
    const site = await fork("mode: active-backup", "ipv4: 10.31.1.1/24", "ipv4: 10.31.1.2/24");
    const reached = async (): Promise<readonly string[]> => [
      word(await site.ask("near", "ping", "10.31.1.1")),
      word(await site.ask("near", "ping", "10.31.1.2")),
    ];
    expect(await reached()).toEqual(["answered", "refused"]);
    await site.plug("box1:nic", false);
    expect(await reached()).toEqual(["refused", "answered"]);
    await site.plug("box1:nic", true);
    expect(await reached()).toEqual(["refused", "answered"]);
  });
});

describe("a static bond at two plain ports of one switch (fact 44)", () => {
  it("carries what is for one station", async () => {
    const site = await judgedFully(rack(), ...STATIC_PAIR);
    for (const port of [4001, 4002, 4003, 4004]) {
      expect(word(await site.ask("near", `udp/${port}`, "10.31.1.2", { sourcePort: 3 * port }))).toBe("answered");
      expect(word(await site.ask("far", `udp/${port}`, "10.31.1.1", { sourcePort: 5 * port }))).toBe("answered");
    }
  });
});

/** Three switches in a ring, the first one the root, a host behind the second and the third. */
const RING = [
  `
devices:
${[1, 2, 3].map((one) => `  sw${one}: { is: switch, ports: { left: 1G, right: 1G, seat: 1G } }`).join("\n")}
  box2: { is: host, ports: { nic: 1G } }
  box3: { is: host, ports: { nic: 1G } }
cables: [[sw1:right, sw2:left], [sw2:right, sw3:left], [sw3:right, sw1:left], [sw2:seat, box2:nic], [sw3:seat, box3:nic]]`,
  `
devices:
${[1, 2, 3].map((one) => `  sw${one}: { switching: { spanning-tree: TREE${one} } }`).join("\n")}
  box2: { legs: { nic: { ipv4: 10.31.1.2/24 } } }
  box3: { legs: { nic: { ipv4: 10.31.1.3/24 } } }`,
] as const;

describe("a ring of switches", () => {
  it("goes round by the other way while a cable is pulled, and back when it is there again (facts 46 and 47)", async () => {
    const [topology, intent] = RING;
    const site = await judgedFully(
      rack(),
      topology,
      intent.replace("TREE1", "{ priority: 4096 }").replaceAll(/TREE\d/g, "{}"),
    );
    const whole = await site.blocked();
    expect(whole).toHaveLength(1);
    expect(word(await site.ask("box2", "ping", "10.31.1.3"))).toBe("answered");
    await site.plug("sw2:left", false);
    expect(await site.blocked()).toEqual([]);
    expect(word(await site.ask("box2", "ping", "10.31.1.3"))).toBe("answered");
    await site.plug("sw2:left", true);
    expect(await site.blocked()).toEqual(whole);
    expect(word(await site.ask("box3", "ping", "10.31.1.2"))).toBe("answered");
  });

  it("without a tree is one storm from the first broadcast on (fact 48)", async () => {
    const [topology, intent] = RING;
    const texts = [topology, intent.replaceAll(/TREE\d/g, "off")];
    expect(settle(networkOf(...texts)).storms.length).toBeGreaterThan(0);
    const plan = planKernel(siteOf(...texts), "full");
    expect(plan.unsupported).not.toEqual([]);
    const site = await buildKernelSite(rack(), { ...plan, unsupported: [] });
    await site.run("box2", ["python3", "-S", "-c", SHOUT]);
    expect(Number(await site.run("box3", ["python3", "-S", "-c", LISTEN]))).toBeGreaterThan(500);
    await site.close();
  });
});

/** One broadcast, of a kind that nobody answers. */
const SHOUT = `
import socket
line = socket.socket(socket.AF_PACKET, socket.SOCK_RAW)
line.bind(("nic", 0x88b5))
line.send(b"\\xff" * 6 + line.getsockname()[4] + b"\\x88\\xb5" + bytes(46))
`;

/** How many frames are heard in half a second. */
const LISTEN = `
import socket, time
line = socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(3))
line.bind(("nic", 3))
line.settimeout(0.5)
end, heard = time.monotonic() + 0.5, 0
try:
    while time.monotonic() < end and heard < 2000:
        line.recv(2048)
        heard += 1
except TimeoutError:
    pass
print(heard)
`;
