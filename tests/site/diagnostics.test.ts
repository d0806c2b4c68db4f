/** Each fault of a plan draws its one diagnostic at the smallest place that says it. */
import { describe, expect, it } from "vitest";
import { resolvedOf } from "../support/site.ts";

const TOPOLOGY = `devices:
  edge: { is: router, ports: { wan: 1G, lan1..4: 1G, fibre: 10G } }
  core: { is: switch, ports: { p1..8: 1G } }
  desk: { is: unmanaged-switch, ports: { d1..3: 1G } }
  loft: { is: access-point, ports: { up: 1G }, radios: [band5] }
  laptop: { is: host, ports: { nic: 1G } }
  archive: { is: host, ports: { a: 1G, b: 1G } }
  phone: { is: host, radios: [wlan] }
  carrier: { is: upstream, ports: { drop: 1G } }
`;
const NETWORKS = `networks:
  crew: { vlan: 30, ipv4: 10.71.30.0/24, ipv6: "fd71:2c9e:5a04:30::/64" }
  visitors: { vlan: 40, ipv4: 10.71.40.0/24 }
  rescue: { ipv4: 10.71.99.0/24 }
`;

/** What the documents draw, as `severity code: message | text of the place`, with the help. */
function drawn(topology: string, intent: string): readonly string[] {
  const { diagnostics, textAt } = resolvedOf(TOPOLOGY + topology, NETWORKS + intent);
  return diagnostics.map(({ severity, code, message, labels, help }) => {
    const place = labels[0] === undefined ? "" : textAt(labels[0].span);
    return `${severity} ${code}: ${message} | ${place}${help === undefined ? "" : ` | ${help}`}`;
  });
}

/** The intent of one device. */
function told(device: string, intent: string): string {
  return `devices:\n  ${device}: ${intent}\n`;
}

/** A router that keeps addresses in a network where the laptop asks for one. */
function keeping(reservations: string): string {
  const server = `dhcp: { v: { hosts: 100-199, reservations: { ${reservations} } } }`;
  const interfaces = "interfaces: { v: { network: visitors, port: lan1, host: 1 } }";
  return `${told("edge", `{ ${interfaces}, ${server} }`)}  laptop: { legs: { nic: { network: visitors, ipv4: lease } } }\n`;
}

describe("a rack that contradicts itself", () => {
  it.each([
    [
      "a port that is not there",
      "cables:\n  - [edge:lan9, core:p1]",
      "error unknown-name: no port `lan9` on `edge` | lan9 | try `edge:lan1`",
    ],
    [
      "a device that is not there",
      "cables:\n  - [egde:lan1, core:p1]",
      "error unknown-name: no device `egde` | egde | try `edge`",
    ],
    [
      "a port cabled twice",
      "cables:\n  - [edge:lan1, core:p1]\n  - [edge:lan1, core:p2]",
      "error port-cabled-twice: `edge:lan1` is cabled twice | edge:lan1",
    ],
    [
      "a cable in a radio",
      "cables:\n  - [phone:wlan, core:p1]",
      "error wrong-kind: `phone:wlan` is a radio, which takes no cable | phone:wlan",
    ],
    [
      "a fate that is not there",
      "cables:\n  - { ends: [edge:lan1, core:p1], shares: [duct] }",
      "error unknown-name: no shared fate `duct` | duct",
    ],
  ])("%s", (_, topology, expected) => {
    expect(drawn(topology, "")).toEqual([expected]);
  });
});

describe("names", () => {
  it("share one namespace across documents", () => {
    const { diagnostics } = resolvedOf(TOPOLOGY, NETWORKS, "sets: { crew: [laptop], edge: [laptop] }");
    expect(diagnostics.map(({ message }) => message)).toEqual([
      "the set `crew` bears the name of a network",
      "the set `edge` bears the name of a device",
    ]);
  });

  it("are declared once", () => {
    const { diagnostics } = resolvedOf(
      TOPOLOGY,
      "devices: { edge: { mtu: 1400 } }",
      "devices: { edge: { mtu: 1500 } }",
    );
    expect(diagnostics.map(({ code, message }) => `${code}: ${message}`)).toEqual([
      "name-taken: intent of device `edge` is declared twice",
    ]);
  });

  it("that nothing bears are told once, with every place", () => {
    const { diagnostics } = resolvedOf(
      TOPOLOGY,
      NETWORKS,
      told("core", "{ switching: { ports: { p1: { untagged: crw }, p2: { untagged: crw }, p3: { tagged: [crw] } } } }"),
    );
    expect(diagnostics.map(({ message, labels }) => [message, labels.length])).toEqual([["no network `crw`", 3]]);
  });

  it("of things that could not be read are taken to exist", () => {
    const { diagnostics } = resolvedOf(
      "devices:\n  edge: { is: router, ports: { lan1: 1Q } }\n  core: { is: switch, ports: { p1: 1G } }\ncables:\n  - [edge:lan1, core:p1]\n",
    );
    expect(diagnostics.map(({ code }) => code)).toEqual(["bad-rate"]);
  });
});

describe("a plan that means nothing", () => {
  it.each([
    ["an intent for nobody", told("edgy", "{ mtu: 1400 }"), "error unknown-name: no device `edgy` | edgy | try `edge`"],
    [
      "a bond's unknown member",
      told("edge", "{ bonds: { pair: { members: [lan1, lan7], mode: lacp } } }"),
      "error unknown-name: no port `lan7` on `edge` | lan7 | try `lan1`",
    ],
    [
      "a bond named like a port",
      told("edge", "{ bonds: { wan: { members: [lan1, lan2], mode: lacp } } }"),
      "error name-taken: the bond `wan` bears the name of a port of `edge` | wan",
    ],
    [
      "a member of two bonds",
      told("edge", "{ bonds: { a: { members: [lan1, lan2], mode: lacp }, b: { members: [lan2, lan3], mode: lacp } } }"),
      "error ranges-overlap: port `lan2` is a member in `a` and in `b` | lan2",
    ],
    [
      "a role on a bond's member",
      told(
        "core",
        "{ bonds: { pair: { members: [p1, p2], mode: lacp } }, switching: { ports: { p1: { untagged: crew } } } }",
      ),
      "error setting-on-member: `p1` is a member of the bond `pair` and carries no settings of its own | p1 | write `pair` here",
    ],
    [
      "an address on a bond's member",
      told(
        "edge",
        "{ bonds: { pair: { members: [lan1, lan2], mode: lacp } }, interfaces: { x: { port: lan2, ipv4: 10.1.1.1/24 } } }",
      ),
      "error setting-on-member: `lan2` is a member of the bond `pair` and carries no settings of its own | lan2 | write `pair` here",
    ],
    [
      "a port role that is not there",
      told("core", "{ switching: { ports: { p1: seat } } }"),
      "error unknown-name: no port role `seat` | seat",
    ],
    [
      "a network without a VLAN on a switch",
      told("core", "{ switching: { ports: { p1: { untagged: rescue } } } }"),
      "error no-vlan: network `rescue` has no VLAN, so no switch can carry it | rescue",
    ],
    [
      "a VLAN that leaves tagged and untagged",
      told("core", "{ switching: { ports: { p1: { untagged: crew, tagged: [10-30] } } } }"),
      "error ranges-overlap: VLAN 30 leaves this port both tagged and untagged | 10-30",
    ],
    [
      "an interface on nothing",
      told("edge", "{ interfaces: { crew: { network: crew, host: 1 } } }"),
      "error no-footing: interface `crew` of `edge` stands on nothing | crew | name the `port` it stands on",
    ],
    [
      "a host number that does not fit",
      told("laptop", "{ legs: { nic: { network: visitors, host: 300 } } }"),
      "error address-outside: host number 300 does not fit in `10.71.40.0/24` | 300",
    ],
    [
      "an address outside its network",
      told("laptop", "{ legs: { nic: { network: visitors, ipv4: 10.71.41.7 } } }"),
      "error address-outside: `10.71.41.7` lies outside of network `visitors` | 10.71.41.7",
    ],
    [
      "an address without a length",
      told("laptop", "{ legs: { nic: { ipv4: 10.71.41.7 } } }"),
      "error bad-prefix: `10.71.41.7` needs a prefix length here | 10.71.41.7 | write `10.71.41.7/24`",
    ],
    [
      "a pool outside its network",
      told(
        "edge",
        "{ interfaces: { v: { network: visitors, port: lan1, host: 1 } }, dhcp: { v: { hosts: 100-256 } } }",
      ),
      "error address-outside: host number 256 lies outside of `10.71.40.0/24` | 100-256",
    ],
    [
      "two interfaces for the same frames",
      told("edge", "{ interfaces: { a: { port: wan, ipv4: lease }, b: { port: wan, ipv4: 10.9.9.1/24 } } }"),
      "error interface-clash: `a` and `b` of `edge` both stand on `wan` untagged | b | give one of them a `tag`, such as its network, or another port; several addresses on one interface are a list",
    ],
    [
      "a gateway off the link",
      told("laptop", "{ legs: { nic: { network: visitors, host: 9, gateway: 10.71.30.1 } } }"),
      "error gateway-off-link: `10.71.30.1` is on no link of `laptop` | 10.71.30.1",
    ],
    [
      "a gateway that is the device itself",
      told("laptop", "{ legs: { nic: { network: visitors, host: 9, gateway: 10.71.40.9 } } }"),
      "error gateway-off-link: `10.71.40.9` is an address of `laptop` itself | 10.71.40.9",
    ],
    [
      "a route by a next hop off the link",
      told(
        "edge",
        "{ interfaces: { v: { network: visitors, port: lan1, host: 1 } }, routes: [{ to: 10.9.0.0/16, via: 10.8.0.1 }] }",
      ),
      "error gateway-off-link: `10.8.0.1` is on no link of `edge` | 10.8.0.1",
    ],
    [
      "a set that contains itself",
      "sets: { staff: [office], office: [staff, laptop] }\n",
      "error set-loop: set `staff` contains itself | staff",
    ],
    [
      "leases from an interface without an address",
      told(
        "edge",
        "{ interfaces: { wan: { port: wan, ipv4: lease } }, dhcp: { wan: { addresses: 10.1.1.5-10.1.1.9 } } }",
      ),
      "error no-address: `edge/wan` has no IPv4 address of its own to serve leases from | wan",
    ],
    [
      "a reservation that may mean two legs",
      `${told(
        "edge",
        "{ interfaces: { v: { network: visitors, port: lan1, host: 1 } }, dhcp: { v: { hosts: 100-199, reservations: { archive: { host: 20 } } } } }",
      )}  archive: { legs: { a: { network: visitors, ipv4: lease }, b: { network: visitors, ipv4: lease } } }\n`,
      "error ambiguous-leg: `archive` has several legs that this reservation may mean | archive | name its `leg`",
    ],
    [
      "a reservation of the router's own address",
      keeping("laptop: { host: 1 }"),
      "error reservation-taken: 10.71.40.1 is reserved for `laptop`, and `edge/v` has it | 1 | reserve another address for `laptop`",
    ],
    [
      "one address kept for two clients",
      keeping('laptop: { host: 30 }, lamp: { host: 30, mac: "02:00:00:00:00:01" }'),
      "error reservation-shared: 10.71.40.30 is reserved for `laptop` and `lamp` | 30 | reserve another address for one of them",
    ],
    [
      "two addresses kept for one client",
      keeping('fan: { host: 31, mac: "02:00:00:00:00:01" }, lamp: { host: 30, mac: "02:00:00:00:00:01" }'),
      'error reservation-shared: the reservations of `fan` and `lamp` are for one hardware address | "02:00:00:00:00:01" | keep one of them',
    ],
    [
      "a rule about an interface that is not there",
      told(
        "edge",
        "{ interfaces: { wan: { port: wan, ipv4: lease } }, filter: { to: { otherwise: drop, rules: [{ name: x, in: won, action: accept }] } } }",
      ),
      "error unknown-name: no interface `won` on `edge` | won | try `wan`",
    ],
    [
      "a rule about nobody",
      told("edge", "{ filter: { to: { otherwise: drop, rules: [{ name: x, source: crow, action: accept }] } } }"),
      "error unknown-name: no network, device or set `crow` | crow | try `crew`",
    ],
    [
      "a forward to who has no fixed address",
      told("edge", "{ translate: { dest: [{ name: web, service: tcp/443, to: laptop }] } }") +
        "  laptop: { legs: { nic: lease } }\n",
      "error no-address: `laptop` has no fixed address | laptop | reserve one, or write the address out",
    ],
    [
      "switching on an unmanaged switch",
      told("desk", "{ switching: { tags: obeyed } }"),
      "error wrong-kind: `switching` has no meaning on an unmanaged-switch | { tags: obeyed }",
    ],
    [
      "legs on a router",
      told("edge", "{ legs: { wan: lease } }"),
      "error wrong-kind: `legs` has no meaning on a router | { wan: lease } | every device but a host has `interfaces`",
    ],
    [
      "an SSID without its radio",
      told("loft", "{ ssids: { Guest: { radio: band2, network: visitors } } }"),
      "error unknown-name: no radio `band2` on `loft` | band2 | try `band5`",
    ],
    [
      "a claim on a port that is not there",
      told("edge", "{ rescue: { at: lan9, address: lease, reaches: [edge] } }"),
      "error unknown-name: no port `lan9` on `edge` | lan9 | try `lan1`",
    ],
  ])("%s", (_, intent, expected) => {
    expect(drawn("", intent)).toEqual([expected]);
  });
});

describe("a tunnel that contradicts itself", () => {
  const edge = (tunnels: string, more = ""): string =>
    told("edge", `{ tunnels: { ${tunnels} }, interfaces: { wan: { port: wan, ipv4: 203.0.113.2/24 } ${more} } }`);
  const core = (tunnels: string): string =>
    `  core: { tunnels: { ${tunnels} }, interfaces: { up: { port: p1, ipv4: 10.9.9.9/24 } } }\n`;
  const LISTENING = "link: { listen: 4701, peers: { edge/link: { allowed: [10.9.0.1] } } }";
  const PEER = "link: { peers: { core/link: { endpoint: 203.0.113.9, allowed: [10.9.0.2] } } }";

  it.each([
    ["draws nothing where both ends know each other", edge(PEER) + core(LISTENING), []],
    [
      "a peer that has no such tunnel",
      edge("link: { peers: { core/lnik: { allowed: [10.9.0.2] } } }") +
        core(LISTENING.replace("edge/link", "edge/link")),
      [
        "error unknown-name: no tunnel `lnik` on `core` | core/lnik | try `core/link`",
        "warning tunnel-one-sided: `edge/link` does not know `core/link`, so the tunnel never comes up | edge/link",
      ],
    ],
    [
      "a peer that does not know it",
      edge(PEER) + core("link: { listen: 4701, peers: {} }"),
      ["warning tunnel-one-sided: `core/link` does not know `edge/link`, so the tunnel never comes up | core/link"],
    ],
    [
      "a peer that says no port",
      edge(PEER) + core("link: { peers: { edge/link: { allowed: [10.9.0.1] } } }"),
      ["warning tunnel-portless: `edge/link` sends to `core/link`, which states no port to listen on | 203.0.113.9"],
    ],
    [
      "the name of a port",
      edge("lan1: { peers: {} }"),
      ["error name-taken: the tunnel `lan1` of `edge` bears the name of a port | lan1"],
    ],
    [
      "a lease by a tunnel",
      edge("link: { peers: {} }", ", far: { port: link, ipv4: lease }"),
      [
        "error wrong-kind: `far` of `edge` stands on a tunnel, which carries no frames | lease | a tunnel takes addresses that are written out",
      ],
    ],
  ])("%s", (_, intent, expected) => {
    expect(drawn("", intent)).toEqual(expected);
  });
});

describe("what is not modelled is said aloud", () => {
  it.each([
    [
      "a bare interface beside a PPPoE session",
      told(
        "edge",
        "{ interfaces: { wan: { port: wan, pppoe: yes, ipv4: lease }, modem: { port: wan, ipv4: 192.168.1.9/24 } } }",
      ),
      "an interface beside the PPPoE session on `wan` is not modelled",
    ],
    [
      "prefixes delegated over a link that has none itself",
      told("carrier", "{ hands-out: { drop: { delegates: 56 } } }"),
      "prefixes delegated over a link without an own one are not modelled",
    ],
  ])("%s", (_, intent, expected) => {
    expect(drawn("", intent).map((line) => line.split(" | ")[0])).toEqual([`error not-modelled: ${expected}`]);
  });

  it("clamped segments, which no exchange is long enough for", () => {
    const edge = told("edge", "{ interfaces: { wan: { port: wan, pppoe: { clamp-mss: yes }, ipv4: lease } } }");
    expect(drawn("", edge)).toEqual([
      "note not-modelled: segments of full size are not modelled, so `clamp-mss` changes no verdict | yes",
    ]);
  });
});

describe("what a device accepts is simulated, with a warning", () => {
  const routed = "interfaces: { v: { network: visitors, port: lan1, host: 1 } }";
  it.each([
    [
      "one VLAN for two networks",
      "networks: { more: { vlan: 30, ipv4: 10.9.0.0/24 } }\n",
      "vlan-shared: networks `crew` and `more` both have VLAN 30",
    ],
    [
      "overlapping prefixes",
      "networks: { more: { vlan: 31, ipv4: 10.71.30.128/25 } }\n",
      "prefix-shared: networks `crew` and `more` share addresses",
    ],
    [
      "one address twice",
      told("laptop", "{ legs: { nic: { network: visitors, host: 9 } } }") +
        "  archive: { legs: { a: { network: visitors, host: 9 } } }\n",
      "address-shared: `laptop/nic` and `archive/a` both have 10.71.40.9",
    ],
    [
      "one hardware address twice",
      `${told("edge", `{ ${routed} }`)}  laptop: { legs: { nic: { network: visitors, host: 9, mac: "02:00:00:00:00:01" } } }
  archive: { legs: { a: { network: visitors, host: 8, mac: "02:00:00:00:00:01" } } }
`,
      "hardware-shared: `laptop/nic` and `archive/a` both have 02:00:00:00:00:01 in `visitors`",
    ],
    [
      "a broadcast address",
      told("laptop", "{ legs: { nic: { network: visitors, host: 255 } } }"),
      "address-special: 10.71.40.255 of `laptop/nic` is the last address of its prefix",
    ],
    [
      "a pool over the router's address",
      told("edge", `{ ${routed}, dhcp: { v: { hosts: 1-199 } } }`),
      "pool-covers-address: the pool of `v` covers 10.71.40.1, the address of `edge/v`",
    ],
    [
      "unequal members",
      told("edge", "{ bonds: { pair: { members: [lan1, fibre], mode: lacp } } }"),
      "bond-uneven: the members of `pair` have unequal rates",
    ],
    [
      "an interface on a switched port",
      told(
        "core",
        "{ switching: { ports: { p1: { untagged: crew } } }, interfaces: { x: { port: p1, tag: 40, network: visitors, host: 2 } } }",
      ),
      "port-shared: `x` of `core` stands on `p1`, which is switched as well",
    ],
    [
      "an interface on a port that is off",
      told("core", '{ switching: { ports: { p1: "off" } }, interfaces: { x: { port: p1, ipv4: 10.9.9.9/24 } } }'),
      "port-shared: `x` of `core` stands on `p1`, which is switched off",
    ],
    [
      "a rule about a lease",
      `${told(
        "edge",
        `{ ${routed}, filter: { to: { otherwise: drop, rules: [{ name: x, source: laptop, action: accept }] } } }`,
      )}  laptop: { legs: { nic: lease } }\n`,
      "lease-unknown: nobody knows which address `laptop/nic` will have",
    ],
    [
      "a reservation for a private hardware address",
      told("edge", `{ ${routed}, dhcp: { v: { hosts: 100-199, reservations: { laptop: { host: 20 } } } } }`) +
        "  laptop: { legs: { nic: { network: visitors, ipv4: lease, mac: private } } }\n",
      "reservation-unmatched: `laptop/nic` shows a private hardware address, which this reservation does not match",
    ],
    [
      "a reservation for a client elsewhere",
      told("edge", `{ ${routed}, dhcp: { v: { hosts: 100-199, reservations: { laptop: { host: 20 } } } } }`) +
        "  laptop: { legs: { nic: { network: crew, ipv4: lease } } }\n",
      "reservation-unmatched: `laptop` is on no leg in `visitors`, so it never asks for this address",
    ],
    [
      "a reservation for a client that asks for none",
      keeping("laptop: { host: 20 }").replace("ipv4: lease", "host: 20"),
      "reservation-unmatched: `laptop/nic` has 10.71.40.20 by itself, so it never asks for a lease",
    ],
    [
      "a prefix that nobody delegates",
      told("edge", "{ interfaces: { wan: { port: wan, ipv6: delegated } } }"),
      "not-delegated: no prefix is delegated to `edge/wan`",
    ],
    [
      "a network cut from an uplink that asks for no prefix",
      "networks: { more: { ipv6: { delegated: edge/wan, subnet: 1 } } }\n" +
        told("edge", "{ interfaces: { wan: { port: wan, ipv6: advertised } } }"),
      "not-delegated: `edge/wan` asks for no prefix",
    ],
    [
      "an SSID that nobody offers",
      told("phone", "{ joins: Guest, legs: { wlan: lease } }"),
      "ssid-nowhere: no access point offers `Guest`",
    ],
    [
      "a leg on a radio that joins nothing",
      told("phone", "{ legs: { wlan: lease } }"),
      "radio-idle: `wlan` of `phone` is a radio that joins no SSID",
    ],
  ])("%s", (_, intent, expected) => {
    const { diagnostics, site } = resolvedOf(TOPOLOGY, NETWORKS, intent);
    expect(diagnostics.map(({ severity, code, message }) => `${severity} ${code}: ${message}`)).toEqual([
      `warning ${expected}`,
    ]);
    expect(site).toBeDefined();
  });

  it("one address in networks that never meet", () => {
    const { diagnostics } = resolvedOf(
      TOPOLOGY,
      "networks: { one: { ipv4: 10.9.0.0/24 }, two: { vlan: 9 } }\n" +
        told("laptop", "{ legs: { nic: { network: one, host: 9 } } }") +
        "  archive: { legs: { a: { network: two, ipv4: 10.9.0.9/24 } } }\n",
    );
    expect(diagnostics).toEqual([]);
  });
});

describe("what follows from a first cause is not told", () => {
  const broken = (intent: string) =>
    resolvedOf(TOPOLOGY, NETWORKS + intent).diagnostics.map(({ code, message }) => `${code}: ${message}`);

  it("names in a file that could not be read", () => {
    const { diagnostics } = resolvedOf(`${TOPOLOGY}cables: [[`, NETWORKS + told("edge", "{ mtu: 1400 }"));
    expect(diagnostics.map(({ code }) => code)).toEqual(["syntax"]);
  });

  it("a network that lost its VLAN", () => {
    const { diagnostics } = resolvedOf(
      TOPOLOGY,
      "networks: { crew: { vlan: 4095 } }\n",
      told("core", "{ switching: { ports: { p1: { untagged: crew } } } }"),
    );
    expect(diagnostics.map(({ code }) => code)).toEqual(["bad-vlan"]);
  });

  it("a gateway of a leg that lost its address", () => {
    expect(broken(told("laptop", "{ legs: { nic: { network: visitors, host: 300, gateway: 10.71.40.1 } } }"))).toEqual([
      "address-outside: host number 300 does not fit in `10.71.40.0/24`",
    ]);
  });

  it("a forward to a host whose reservation is lost", () => {
    const edge =
      "{ interfaces: { v: { network: visitors, port: lan1, host: 1 } }, dhcp: { v: { hosts: 100-199, reservations: { lapdog: { host: 20 } } } }, translate: { dest: [{ name: web, service: tcp/443, to: laptop }] } }";
    expect(broken(`${told("edge", edge)}  laptop: { legs: { nic: { network: visitors, ipv4: lease } } }\n`)).toEqual([
      "unknown-name: no device `lapdog`",
    ]);
  });

  it("uses of a network that bears a device's name", () => {
    const more = "networks: { laptop: { vlan: 77 } }\n";
    expect(
      resolvedOf(
        TOPOLOGY,
        more + told("core", "{ switching: { ports: { p1: { untagged: laptop } } } }"),
      ).diagnostics.map(({ message }) => message),
    ).toEqual(["the network `laptop` bears the name of a device"]);
  });
});

describe("all at once", () => {
  it("in the order of their places, and no site", () => {
    const { site, diagnostics } = resolvedOf(
      `${TOPOLOGY}cables:\n  - [edge:lan9, core:p1]\n`,
      `${NETWORKS + told("laptop", "{ legs: { nic: { network: visitors, host: 300 } } }")}  edgy: { mtu: 1400 }\n`,
    );
    expect(diagnostics.map(({ code }) => code)).toEqual(["unknown-name", "address-outside", "unknown-name"]);
    expect(site).toBeUndefined();
  });
});

describe("cables that lead nowhere", () => {
  const SEAT = "legs: { nic: { network: crew, host: 9 } }";
  const drawnBy = (cables: string, core: string) =>
    drawn(`cables: [${cables}]`, `devices:\n  core: { ${core} }\n  laptop: { ${SEAT} }\n`);
  const IDLE = "warning cable-idle: a cable leads into";

  it("into a port that is switched off", () => {
    const off = drawnBy("[laptop:nic, core:p8]", 'switching: { unlisted: "off", ports: { p1: { untagged: crew } } }');
    expect(off).toEqual([`${IDLE} \`core:p8\`, which is switched off | [laptop:nic, core:p8]`]);
  });

  it("into a port that nothing uses", () => {
    const unused = drawn(
      "cables: [[edge:lan1, archive:b]]",
      `devices:\n  edge: { interfaces: { crew: { network: crew, port: lan1, host: 1 } } }\n  archive: { legs: { a: { network: crew, host: 9 } } }\n`,
    );
    expect(unused).toEqual([`${IDLE} \`archive:b\`, which nothing uses | [edge:lan1, archive:b]`]);
  });

  it("are not those into a port in use, nor those of a device that is told nothing", () => {
    expect(drawnBy("[laptop:nic, core:p1]", "switching: { ports: { p1: { untagged: crew } } }")).toEqual([]);
    expect(drawn("cables: [[edge:lan1, archive:b]]", "")).toEqual([]);
  });

  const bonds = (far: string) =>
    drawn(
      `cables: [[edge:lan1, core:p1], [edge:lan2, core:${far}]]`,
      `devices:
  edge: { switching: {}, bonds: { pair: { members: [lan1, lan2], mode: lacp } } }
  core: { switching: {}, bonds: { two: { members: [p1, p2], mode: lacp } } }
`,
    );

  it("from a member of a bond past the bond at the other end", () => {
    expect(bonds("p3")).toEqual([
      "warning bond-stray: `lan2` of the bond `pair` is cabled to `core:p3`, no member of `two` | [edge:lan2, core:p3]",
    ]);
    expect(bonds("p2")).toEqual([]);
  });

  it.each([
    ["lacp", "core: { switching: {} }", true],
    ["static", "core: { switching: {} }", true],
    ["active-backup", "core: { switching: {} }", false],
    // Of one that is told nothing nobody knows whether it has a bond.
    ["lacp", "archive: { legs: { a: { network: crew, host: 9 } } }", false],
    ["lacp", "core: { switching: {}, bonds: { two: { members: [p1, p2], mode: lacp } } }", false],
  ])("from a bond by %s into ports that are no bond: %s", (mode, far, isTold) => {
    const found = drawn(
      "cables: [[edge:lan1, core:p1], [edge:lan2, core:p2]]",
      `devices:\n  edge: { switching: {}, bonds: { pair: { members: [lan1, lan2], mode: ${mode} } } }\n  ${far}\n`,
    );
    const alone =
      "warning bond-alone: the bond `pair` of `edge` finds no partner | pair | bond these ports at the other end, too, with one mode at both ends";
    expect(found).toEqual(isTold ? [alone] : []);
  });

  it("names those ports beside the headline, which stays the same when one of them is pulled", () => {
    const bond = "bonds: { pair: { members: [lan1, lan2], mode: lacp } }";
    const { diagnostics } = resolvedOf(
      `${TOPOLOGY}cables: [[edge:lan1, core:p1], [edge:lan2, core:p2]]`,
      `${NETWORKS}devices:\n  edge: { switching: {}, ${bond} }\n  core: { switching: {} }\n`,
    );
    expect(diagnostics.map(({ code, notes }) => [code, ...notes])).toEqual([
      ["bond-alone", "`core:p1`, `core:p2` are no bond"],
    ]);
  });
});

describe("a host that is trusted to be alone at its cables", () => {
  const cables = "cables:\n  - [archive:a, core:p1]\n  - [archive:b, desk:d1]\n";
  const idle = (name: string, why: string, place: string, help = "") =>
    `warning trust-idle: nothing comes of trusting \`${name}\`: ${why} | ${place}${help}`;
  const desk = "its cable leads to `desk`, an unmanaged switch, where anybody can plug in";
  const MANAGED = " | cable it to a port of a managed switch";

  it.each([
    ["at a port", "archive", "{ trusted: a }", []],
    ["at a bond", "archive", "{ bonds: { two: { members: [a], mode: static } }, trusted: two }", []],
    [
      "at a port that it has not",
      "archive",
      "{ trusted: [a, c] }",
      ["error unknown-name: no port `c` on `archive` | c"],
    ],
    [
      "of no word for it",
      "archive",
      "{ trusted: alll }",
      ["error unknown-name: no port `alll` on `archive` | alll | try `all`"],
    ],
    ["at no port", "archive", "{ trusted: [] }", ["error wrong-shape: the list of `trusted` is empty | []"]],
    [
      "at one port twice",
      "archive",
      "{ trusted: [a, a] }",
      ["error ranges-overlap: `a` and `a` both mean `a` | a | leave out one of the two"],
    ],
    [
      "by radio",
      "phone",
      "{ trusted: wlan }",
      [
        "error wrong-kind: `phone:wlan` is a radio, and who else is on the air nobody knows | wlan | name ports that a cable is in",
      ],
    ],
    [
      "at all ports, having none",
      "phone",
      "{ trusted: all }",
      [idle("phone", "it has no port that a cable is in", "all")],
    ],
    ["at a port without a cable", "laptop", "{ trusted: [nic] }", [idle("laptop:nic", "no cable is in it", "nic")]],
    ["at an unmanaged switch", "archive", "{ trusted: [b] }", [idle("archive:b", desk, "b", MANAGED)]],
    ["at all ports, one of them there", "archive", "{ trusted: all }", [idle("archive:b", desk, "all", MANAGED)]],
    ...(["edge", "core", "loft", "carrier"] as const).map(
      (device) =>
        [
          `though it is none (${device})`,
          device,
          "{ trusted: all }",
          [
            expect.stringMatching(
              /^error wrong-kind: `trusted` has no meaning on .* \| all \| drop it: only the cable of a host is taken for one that anybody may plug in at$/,
            ),
          ],
        ] as const,
    ),
    [
      "though it is none (desk)",
      "desk",
      "{ trusted: all }",
      [
        "error wrong-kind: `trusted` has no meaning on an unmanaged-switch | all | anybody can plug in there: cable the host that is meant to a managed switch, and say it of the host",
      ],
    ],
  ] as const)("%s", (_, device, intent, wanted) => {
    expect(drawn(cables, told(device, intent))).toEqual(wanted);
  });
});
