/** What interfaces stand on, their addresses, next hops, and the networks that reach them. */
import { describe, expect, it } from "vitest";
import { formatAddress, formatPrefix } from "../../src/address/index.ts";
import type { Site, SiteInterface } from "../../src/site/index.ts";
import { siteGraph } from "../../src/site/index.ts";
import { resolvedOf, siteOf } from "../support/site.ts";

const TOPOLOGY = `devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  edge: { is: router, ports: { wan: 1G, lan1..3: 1G } }
  core: { is: switch, ports: { p1..6: 1G } }
  plain: { is: switch, ports: { q1..4: 1G } }
  desk: { is: unmanaged-switch, ports: { d1..3: 1G } }
  loft: { is: access-point, ports: { up: 1G }, radios: [band5] }
  laptop: { is: host, ports: { nic: 1G } }
  printer: { is: host, ports: { nic: 1G } }
  phone: { is: host, radios: [wlan] }
cables:
  - [carrier:drop, edge:wan]
  - [edge:lan1, core:p1]
  - [core:p2, plain:q1]
  - [plain:q2, laptop:nic]
  - [core:p3, desk:d1]
  - [desk:d2, printer:nic]
  - [core:p4, loft:up]
`;
const PLAN = `networks:
  crew: { vlan: 30, ipv4: 10.71.30.0/24, ipv6: "fd71:2c9e:5a04:30::/64" }
  guests: { vlan: 40, ipv4: 10.71.40.0/24 }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, hosts: 100-110 } } }
  edge:
    switching: { ports: { lan1: { tagged: [crew, guests] } }, own: { tagged: [crew, guests] } }
    interfaces:
      wan: { port: wan, ipv4: lease }
      crew: { network: crew, host: 1 }
      guests: { network: guests, host: 1 }
  core:
    switching: { ports: { p1: { tagged: [crew, guests] }, p2: { untagged: crew }, p3: { untagged: guests }, p4: { tagged: [guests] } } }
  loft: { ssids: { Guest: { radio: band5, network: guests } }, switching: { ports: { up: { tagged: [guests] } } } }
  laptop: { legs: { nic: lease } }
  printer: { legs: { nic: lease } }
  phone: { joins: Guest, legs: { wlan: lease } }
`;

function interfaceOf(site: Site, device: string, name: string): SiteInterface {
  const found = site.devices.find((one) => one.name === device)?.interfaces.find((one) => one.name === name);
  if (found === undefined) throw new Error(`no ${device}/${name}`);
  return found;
}

function addresses({ addresses: own }: SiteInterface): readonly string[] {
  return own.map((address) => `${formatAddress(address)}/${address.length}`);
}

describe("a host number", () => {
  it("counts in each IPv6 prefix, and what is written out as well is one address", () => {
    const site = siteOf(
      "devices: { box: { is: host, ports: { nic: 1G } } }",
      `networks: { crew: { ipv4: [10.71.1.0/24, 10.71.2.0/24], ipv6: ["fd71:1::/64", "fd71:2::/64"] } }
devices: { box: { legs: { nic: { network: crew, host: 7, ipv6: ["fd71:2::7", "fd71:2::9"] } } } }`,
    );
    expect(addresses(interfaceOf(site, "box", "nic"))).toEqual([
      "10.71.1.7/24",
      "fd71:1::7/64",
      "fd71:2::7/64",
      "fd71:2::9/64",
    ]);
  });
});

describe("a network", () => {
  const { networks } = siteOf(TOPOLOGY, PLAN);
  const domains = (name: string) =>
    networks
      .find((one) => one.name === name)
      ?.extent.domains.map(({ device, vlan }) => (vlan === undefined ? device : `${device} ${vlan}`));

  it("goes on into a switch as unboxed", () => {
    expect(domains("crew")).toEqual(["edge 30", "core 30", "plain 1"]);
  });

  it("goes on into an unmanaged switch, and into the air", () => {
    expect(domains("guests")).toEqual(["edge 40", "core 40", "desk", "loft 40"]);
  });

  it("reaches who asks it for a lease", () => {
    const site = siteOf(TOPOLOGY, PLAN);
    expect(interfaceOf(site, "laptop", "nic").networks).toEqual(["crew"]);
    expect(interfaceOf(site, "printer", "nic").networks).toEqual(["guests"]);
    expect(interfaceOf(site, "phone", "wlan").networks).toEqual(["guests"]);
    expect(interfaceOf(site, "edge", "wan").networks).toEqual([]);
  });

  it("never takes in another network where cables leak", () => {
    const leak = PLAN.replace(
      "p3: { untagged: guests }",
      "p3: { untagged: guests }, p5: { untagged: guests }, p6: { untagged: crew }",
    );
    const site = siteOf(`${TOPOLOGY}  - [core:p5, core:p6]\n`, leak);
    expect(site.networks.map(({ extent }) => extent.domains.filter(({ device }) => device === "core"))).toEqual([
      [{ device: "core", vlan: 30 }],
      [{ device: "core", vlan: 40 }],
    ]);
  });
});

describe("an interface", () => {
  it("stands on the bridge with the tag of its network", () => {
    const crew = interfaceOf(siteOf(TOPOLOGY, PLAN), "edge", "crew");
    expect([crew.footing, crew.vlan?.value]).toEqual([{ on: "bridge" }, 30]);
    expect(addresses(crew)).toEqual(["10.71.30.1/24", "fd71:2c9e:5a04:30::1/64"]);
  });

  it("stands there untagged where the bridge's own port leaves it so (kernel fact 35)", () => {
    const site = siteOf(
      TOPOLOGY,
      PLAN.replace("own: { tagged: [crew, guests] }", "own: { untagged: crew, tagged: [guests] }"),
    );
    expect(interfaceOf(site, "edge", "crew").vlan).toBeUndefined();
    expect(interfaceOf(site, "edge", "guests").vlan?.value).toBe(40);
  });

  it("speaks IPv6 where its network has it or it says so", () => {
    const site = siteOf(TOPOLOGY, PLAN);
    const speaks = (device: string, name: string) => interfaceOf(site, device, name).speaks6.value;
    expect([speaks("edge", "crew"), speaks("edge", "guests"), speaks("edge", "wan"), speaks("laptop", "nic")]).toEqual([
      true,
      false,
      false,
      true,
    ]);
  });

  it("takes addresses from advertisements unless its device forwards", () => {
    const static_ = PLAN.replace(
      "laptop: { legs: { nic: lease } }",
      "laptop: { legs: { nic: { network: crew, host: 9 } } }",
    );
    const site = siteOf(TOPOLOGY, static_);
    expect(interfaceOf(site, "laptop", "nic").advertised).toMatchObject({ by: "default" });
    expect(interfaceOf(site, "edge", "crew").advertised).toBeUndefined();
  });

  it("of an upstream has the first address of what it hands out", () => {
    const { handsOut, interfaces } = siteOf(TOPOLOGY, PLAN).devices[0] ?? { handsOut: [], interfaces: [] };
    expect(interfaces.map(addresses)).toEqual([["203.0.113.1/24"]]);
    expect(handsOut[0]?.router?.origin.by).toBe("default");
  });

  it("on a port that does not exist is the only fault told of its device", () => {
    const wrong = PLAN.replace("wan: { port: wan, ipv4: lease }", "wan: { port: wam, ipv4: lease }").replace(
      "  core:\n",
      "    filter: { to: { otherwise: drop, rules: [{ name: x, in: wan, action: accept }] } }\n  core:\n",
    );
    expect(resolvedOf(TOPOLOGY, wrong).diagnostics.map(({ message }) => message)).toEqual(["no port `wam` on `edge`"]);
  });
});

describe("an uplink", () => {
  const wan = (text: string) => siteOf(TOPOLOGY, PLAN.replace("wan: { port: wan, ipv4: lease }", `wan: ${text}`));

  it("may be tagged, static and smaller", () => {
    const site = wan("{ port: wan, tag: 7, ipv4: 203.0.113.9/24, gateway: 203.0.113.1, mtu: 1492 }");
    const one = interfaceOf(site, "edge", "wan");
    expect([one.vlan?.value, addresses(one), one.mtu.value, one.lease]).toEqual([
      7,
      ["203.0.113.9/24"],
      1492,
      undefined,
    ]);
    expect(site.devices[1]?.routes.map(({ hops }) => hops.map((hop) => hop.interface))).toEqual([["wan"]]);
  });

  it("may be tagged by a network that has a VLAN", () => {
    const one = interfaceOf(wan("{ port: wan, tag: guests, ipv4: 203.0.113.9/24 }"), "edge", "wan");
    expect(one.vlan).toMatchObject({ value: 40, origin: { by: "written" } });
    const handed = PLAN.replace("drop: { ipv4", "drop: { tag: guests, ipv4");
    const upstream = interfaceOf(siteOf(TOPOLOGY, handed), "carrier", "drop");
    expect(upstream.vlan).toMatchObject({ value: 40, origin: { by: "written" } });
  });

  it.each([
    ["gests", "no network `gests`"],
    ["lan", "network `lan` has no VLAN, so no switch can carry it"],
    ["10-12", "`10-12` is several VLANs, and one is asked for"],
  ])("is refused with a tag that is no VLAN: %s", (tag, message) => {
    const plain = PLAN.replace("networks:", "networks:\n  lan: { ipv4: 10.71.50.0/24 }");
    for (const [from, to] of [
      ["wan: { port: wan,", `wan: { port: wan, tag: ${tag},`],
      ["drop: { ipv4", `drop: { tag: ${tag}, ipv4`],
    ] as const) {
      const { diagnostics } = resolvedOf(TOPOLOGY, plain.replace(from, to));
      expect(diagnostics.map((each) => each.message)).toContain(message);
    }
  });

  it("takes the size of its port, and says when it does not", () => {
    const one = interfaceOf(wan("{ port: wan, ipv4: lease }"), "edge", "wan");
    expect(one.mtu).toMatchObject({ value: 1500, origin: { by: "default", source: "RFC 894" } });
  });
});

describe("routes", () => {
  /** `0.0.0.0/0 nic 10.71.30.1`, one a hop. */
  function routes(device: string, plan: string): readonly string[] {
    const found = siteOf(TOPOLOGY, plan).devices.find(({ name }) => name === device)?.routes ?? [];
    return found.flatMap(({ to, hops, action }) =>
      hops.length === 0
        ? [`${formatPrefix(to)} ${action}`]
        : hops.map(
            (hop) =>
              `${formatPrefix(to)} ${hop.interface} ${hop.via === undefined ? "on link" : formatAddress(hop.via)}`,
          ),
    );
  }
  const withRoutes = (text: string) => PLAN.replace("  core:\n", `    routes:\n${text}\n  core:\n`);

  it("come from gateways, by address or by name", () => {
    const plan = PLAN.replace(
      "laptop: { legs: { nic: lease } }",
      "laptop: { legs: { nic: { network: crew, host: 9, gateway: [10.71.30.1, edge/crew] } } }",
    );
    expect(routes("laptop", plan)).toEqual(["0.0.0.0/0 nic 10.71.30.1", "0.0.0.0/0 nic 10.71.30.1"]);
  });

  it("leave by the interface whose prefix holds the next hop", () => {
    expect(routes("edge", withRoutes("      - { to: 10.9.0.0/16, via: 10.71.40.9 }"))).toEqual([
      "10.9.0.0/16 guests 10.71.40.9",
    ]);
  });

  it("may go by what an upstream will lend", () => {
    expect(routes("edge", withRoutes("      - { to: default, via: 203.0.113.1 }"))).toEqual([
      "0.0.0.0/0 wan 203.0.113.1",
    ]);
  });

  it("turn packets away", () => {
    expect(
      routes(
        "edge",
        withRoutes(
          "      - { to: 10.0.0.0/8, action: blackhole }\n      - { to: guests, action: prohibit, metric: 9 }",
        ),
      ),
    ).toEqual(["10.0.0.0/8 blackhole", "10.71.40.0/24 prohibit"]);
  });
});

describe("resolvers that are named", () => {
  const asked = (resolvers: string, plan = PLAN): readonly string[] => {
    const laptop = "laptop: { legs: { nic: { network: crew, host: 9, resolvers: RESOLVERS } } }";
    const written = plan.replace("laptop: { legs: { nic: lease } }", laptop.replace("RESOLVERS", resolvers));
    const site = siteOf(TOPOLOGY, written.replace("  edge:\n", `  edge:\n    resolver: { forward: ${resolvers} }\n`));
    const forward = site.devices.find(({ name }) => name === "edge")?.resolver?.forward ?? [];
    const own = (interfaceOf(site, "laptop", "nic").resolvers?.value ?? []).map(({ value }) => formatAddress(value));
    expect(forward.map(({ value }) => formatAddress(value))).toEqual(own);
    return own;
  };

  it("are asked over both versions of IP that the leg has, IPv4 first, in the order written", () => {
    expect(asked("[198.51.100.1, edge/crew, edge/guests]")).toEqual([
      ...["198.51.100.1", "10.71.30.1", "fd71:2c9e:5a04:30::1", "10.71.40.1"],
    ]);
    expect(asked("[edge/guests, fd71::53, edge/crew]")).toEqual([
      ...["10.71.40.1", "fd71::53", "10.71.30.1", "fd71:2c9e:5a04:30::1"],
    ]);
  });

  it("are asked at what is written for the leg, and not at a link-local address where there is another", () => {
    const written = PLAN.replace(
      "guests: { network: guests, host: 1 }",
      'guests: { network: guests, host: 1, ipv6: ["fe80::1", "fd71::7/64"] }',
    );
    expect(asked("[edge/guests]", written)).toEqual(["10.71.40.1", "fd71::7"]);
    const linked = PLAN.replace(
      "guests: { network: guests, host: 1 }",
      'guests: { network: guests, host: 1, ipv6: "fe80::1" }',
    );
    expect(asked("[edge/guests]", linked)).toEqual(["10.71.40.1"]);
  });

  it("are asked in a prefix that is delegated", () => {
    const delegated = PLAN.replace("hosts: 100-110 }", 'hosts: 100-110, ipv6: "2001:db8:1::/64", delegates: 56 }')
      .replace("{ port: wan, ipv4: lease }", "{ port: wan, ipv4: lease, ipv6: delegated }")
      .replace('ipv6: "fd71:2c9e:5a04:30::/64"', "ipv6: { delegated: edge/wan, subnet: 3 }");
    expect(asked("[edge/crew]", delegated)).toEqual(["10.71.30.1", "3fff:1:0:3::1"]);
  });
});

describe("leases", () => {
  const dhcp = (text: string) => PLAN.replace("  core:\n", `    dhcp:\n${text}\n  core:\n`);
  const server = (plan: string) => siteOf(TOPOLOGY, plan).devices.find(({ name }) => name === "edge")?.dhcp[0];

  it("tell the server's own address as router and resolver", () => {
    const own = server(dhcp("      crew: { hosts: 100-199 }"));
    expect(own?.routers.value.map(({ value }) => value)).toEqual([0x0a471e01n]);
    expect(own?.resolvers.value.map(({ value }) => value)).toEqual([0x0a471e01n]);
    expect(own?.routers.origin).toMatchObject({ by: "default" });
    expect(own?.pool.map(({ value }) => [value.first, value.last])).toEqual([[0x0a471e64n, 0x0a471ec7n]]);
  });

  it("tell none where none is written", () => {
    const own = server(dhcp("      crew: { hosts: 100-199, router: none, resolvers: none }"));
    expect([own?.routers.value, own?.resolvers.value]).toEqual([[], []]);
  });

  it("keep an address for the leg that a device has in the network", () => {
    const own = server(dhcp("      crew: { hosts: 100-199, reservations: { laptop: { host: 20 } } }"));
    const laptop = interfaceOf(siteOf(TOPOLOGY, PLAN), "laptop", "nic");
    expect(own?.reservations[0]?.for).toEqual({ device: "laptop", interface: "nic" });
    expect(own?.reservations[0]?.hardware.value).toBe(laptop.hardware.value);
  });

  it("for a network that relays bring name the relay as router", () => {
    const plan =
      `${PLAN}  server: { legs: { nic: { network: crew, host: 5 } }, dhcp: { guests: { hosts: 100-199 } } }\n`.replace(
        "  core:\n",
        "    relay: { guests: { to: server } }\n  core:\n",
      );
    const site = siteOf(TOPOLOGY.replace("cables:", "  server: { is: host, ports: { nic: 1G } }\ncables:"), plan);
    const own = site.devices.find(({ name }) => name === "server")?.dhcp[0];
    expect(own?.interface).toBeUndefined();
    expect(own?.routers.value.map(({ value }) => value)).toEqual([0x0a472801n]);
    const relay = site.devices.find(({ name }) => name === "edge")?.relays[0];
    expect(relay?.servers.map(({ value }) => value)).toEqual([0x0a471e05n]);
  });
});

describe("targets", () => {
  const filter = (source: string) =>
    PLAN.replace(
      "  core:\n",
      `    filter: { to: { otherwise: drop, rules: [{ name: x, source: ${source}, action: accept }] } }\n  core:\n`,
    );
  const sourceOf = (plan: string) =>
    siteOf(TOPOLOGY, plan).devices.find(({ name }) => name === "edge")?.filter?.to?.rules[0]?.source;
  const keys = (plan: string) => sourceOf(plan)?.value.flatMap(({ value }) => value.addresses);

  it("of a device are its stated addresses", () => {
    expect(keys(filter("edge/guests"))).toEqual([[0x0a472801n, 0x0a472801n]]);
  });

  it("of a lease are the whole pool, or what is reserved", () => {
    const pool = `${filter("printer")}`.replace("  core:\n", "    dhcp: { guests: { hosts: 100-199 } }\n  core:\n");
    expect(keys(pool)).toEqual([[0x0a472864n, 0x0a4728c7n]]);
    const kept = pool.replace("hosts: 100-199", "hosts: 100-199, reservations: { printer: { host: 20 } }");
    expect(keys(kept)).toEqual([[0x0a472814n, 0x0a472814n]]);
  });

  it("unfold sets, once each, through the word that uses them", () => {
    const text = `sets: { known: { every: network, except: [guests] }, mine: [known, crew, 10.9.9.9] }\n${filter("mine")}`;
    const { site, textAt } = resolvedOf(TOPOLOGY, text);
    const edge = site?.devices.find(({ name }) => name === "edge");
    const source = edge?.filter?.to?.rules[0]?.source?.value ?? [];
    expect(source.map(({ value }) => value.is)).toEqual(["network", "addresses"]);
    expect(source[1]?.origin.through?.map(textAt)).toEqual(["mine"]);
    expect(source[0]?.origin.through?.map(textAt)).toEqual(["mine", "known"]);
  });

  it("of the internet are what lies in no network of the site", () => {
    const all = keys(filter("internet")) ?? [];
    expect(all.some(([low, high]) => low <= 0x0a471e01n && 0x0a471e01n <= high)).toBe(false);
    expect(all.some(([low, high]) => low <= 0x01010101n && 0x01010101n <= high)).toBe(true);
    const open = keys(filter("internet/public")) ?? [];
    expect(open.some(([low, high]) => low <= 0x0a000001n && 0x0a000001n <= high)).toBe(false);
  });
});

describe("the graph of a site", () => {
  it("joins devices by cables and by radio", async () => {
    const graph = await siteGraph(siteOf(TOPOLOGY, PLAN));
    expect(graph.order).toBe(9);
    expect(graph.neighbors("loft").toSorted()).toEqual(["core", "phone"]);
    expect(graph.edges("core", "loft").map((edge) => graph.getEdgeAttributes(edge).ends)).toEqual([
      ["core:p4", "loft:up"],
    ]);
  });
});
