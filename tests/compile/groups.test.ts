/** Groups and stand-in clients: what names mean in assertions. */
import { describe, expect, it } from "vitest";
import type { Network } from "../../src/network/index.ts";
import { networkOf } from "../support/site.ts";
import { edge, entrances, NETWORKS, OTHERS, partOf, station, TOPOLOGY } from "./plan.ts";

const network = station();
const group = (id: string, of: Network = network) => partOf(of.groups, id);

describe("a network", () => {
  it("is entered by edge ports: free, or cabled to a host or an unmanaged switch", () => {
    expect(entrances(group("crew"))).toEqual(["core:p3", "core:p6", "edge:lan3"]);
    expect(entrances(group("management"))).toEqual(["core:p4"]);
  });

  it("is entered by radio, by clients and strangers", () => {
    expect(entrances(group("visitors"))).toEqual(["loft/ssids/Guest/open", "loft/ssids/Guest/phone"]);
  });

  it("is entered by a router's port that stands in it", () => {
    expect(entrances(group("rescue"))).toEqual(["edge:lan5"]);
  });

  it("is entered by tags too, unless the port refuses them", () => {
    const tagged = OTHERS.replace("p6: seat", "p6: { untagged: crew, tagged: [visitors] }");
    const open = networkOf(TOPOLOGY, NETWORKS, edge(), tagged);
    expect(entrances(group("visitors", open))).toContain("core:p6");
  });

  it("is entered by any tag where nobody filters at entry (802.1Q's default)", () => {
    const loose = OTHERS.replace("p6: seat", "p6: { untagged: crew, filter-ingress: off }");
    const open = networkOf(TOPOLOGY, NETWORKS, edge(), loose);
    expect(entrances(group("visitors", open))).toContain("core:p6");
  });

  it("is not entered by ports that are off", () => {
    expect(entrances(group("crew")).some((at) => at === "core:p7")).toBe(false);
  });

  it("is entered by free ports of a switch as unboxed that is plugged into it", () => {
    const topology = `${TOPOLOGY.replace("cables:", "  plain: { is: switch, ports: { q1..3: 1G } }\ncables:")}  - [edge:lan3, plain:q1]\n`;
    const plain = networkOf(topology, NETWORKS, edge(), OTHERS);
    expect(entrances(group("crew", plain))).toEqual(["core:p3", "core:p6", "plain:q2", "plain:q3"]);
  });

  it("of hosts on an unmanaged switch alone is entered there", () => {
    const small = networkOf(
      "devices:\n  desk: { is: unmanaged-switch, ports: { d1..3: 1G } }\n  a: { is: host, ports: { n: 1G } }\ncables:\n  - [a:n, desk:d1]\n",
      "networks: { home: { ipv4: 10.1.1.0/24 } }\ndevices:\n  a: { legs: { n: { network: home, host: 1 } } }\n",
    );
    expect(entrances(group("home", small))).toEqual(["desk:d2", "desk:d3"]);
  });

  it("is begun and answered by its hosts, and owns every address of its prefixes", () => {
    const crew = group("crew");
    expect(crew.begins).toEqual([{ stack: "archive/stack", interfaces: ["archive/a", "archive/b"] }]);
    expect(crew.parties).toEqual(crew.begins);
    expect(crew.interfaces).toEqual(["edge/crew", "archive/a", "archive/b"]);
    expect(crew.addresses[0]).toEqual([0x0a471e00n, 0x0a471effn]);
    expect(crew.segments).toEqual([
      { at: "core/switching", vlan: 30 },
      { at: "desk/switching" },
      { at: "edge/switching", vlan: 30 },
    ]);
  });
});

describe("a host", () => {
  it("sends from where its cables and its radio lead", () => {
    expect(entrances(group("archive"))).toEqual(["core:p6", "desk:d2"]);
    expect(entrances(group("archive/b"))).toEqual(["desk:d2"]);
    expect(entrances(group("phone"))).toEqual(["loft/ssids/Guest/phone"]);
  });

  it("enters a bond where it is bonded itself", () => {
    const bonded = networkOf(
      "devices:\n  core: { is: switch, ports: { p1..2: 1G } }\n  store: { is: host, ports: { a: 1G, b: 1G } }\ncables:\n  - [core:p1, store:a]\n  - [core:p2, store:b]\n",
      "networks: { crew: { vlan: 30, ipv4: 10.1.1.0/24 } }\ndevices:\n  core: { bonds: { pair: { members: [p1, p2], mode: lacp } }, switching: { ports: { pair: { untagged: crew } } } }\n  store: { bonds: { both: { members: [a, b], mode: lacp } }, legs: { both: { network: crew, host: 1 } } }\n",
    );
    expect(entrances(group("store", bonded))).toEqual(["core:pair"]);
    expect(entrances(group("crew", bonded))).toEqual(["core:pair"]);
  });

  it("owns a reserved address", () => {
    const kept = networkOf(
      TOPOLOGY,
      NETWORKS,
      edge().replace(
        "crew: { hosts: 100-199 }",
        "crew: { hosts: 100-199, reservations: { archive: { leg: b, host: 21 } } }",
      ),
      OTHERS,
    );
    expect(group("archive/b", kept).addresses).toEqual([[0x0a471e15n, 0x0a471e15n]]);
  });

  it("takes no address along into a network whose server does not keep it", () => {
    const moved = networkOf(
      TOPOLOGY,
      NETWORKS,
      edge().replace(
        "visitors: { hosts: 100-199",
        "visitors: { reservations: { archive: { leg: b, host: 21 } }, hosts: 100-199",
      ),
      OTHERS,
    );
    expect(group("archive/b", moved).addresses).toEqual([[0x0a472815n, 0x0a472815n]]);
    expect(group("crew", moved).addresses).toEqual(group("crew").addresses);
  });
});

describe("other names", () => {
  it("a set is all its members together", () => {
    expect(group("admins")).toMatchObject({ kind: "set", addresses: [[0x0a470a32n, 0x0a470a32n]] });
    expect(entrances(group("staff"))).toEqual(["core:p3", "core:p4", "core:p6", "edge:lan3", "edge:lan5"]);
    expect(group("staff").standIns).toEqual(["~crew", "~rescue"]);
  });

  it("a router is its stack, and nobody plugs into it", () => {
    expect(group("edge")).toMatchObject({ kind: "device", entrances: [] });
    expect(group("edge/crew")).toMatchObject({ kind: "leg", interfaces: ["edge/crew"] });
  });

  it("the internet enters where upstreams are plugged in", () => {
    expect(group("internet")).toMatchObject({ kind: "internet", upstreams: ["carrier/drop"] });
    expect(entrances(group("internet/public"))).toEqual(["edge:wan"]);
  });
});

describe("a host that is trusted", () => {
  const trusted = (ports: string) =>
    networkOf(TOPOLOGY, NETWORKS, edge(), OTHERS.replace("archive: {", `archive: { trusted: ${ports},`));

  it("leaves no place at the far end of its cable, which is told of with the host", () => {
    const crew = group("crew", trusted("[a]"));
    expect(entrances(crew)).toEqual(["core:p3", "edge:lan3"]);
    expect(crew.vouched).toMatchObject([{ at: "core:p6", device: "archive" }]);
    expect([group("crew").vouched, group("management", trusted("[a]")).vouched]).toEqual([[], []]);
  });

  it("leaves the place where an unmanaged switch is", () => {
    expect(group("crew", trusted("[b]"))).toEqual(group("crew"));
  });

  it("is meant itself as before, by its name and in a set", () => {
    expect(entrances(group("archive", trusted("all")))).toEqual(["core:p6", "desk:d2"]);
    const sets = NETWORKS.replace("admins: [laptop]", "admins: [laptop, crew]\n  both: [crew, archive]");
    const both = networkOf(TOPOLOGY, sets, edge(), OTHERS.replace("archive: {", "archive: { trusted: a,"));
    expect(group("admins", both).vouched.map(({ at }) => at)).toEqual(["core:p6"]);
    expect(entrances(group("both", both))).toContain("core:p6");
    expect(group("both", both).vouched).toEqual([]);
  });

  it("leaves a stand-in client no socket to stand in for", () => {
    const rack = TOPOLOGY.replace(
      "  - [core:p5, loft:up]\n",
      "  - [core:p5, loft:up]\n  - [edge:lan5, printer:nic]\n",
    ).replace("  phone:", "  printer: { is: host, ports: { nic: 1G } }\n  phone:");
    const told = (more: string) =>
      networkOf(rack, NETWORKS, edge(), `${OTHERS}  printer: { ${more}legs: { nic: lease } }\n`);
    expect(group("rescue", told(""))).toMatchObject({ entrances: [{ at: "edge:lan5" }], standIns: ["~rescue"] });
    expect(group("rescue", told("trusted: all, "))).toMatchObject({ entrances: [], standIns: [] });
  });
});

describe("a stand-in client", () => {
  it("exists for every network that serves leases, at the first free place", () => {
    expect(network.devices.filter(({ standIn }) => standIn).map(({ id }) => id)).toEqual([
      "~crew",
      "~rescue",
      "~visitors",
    ]);
    expect(network.links.filter(({ onDemand }) => onDemand).map(({ id, kind }) => `${id} ${kind}`)).toEqual([
      "~crew:nic--edge:lan3 cable",
      "~rescue:nic--edge:lan5 cable",
      "~visitors:nic--loft/ssids/Guest/open radio",
    ]);
    expect(group("crew").standIns).toEqual(["~crew"]);
  });

  it("asks for a lease, and listens to advertisements where the network has IPv6", () => {
    const awaits = (id: string) => partOf(network.stacks, id).interfaces[0]?.awaits.map(({ from }) => from);
    expect([awaits("~crew/stack"), awaits("~rescue/stack")]).toEqual([["lease", "advertisement"], ["lease"]]);
  });

  it("sits on an unmanaged switch when nothing else is free", () => {
    const full = networkOf(TOPOLOGY, NETWORKS, edge().replace("lan3: seat", "lan4: { untagged: visitors }"), OTHERS);
    expect(full.links.map(({ id }) => id)).toContain("~crew:nic--desk:d3");
  });

  it("exists where leases are relayed", () => {
    const relayed = edge()
      .replace("visitors: { hosts: 100-199 }, ", "")
      .concat("    relay: { visitors: { to: 10.71.30.20 } }\n");
    const far = networkOf(TOPOLOGY, NETWORKS, relayed, OTHERS);
    expect(far.devices.filter(({ standIn }) => standIn).map(({ id }) => id)).toContain("~visitors");
  });
});

describe("a thousand devices", () => {
  it("cost what they add, and are described in full", () => {
    const switches = 40;
    const hosts = 24;
    const names = Array.from({ length: switches }, (_, at) => `s${at}`);
    const devices = names.flatMap((name) => [
      `  ${name}: { is: switch, ports: { p1..${hosts}: 1G } }`,
      ...Array.from({ length: hosts }, (_, at) => `  ${name}h${at + 1}: { is: host, ports: { n: 1G } }`),
    ]);
    const cables = names.flatMap((name) =>
      Array.from({ length: hosts }, (_, at) => `  - [${name}:p${at + 1}, ${name}h${at + 1}:n]`),
    );
    const intents = names.flatMap((name) =>
      Array.from({ length: hosts }, (_, at) => `  ${name}h${at + 1}: { legs: { n: lease } }`),
    );
    const large = networkOf(
      ["devices:", ...devices, "cables:", ...cables, ""].join("\n"),
      ["devices:", ...intents, ""].join("\n"),
    );
    expect([large.devices.length, large.ports.length, large.stacks.length, large.groups.length]).toEqual([
      1000, 1920, 960, 1962,
    ]);
  });
});
