/** Ports, links, bonds and bridges of the description. */
import { describe, expect, it } from "vitest";
import { networkOf } from "../support/site.ts";
import { edge, NETWORKS, OTHERS, partOf, station, TOPOLOGY } from "./plan.ts";

describe("ids", () => {
  const network = station();

  it("name ports, bonds, bridges and associations", () => {
    expect(partOf(network.ports, "edge:lan1").device).toBe("edge");
    expect(partOf(network.bonds, "edge:pair").members).toEqual(["edge:lan1", "edge:lan2"]);
    const bridge = partOf(network.bridges, "edge/switching");
    expect(bridge.ports.map(({ id, on }) => `${id} on ${on}`)).toEqual([
      "edge/switching/pair on edge:pair",
      "edge/switching/lan3 on edge:lan3",
      "edge/switching/own on edge/switching/own",
    ]);
    expect(network.links.map(({ id }) => id)).toContain("edge:lan1--core:p1");
    expect(network.links.map(({ id }) => id)).toContain("phone:wlan--loft/ssids/Guest/phone");
  });

  it("keep clear of the words of the description", () => {
    const site = networkOf(
      "devices:\n  x: { is: switch, ports: { own: 1G, ge/0/1: 1G } }\n  open: { is: host, radios: [w] }\n  ap: { is: access-point, ports: { up: 1G }, radios: [r] }\n",
      "networks: { stack: { vlan: 9, ipv4: 10.9.0.0/24 } }\ndevices:\n  x: { interfaces: { stack: { network: stack, host: 1 } } }\n  ap: { ssids: { N: { radio: r, network: stack } } }\n  open: { joins: N, legs: { w: lease } }\n",
    );
    expect(partOf(site.stacks, "x/stack").interfaces[0]?.id).toBe("x/~stack");
    const bridge = partOf(site.bridges, "x/switching");
    expect(bridge.ports.map(({ id }) => id)).toEqual(["x/switching/~own", "x/switching/ge%2F0%2F1", "x/switching/own"]);
    expect(site.ports.map(({ id }) => id).filter((id) => id.startsWith("ap/"))).toEqual([
      "ap/ssids/N/open",
      "ap/ssids/N/~open",
    ]);
  });

  it("are unique among the parts and entries of one kind", () => {
    for (const list of [
      network.devices,
      network.ports,
      network.links,
      network.bridges,
      network.stacks,
      network.tables,
      network.services,
      network.groups,
    ]) {
      const ids = list.map(({ id }) => id);
      expect(new Set(ids).size).toBe(ids.length);
      expect(ids).toEqual([...ids].sort());
    }
  });
});

describe("bridge", () => {
  it("that obeys tags takes a frame through 802.1Q's steps in order", () => {
    const { steps } = partOf(station().bridges, "core/switching");
    expect(steps.map(({ op }) => op).join(" ")).toBe(
      "reserved tree admit classify ingress-member learn lookup isolation egress-member tag fit",
    );
    expect(steps[0]).toMatchObject({ slow: "eat", spanningTree: "eat" });
  });

  it("that runs no tree passes spanning-tree frames (kernel fact 37)", () => {
    expect(partOf(station().bridges, "edge/switching").steps[0]).toMatchObject({ slow: "eat", spanningTree: "pass" });
  });

  it("of an unmanaged switch leaves tags alone, and nobody knows what it does with trees", () => {
    const { steps, ports, tree } = partOf(station().bridges, "desk/switching");
    expect(steps.map(({ op }) => op).join(" ")).toBe("reserved ignore-tags learn lookup isolation fit");
    expect(steps[0]).toMatchObject({ slow: "eat", spanningTree: "unknown" });
    expect(ports.some(({ own }) => own)).toBe(false);
    expect(tree).toBeUndefined();
  });

  it("filters at entry as its profile does", () => {
    const filters = (profile: string) => {
      const network = networkOf(TOPOLOGY, `devices:\n  core: { profile: ${profile} }\n`);
      return partOf(network.bridges, "core/switching").ports.map(({ ingressFilter }) => ingressFilter);
    };
    expect(new Set(filters("linux"))).toEqual(new Set([true]));
    expect(new Set(filters("rfc"))).toEqual(new Set([false]));
  });

  it("has a port for each client of a radio network and one for strangers, kept apart", () => {
    const { ports } = partOf(station().bridges, "loft/switching");
    const air = ports.filter(({ on }) => on.startsWith("loft/ssids"));
    expect(air.map(({ on, untagged, isolation }) => [on, untagged.vlan, isolation])).toEqual([
      ["loft/ssids/Guest/phone", 40, "loft/ssids/Guest"],
      ["loft/ssids/Guest/open", 40, "loft/ssids/Guest"],
    ]);
  });

  it("has tree settings for every port but its own", () => {
    const { ports, tree } = partOf(station().bridges, "core/switching");
    expect(tree?.ports.map(({ port }) => port)).toEqual(ports.filter(({ own }) => !own).map(({ id }) => id));
  });
});

describe("bond", () => {
  const mode = (settings: string, profile = "linux") => {
    const network = networkOf(
      TOPOLOGY,
      `devices:\n  core: { profile: ${profile}, bonds: { pair: { members: [p1, p2], ${settings} } } }\n`,
    );
    return partOf(network.bonds, "core:pair").mode;
  };

  it("speaks LACP first and slowly unless told", () => {
    expect(mode("mode: lacp")).toEqual({ kind: "lacp", active: true, fast: false, passiveMayPair: true });
    expect(mode("mode: lacp, activity: passive, speed: fast", "rfc")).toEqual({
      kind: "lacp",
      active: false,
      fast: true,
      passiveMayPair: false,
    });
  });

  it("may be static or keep a reserve", () => {
    expect([mode("mode: static"), mode("mode: active-backup")]).toEqual([
      { kind: "static" },
      { kind: "active-backup" },
    ]);
  });
});

describe("port", () => {
  it("is limited by its cable and by its membership", () => {
    const network = networkOf(
      TOPOLOGY.replace("[core:p4, laptop:nic]", "{ ends: [core:p4, laptop:nic], rate: 100M }"),
      "networks: { crew: { vlan: 30 } }\ndevices:\n  core: { mtu: 9000, switching: { ports: { p4: { untagged: crew, mtu: 1400 } } } }\n",
    );
    expect(partOf(network.ports, "core:p4")).toMatchObject({ rateMbps: 100, mtu: 1400 });
    expect(partOf(network.ports, "core:p5")).toMatchObject({ rateMbps: 1000, mtu: 9000 });
  });
});

describe("link", () => {
  it("goes down with what it shares, its devices' fates included", () => {
    const network = networkOf(
      `shared-fates: { duct: the duct in the yard, strip: the power strip }\n${TOPOLOGY.replace("[core:p4, laptop:nic]", "{ ends: [core:p4, laptop:nic], shares: [duct] }").replace("laptop: { is: host,", "laptop: { is: host, shares: [strip],")}`,
    );
    expect(partOf(network.links, "core:p4--laptop:nic").downWith).toEqual(["duct", "strip"]);
  });
});

describe("digest", () => {
  it("stays when lines move and changes with what they say", () => {
    const digests = (topology: string, others: string) =>
      new Map(networkOf(topology, NETWORKS, edge(), others).bridges.map(({ id, digest }) => [id, digest]));
    const before = digests(TOPOLOGY, OTHERS);
    expect(digests(`# a comment\n${TOPOLOGY}`, `# another\n${OTHERS}`)).toEqual(before);
    const after = digests(TOPOLOGY, OTHERS.replace("p6: seat", "p6: { untagged: visitors }"));
    expect(after.get("core/switching")).not.toBe(before.get("core/switching"));
    expect(after.get("edge/switching")).toBe(before.get("edge/switching"));
  });

  it("tells every part from every other", () => {
    const { ports, stacks, tables, services, groups } = station();
    const all = [...ports, ...stacks, ...tables, ...services, ...groups].map(({ digest }) => digest);
    expect(new Set(all).size).toBe(all.length);
    expect(all.every((digest) => /^[0-9a-f]{16}$/.test(digest))).toBe(true);
  });
});
