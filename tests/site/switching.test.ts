/** Memberships in full, and which ports a bridge has. */
import { describe, expect, it } from "vitest";
import type { Origin } from "../../src/diagnose/index.ts";
import type { SiteDevice } from "../../src/site/index.ts";
import { resolvedOf, siteOf } from "../support/site.ts";

const TOPOLOGY =
  "devices:\n  core: { is: switch, ports: { p1..4: 1G } }\n  edge: { is: router, ports: { wan: 1G, lan1..3: 1G } }\n";
const NETWORKS = "networks: { crew: { vlan: 30, ipv4: 10.71.30.0/24 }, air: { vlan: 40 } }\n";

function deviceOf(name: string, ...intents: readonly string[]): SiteDevice {
  const device = siteOf(TOPOLOGY, NETWORKS, ...intents).devices.find((one) => one.name === name);
  if (device === undefined) throw new Error(`no ${name}`);
  return device;
}

/** `p1 pvid=30 all u30 t40-49`, one a port. */
function ports(device: SiteDevice): readonly string[] {
  return (device.bridge?.ports ?? []).map(({ name, membership }) => {
    const members = membership.members.map(
      ({ first, last, leaves }) => `${leaves[0]}${first === last ? first : `${first}-${last}`}`,
    );
    return [name, `pvid=${membership.portVlan.value}`, membership.admit.value, ...members].join(" ");
  });
}

function switching(ports: string, more = ""): string {
  return `devices:\n  core: { switching: { ${more} ports: { ${ports} } } }\n`;
}

describe("membership", () => {
  it("`untagged` is the port VLAN and leaves untagged", () => {
    const device = deviceOf("core", switching("p1: { untagged: crew }", 'unlisted: "off",'));
    expect(ports(device)).toEqual(["p1 pvid=30 all u30"]);
  });

  it("the long form keeps what people get wrong", () => {
    const long =
      "p1: { port-vlan: 1, leaves-untagged: [crew] }, p2: { leaves-untagged: [crew] }, p3: { port-vlan: none, leaves-untagged: [crew, air] }";
    expect(ports(deviceOf("core", switching(long, 'unlisted: "off",')))).toEqual([
      "p1 pvid=1 all u30",
      "p2 pvid=1 all u30",
      "p3 pvid=refused all u30 u40",
    ]);
  });

  it("takes VLANs by number, declared or not, each once", () => {
    const device = deviceOf(
      "core",
      switching("p1: { tagged: [10-40, crew, 35-50], admit: tagged }", 'unlisted: "off",'),
    );
    expect(ports(device)).toEqual(["p1 pvid=refused tagged t10-40 t41-50"]);
  });

  it("a missing VLAN would stand in the list of tagged ones, at the use of the role", () => {
    const roles = "port-roles: { up: { tagged: [crew] } }\n";
    const text = roles + switching("p1: up");
    const { site, textAt } = resolvedOf(TOPOLOGY, NETWORKS, text);
    const membership = site?.devices[0]?.bridge?.ports[0]?.membership;
    const otherwise: Origin | undefined = membership?.otherwise;
    expect(otherwise?.by).toBe("absent");
    expect(otherwise && textAt(otherwise.span)).toBe("[crew]");
    expect(otherwise?.through?.map(textAt)).toEqual(["up"]);
    const [member] = membership?.members ?? [];
    expect(member && [textAt(member.origin.span), member.origin.through?.map(textAt)]).toEqual(["crew", ["up"]]);
  });
});

describe("bridge", () => {
  it("of a switch without intent is as unboxed", () => {
    const device = deviceOf("core");
    expect(ports(device)).toEqual(["p1", "p2", "p3", "p4"].map((port) => `${port} pvid=1 all u1`));
    expect(device.bridge?.tree?.priority.value).toBe(32768);
    expect(device.bridge?.own?.portVlan.value).toBe(1);
  });

  it("of a router without intent does not exist", () => {
    expect(deviceOf("edge").bridge).toBeUndefined();
  });

  it("leaves ports that are not listed as unboxed, or switches them off", () => {
    expect(ports(deviceOf("core", switching("p2: { untagged: crew }")))[0]).toBe("p1 pvid=1 all u1");
    const off = deviceOf("core", switching("p2: { untagged: crew }", 'unlisted: "off",'));
    expect(off.ports.map(({ name, enabled, use }) => `${name} ${enabled.value} ${use}`)).toEqual([
      "p1 false unused",
      "p2 true switched",
      "p3 false unused",
      "p4 false unused",
    ]);
    expect(off.ports[0]?.enabled.origin).toMatchObject({ by: "absent", wanted: "`p1` among the switched ports" });
  });

  it("never takes a port that an interface stands on, listed or not", () => {
    const device = deviceOf(
      "edge",
      'devices:\n  edge: { switching: { unlisted: "off", ports: { lan1: { untagged: crew } } }, interfaces: { wan: { port: wan, ipv4: lease } } }\n',
    );
    expect(device.ports.map(({ name, use, enabled }) => `${name} ${use} ${enabled.value}`)).toEqual([
      "wan routed true",
      "lan1 switched true",
      "lan2 unused false",
      "lan3 unused false",
    ]);
    expect(device.bridge?.tree).toBeUndefined();
  });

  it("has a bond at the place of its first member", () => {
    const intent =
      "devices:\n  core: { bonds: { pair: { members: [p4, p2], mode: lacp } }, switching: { ports: { pair: { untagged: crew } } } }\n";
    const device = deviceOf("core", intent);
    expect(ports(device)).toEqual(["p1 pvid=1 all u1", "pair pvid=30 all u30", "p3 pvid=1 all u1"]);
    expect(device.ports.map(({ bond }) => bond)).toEqual([undefined, "pair", undefined, "pair"]);
    // Kernel fact 39: the first member lends its hardware address.
    expect(device.bonds[0]?.hardware.value).toBe(device.ports[3]?.hardware.value);
  });

  it("has the lowest hardware address of its ports unless one is stated", () => {
    const device = deviceOf("core");
    const own = device.ports.map(({ hardware }) => hardware.value);
    expect(own).toContain(device.bridge?.hardware.value);
    expect(own.every((address) => address >= (device.bridge?.hardware.value ?? 0n))).toBe(true);
    const stated = deviceOf("core", "devices:\n  core: { mac: 02:00:5e:00:53:01 }\n");
    expect(stated.bridge?.hardware.value).toBe(0x02005e005301n);
  });
});

describe("hardware addresses", () => {
  it("are derived from names, individual and locally administered", () => {
    const all = siteOf(TOPOLOGY).devices.flatMap(({ ports: own }) => own.map(({ hardware }) => hardware.value));
    expect(new Set(all).size).toBe(all.length);
    expect(all.every((address) => ((address >> 40n) & 3n) === 2n)).toBe(true);
    const other = siteOf(`${TOPOLOGY}  more: { is: host, ports: { nic: 1G } }\n`).devices[0];
    expect(other?.ports[0]?.hardware.value).toBe(all[0]);
  });

  it("count up from a stated one", () => {
    const site = siteOf("devices:\n  x: { is: switch, mac: 02:00:5e:00:53:10, ports: { a1..2: 1G, b: 10G } }\n");
    expect(site.devices[0]?.ports.map(({ hardware }) => hardware.value & 0xffn)).toEqual([0x10n, 0x11n, 0x12n]);
  });
});
