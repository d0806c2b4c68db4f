/**
 * Kernel facts 33 to 39 under emulation: bridges that obey tags, their own port, isolated ports, hardware addresses. Each
 * question is answered by a full kernel and by the model alike.
 */
import { expect } from "vitest";
import { needs } from "../support/needs.ts";
import { type Judged, judgedFully } from "./judge.ts";
import { machineRack } from "./machine-rack.ts";

const { describe, it } = needs("qemu-system-x86_64");
const rack = machineRack();

/** Hosts on a switch, one port each: 10.31.1.1 and up; `legs` replaces the plain leg of a host. */
function hosts(count: number, switching: string, legs: Readonly<Record<number, string>> = {}): Promise<Judged> {
  const numbers = Array.from({ length: count }, (_, index) => index + 1);
  return judgedFully(
    rack(),
    `
devices:
  core: { is: switch, ports: { p1..${count}: 1G } }
${numbers.map((host) => `  box${host}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables: [${numbers.map((host) => `[box${host}:nic, core:p${host}]`).join(", ")}]`,
    `
networks: { crew: { vlan: 30 }, yard: { vlan: 40 }, loft: { vlan: 50 } }
devices:
  core: { ${switching} }
${numbers.map((host) => `  box${host}: { legs: { ${legs[host] ?? `nic: { ipv4: 10.31.1.${host}/24 }`} } }`).join("\n")}`,
  );
}

const TAGGED_2 = { 2: "tagged: { port: nic, tag: 30, ipv4: 10.31.1.2/24 }" };

/** The answer to a ping among neighbours that hear each other. */
function answered(from: number, to: number): string {
  return `answered; box${to} sees 10.31.1.${from} to 10.31.1.${to}`;
}

/** What a host is told when nobody answers its question for the neighbour. */
function nobody(from: number): string {
  return `refused 3/1 from 10.31.1.${from}`;
}

function off(ports: string): string {
  return `switching: { spanning-tree: off, ports: { ${ports} } }`;
}

describe("facts 33 and 34: a bridge that obeys tags", () => {
  it("carries a network untagged to one port and tagged to another, and keeps the others apart", async () => {
    const site = await hosts(
      3,
      off("p1: { untagged: crew }, p2: { tagged: [crew] }, p3: { untagged: yard }"),
      TAGGED_2,
    );
    expect(await site.ask("box1", "ping", "10.31.1.2")).toBe(answered(1, 2));
    expect(await site.ask("box2", "ping", "10.31.1.1")).toBe(answered(2, 1));
    expect(await site.ask("box1", "ping", "10.31.1.3")).toBe(nobody(1));
  });

  it("lets a port hear every VLAN that leaves it untagged, and speak into its port VLAN alone", async () => {
    const both = "{ port-vlan: crew, leaves-untagged: [crew, 1] }";
    const site = await hosts(3, off(`p1: ${both}, p2: { untagged: crew }, p3: { port-vlan: 1, leaves-untagged: [1] }`));
    expect(await site.ask("box1", "ping", "10.31.1.2")).toBe(answered(1, 2));
    expect(await site.ask("box1", "ping", "10.31.1.3")).toBe(nobody(1));
    expect(await site.ask("box3", "ping", "10.31.1.1")).toBe(nobody(3));
  });

  it("makes a port one-way where another VLAN is the port VLAN than the one that leaves untagged", async () => {
    const site = await hosts(
      3,
      off("p1: { port-vlan: 1, leaves-untagged: [1, crew] }, p2: { untagged: crew }, p3: { untagged: 1 }"),
    );
    expect(await site.ask("box1", "ping", "10.31.1.2")).toBe(nobody(1));
    expect(await site.ask("box2", "ping", "10.31.1.1")).toBe(nobody(2));
    // Its question was heard, so the neighbour is known by now; the answers still go astray.
    expect(await site.ask("box1", "ping", "10.31.1.2")).toBe("silent");
    expect(await site.ask("box1", "ping", "10.31.1.3")).toBe(answered(1, 3));
  });

  it("drops a tag that the port does not carry, and what is untagged where no port VLAN is", async () => {
    const outside = await hosts(2, off("p1: { untagged: crew }, p2: { tagged: [yard] }"), TAGGED_2);
    expect(await outside.ask("box2", "ping", "10.31.1.1")).toBe(nobody(2));
    const untagged = await hosts(2, off("p1: { untagged: crew }, p2: { tagged: [crew] }"));
    expect(await untagged.ask("box2", "ping", "10.31.1.1")).toBe(nobody(2));
  });

  it("takes on an access port the tag of its port VLAN, whose answers come back without it", async () => {
    const site = await hosts(2, off("p1..2: { untagged: crew }"), TAGGED_2);
    expect(await site.ask("box1", "ping", "10.31.1.2")).toBe(nobody(1));
    expect(await site.ask("box2", "ping", "10.31.1.1")).toBe(nobody(2));
    expect(await site.ask("box1", "ping", "10.31.1.2")).toBe("silent");
  });
});

describe("fact 35: the bridge is a port of itself", () => {
  const own = (membership: string, entry: string) =>
    hosts(
      2,
      `switching: { spanning-tree: off, ports: { p1: { untagged: crew }, p2: { untagged: yard } }, own: ${membership} }, interfaces: { manage: ${entry} }`,
    );

  it("and its interface hears nothing without its own membership", async () => {
    const entry = "{ network: crew, ipv4: 10.31.1.99/24 }";
    const tagged = await own("{ tagged: [crew] }", entry);
    expect(await tagged.ask("box1", "ping", "10.31.1.99")).toBe("answered; core sees 10.31.1.1 to 10.31.1.99");
    expect(await tagged.ask("core", "ping", "10.31.1.1")).toBe("answered; box1 sees 10.31.1.99 to 10.31.1.1");
    expect(await tagged.ask("box2", "ping", "10.31.1.99")).toBe(nobody(2));
    const elsewhere = await own("{ tagged: [yard] }", entry);
    expect(await elsewhere.ask("box1", "ping", "10.31.1.99")).toBe(nobody(1));
    expect(await elsewhere.ask("core", "ping", "10.31.1.1")).toBe(nobody(99));
  });

  it("is lost where ports move out of VLAN 1, and kept where one stays", async () => {
    const moved = await hosts(
      2,
      "switching: { spanning-tree: off, ports: { p1: { untagged: crew } } }, interfaces: { manage: { ipv4: 10.31.1.99/24 } }",
    );
    expect(await moved.ask("box1", "ping", "10.31.1.99")).toBe(nobody(1));
    expect(await moved.ask("box2", "ping", "10.31.1.99")).toBe("answered; core sees 10.31.1.2 to 10.31.1.99");
  });
});

describe("facts 37 and 38: tags ignored, isolated ports", () => {
  it("passes tags unread where they are ignored", async () => {
    const legs = { ...TAGGED_2, 3: "tagged: { port: nic, tag: 30, ipv4: 10.31.1.3/24 }" };
    const site = await hosts(4, "switching: { tags: ignored, spanning-tree: off }", legs);
    expect(await site.ask("box2", "ping", "10.31.1.3")).toBe(answered(2, 3));
    expect(await site.ask("box1", "ping", "10.31.1.4")).toBe(answered(1, 4));
    expect(await site.ask("box1", "ping", "10.31.1.2")).toBe(nobody(1));
  });

  it("keeps isolated ports apart, tagged or not, and lets each reach the others", async () => {
    const site = await hosts(
      3,
      off("p1: { untagged: crew, isolated: yes }, p2: { tagged: [crew], isolated: yes }, p3: { untagged: crew }"),
      TAGGED_2,
    );
    expect(await site.ask("box1", "ping", "10.31.1.2")).toBe(nobody(1));
    expect(await site.ask("box1", "ping", "10.31.1.3")).toBe(answered(1, 3));
    expect(await site.ask("box3", "ping", "10.31.1.2")).toBe(answered(3, 2));
  });
});
