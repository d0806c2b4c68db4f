/** Stacks: the order of hooks, addresses, routes, rules and services. */
import { describe, expect, it } from "vitest";
import { formatAddress } from "../../src/address/index.ts";
import type { Network, Route, Service } from "../../src/network/index.ts";
import { networkOf } from "../support/site.ts";
import { matches, NETWORKS, partOf, rules, sequences, station, TOPOLOGY } from "./plan.ts";

const FILTER = `    filter:
      to:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: administration, in: management, source: admins, dest: edge/management, service: [tcp/22, tcp/443, udp/53], action: accept }
      through:
        otherwise: { action: reject, with: prohibited }
        rules: []
      from: { otherwise: accept }
`;
const TRANSLATE = `    translate:
      source: [{ name: one, family: ipv4, out: wan, to: external-address }]
      dest: [{ name: web, in: wan, service: tcp/443, to: 10.71.30.20, to-port: 8443 }]
`;

function routes(network: Network, device: string): readonly string[] {
  const table = partOf(network.tables, `${device}/routes`);
  if (table.kind !== "routes") throw new Error(`${table.id} is no table of routes`);
  return table.routes.map(routeText);
}

function routeText({ family, prefix, length, action }: Route): string {
  const to = `${formatAddress({ family, value: prefix })}/${length}`;
  if (action.do !== "forward") return `${to} ${action.do === "refuse" ? action.reason : action.do}`;
  const via = (value: bigint | undefined) => (value === undefined ? "on link" : formatAddress({ family, value }));
  return `${to} ${action.hops.map((hop) => `${hop.egress} ${via(hop.via)}`).join(" or ")}`;
}

describe("the order of hooks", () => {
  it("without filter and translation has neither, and tracks nothing", () => {
    expect(sequences(partOf(station().stacks, "edge/stack"))).toEqual([
      "require route",
      "own-source deliver",
      "own-source hop-limit require fit fit neighbour transmit",
      "route fit neighbour transmit",
    ]);
  });

  it("puts routes and hop limit before the filter and the neighbour after it (kernel fact 1)", () => {
    expect(sequences(partOf(station(FILTER + TRANSLATE).stacks, "edge/stack"))).toEqual([
      "track translate/dest require route",
      "own-source filter/to confirm deliver",
      "own-source hop-limit require fit filter/through translate/source confirm fit neighbour transmit",
      "route track filter/from translate/source confirm fit neighbour transmit",
    ]);
  });

  it("of the standards looks at martians first (RFC 1812 section 5.2.1)", () => {
    const { received } = partOf(station(`    profile: rfc\n${TRANSLATE}`).stacks, "edge/stack");
    expect(received.map(({ op }) => op).join(" ")).toBe("require broadcast-source track translate own-source route");
  });

  it("of who does not forward ends transit silently in IPv4 (kernel fact 3)", () => {
    const stack = partOf(station().stacks, "laptop/stack");
    expect(stack.onward.map(({ op }) => op)).toEqual(["no-transit"]);
    const table = partOf(station().tables, "laptop/routes");
    expect(table.otherwise.action).toMatchObject({
      do: "refuse",
      reason: "no-route",
      with: { silentFor: 4 },
    });
  });

  it("checks sources against the routes where told", () => {
    const { received } = partOf(station("    reverse-path: strict\n").stacks, "edge/stack");
    expect(received.find(({ op }) => op === "reverse-path")).toMatchObject({ mode: "strict" });
  });

  it("of an upstream answers for everything and forwards to its customers, whose addresses are nobody else's", () => {
    const network = station();
    const stack = partOf(network.stacks, "carrier/stack");
    expect(stack.answersFor).toBe("everywhere");
    expect(stack.onward.map(({ op }) => op)).not.toContain("no-transit");
    expect(stack.onward.at(-1)?.op).toBe("transmit");
    expect(routes(network, "carrier")).toEqual([
      "203.0.113.0/24 carrier/drop on link",
      "203.0.113.0/24 unreachable",
      "0.0.0.0/0 local",
      "::/0 local",
    ]);
  });

  it("does not exist where a device has no interface", () => {
    const network = networkOf(TOPOLOGY);
    expect(network.stacks).toEqual([]);
    expect(network.tables).toEqual([]);
  });
});

describe("profiles", () => {
  const stackOf = (profile: string) =>
    partOf(station(`    profile: ${profile}\n${FILTER}${TRANSLATE}`).stacks, "edge/stack");

  it("differ in idle times", () => {
    expect(stackOf("linux").tracking).toMatchObject({ tcpEstablishedSeconds: 432000, udpSeconds: 30 });
    // RFC 5382 REQ-5, RFC 4787 REQ-5.
    expect(stackOf("rfc").tracking).toMatchObject({
      tcpEstablishedSeconds: 7440,
      tcpTransitorySeconds: 240,
      udpSeconds: 300,
    });
  });

  it("differ in what a packet amid an unknown connection is, unless told", () => {
    const track = (stack: ReturnType<typeof stackOf>) => stack.received.find(({ op }) => op === "track");
    expect([track(stackOf("linux")), track(stackOf("rfc"))]).toMatchObject([
      { midStream: "new" },
      { midStream: "invalid" },
    ]);
    const told = partOf(
      station(FILTER.replace("filter:\n", "filter:\n      mid-stream: invalid\n")).stacks,
      "edge/stack",
    );
    expect(track(told)).toMatchObject({ midStream: "invalid" });
  });

  it("differ in mapping (RFC 4787 REQ-1, REQ-8, REQ-9)", () => {
    expect(stackOf("linux").mapping).toBeUndefined();
    expect(stackOf("rfc").mapping).toEqual({
      scope: "endpoint",
      filtering: "endpoint-independent",
      hairpin: true,
    });
  });

  it("differ in the all-zeros host (kernel fact 9, RFC 1812 section 4.2.3.1)", () => {
    expect(routes(station("    profile: rfc\n"), "edge")).toContain("10.71.30.0/32 martian");
    expect(routes(station(), "edge").filter((route) => route.includes("/32"))).toEqual([]);
  });

  it("differ in 240/4 and 0/8 (kernel fact 9, RFC 1812 section 5.3.7)", () => {
    const martian = (profile: string) => {
      const step = stackOf(profile).received.find(({ op }) => op === "require");
      return step?.op === "require" ? matches(step.that)[0] : undefined;
    };
    expect(martian("linux")).toBe(
      "family=4 source=0.0.0.1-126.255.255.255,128.0.0.0-223.255.255.255,240.0.0.0-255.255.255.254 destination=0.0.0.1-126.255.255.255,128.0.0.0-255.255.255.255",
    );
    expect(martian("rfc")).toBe(
      "family=4 source=1.0.0.0-126.255.255.255,128.0.0.0-223.255.255.255 destination=1.0.0.0-126.255.255.255,128.0.0.0-239.255.255.255,255.255.255.255",
    );
  });
});

describe("interface", () => {
  const network = station();
  const leg = (id: string) =>
    partOf(
      network.stacks.flatMap(({ interfaces }) => interfaces),
      id,
    );

  it("stands on a port, or on the bridge's own port with the tag of its network", () => {
    expect(leg("edge/rescue")).toMatchObject({ on: "edge:lan5", network: "rescue" });
    expect(leg("edge/crew")).toMatchObject({ on: "edge/switching/own", vlan: 30, network: "crew" });
  });

  it("has a link-local address where it speaks IPv6 (RFC 2464 section 5)", () => {
    const texts = (id: string) =>
      leg(id).addresses.map(({ family, value, prefixLength }) => `${formatAddress({ family, value })}/${prefixLength}`);
    expect(texts("edge/crew").slice(0, 2)).toEqual(["10.71.30.1/24", "fd71:2c9e:5a04:30::1/64"]);
    expect(texts("edge/crew")[2]).toMatch(/^fe80::.*\/64$/);
    expect(texts("edge/management")).toEqual(["10.71.10.1/24"]);
  });

  it("awaits a lease and advertisements, with or without their gateways", () => {
    expect(leg("archive/b").awaits.map(({ id, gateway }) => [id, gateway])).toEqual([
      ["archive/b/lease", true],
      ["archive/b/advertisement", true],
    ]);
    expect(leg("edge/wan").awaits.map(({ from }) => from)).toEqual(["lease"]);
    const plan = "devices:\n  laptop: { legs: { nic: { ipv4: lease, gateway: none } } }\n";
    expect(partOf(networkOf(TOPOLOGY, plan).stacks, "laptop/stack").interfaces[0]?.awaits).toMatchObject([
      { from: "lease", gateway: false },
    ]);
  });
});

describe("routes", () => {
  it("are the connected ones and those of gateways, longest first", () => {
    expect(routes(station(), "laptop")).toEqual([
      "10.71.10.0/24 laptop/nic on link",
      "0.0.0.0/0 laptop/nic 10.71.10.1",
    ]);
  });

  it("may have several hops, or turn packets away", () => {
    const written = `    routes:
      - { to: 10.9.0.0/16, via: [10.71.30.20, 10.71.30.21] }
      - { to: 10.8.0.0/16, action: unreachable }
      - { to: 10.7.0.0/16, action: prohibit }
`;
    const network = station(written);
    expect(routes(network, "edge").filter((route) => route.includes("/16"))).toEqual([
      "10.7.0.0/16 prohibited",
      "10.8.0.0/16 unreachable",
      "10.9.0.0/16 edge/crew 10.71.30.20 or edge/crew 10.71.30.21",
    ]);
    const table = partOf(network.tables, "edge/routes");
    const refused =
      table.kind === "routes"
        ? table.routes.flatMap(({ action }) => (action.do === "refuse" ? [action.with.answer] : []))
        : [];
    expect(refused).toMatchObject([
      { error: { v4: { type: 3, code: 13 }, v6: { type: 1, code: 1 } } },
      { error: { v4: { type: 3, code: 1 }, v6: { type: 1, code: 0 } } },
    ]);
  });
});

describe("filter", () => {
  const table = partOf(station(FILTER).tables, "edge/filter/to");

  it("asks for interfaces, addresses, ports and states", () => {
    expect(rules(table)).toEqual([
      ["answers", "state=established,related"],
      [
        "administration",
        "ingress=edge/management source=10.71.10.50 destination=10.71.10.1 protocol=6 destinationPort=22,443",
        "ingress=edge/management source=10.71.10.50 destination=10.71.10.1 protocol=17 destinationPort=53",
      ],
    ]);
  });

  it("without a list accepts all: there is no step", () => {
    expect(
      partOf(station(FILTER.replace(/ {6}from.*\n/, "")).stacks, "edge/stack").sent.map(({ op }) => op),
    ).not.toContain("filter");
  });

  it("a rule about nobody fits nothing", () => {
    const plan = "sets: { nobody: { every: access-point } }\n";
    const network = networkOf(
      "devices:\n  edge: { is: router, ports: { lan1: 1G } }\n",
      `${plan}devices:\n  edge: { interfaces: { x: { port: lan1, ipv4: 10.1.1.1/24 } }, filter: { to: { otherwise: drop, rules: [{ name: n, source: nobody, action: accept }] } } }\n`,
    );
    expect(rules(partOf(network.tables, "edge/filter/to"))).toEqual([["n"]]);
  });

  it.each([
    ["port-unreachable", { kind: "icmp", error: { v4: { type: 3, code: 3 }, v6: { type: 1, code: 4 } } }],
    ["host-unreachable", { kind: "icmp", error: { v4: { type: 3, code: 1 }, v6: { type: 1, code: 3 } } }],
    ["network-unreachable", { kind: "icmp", error: { v4: { type: 3, code: 0 }, v6: { type: 1, code: 0 } } }],
    ["prohibited", { kind: "icmp", error: { v4: { type: 3, code: 13 }, v6: { type: 1, code: 1 } } }],
    ["tcp-reset", { kind: "tcp-reset", others: { v4: { type: 3, code: 3 }, v6: { type: 1, code: 4 } } }],
  ])("turns away with %s (kernel fact 14)", (word, answer) => {
    const network = station(FILTER.replace("with: prohibited", `with: ${word}`));
    const { action } = partOf(network.tables, "edge/filter/through").otherwise;
    expect(action).toMatchObject({ do: "refuse", with: { answer } });
  });

  it("keeps what nobody knows, with its note", () => {
    const unknown = FILTER.replace(
      "rules: []",
      "rules: [{ name: box, in: wan, action: unknown, note: ask the provider }]",
    );
    const through = partOf(station(unknown).tables, "edge/filter/through");
    expect(through.kind === "filter" ? through.rules[0]?.action : undefined).toEqual({
      do: "unknown",
      note: "ask the provider",
    });
  });
});

describe("translation", () => {
  const network = station(TRANSLATE);

  it("rewrites to the address of the interface it leaves by", () => {
    const table = partOf(network.tables, "edge/translate/source");
    expect(rules(table)).toEqual([["one", "family=4 egress=edge/wan"]]);
    expect(table.kind === "translate" ? table.rules[0]?.action : undefined).toEqual({
      do: "rewrite",
      to: "egress-address",
      oneToOne: false,
    });
  });

  it("forwards packets of the family of the new destination only", () => {
    const table = partOf(network.tables, "edge/translate/dest");
    expect(rules(table)).toEqual([["web", "ingress=edge/wan family=4 protocol=6 destinationPort=443"]]);
    expect(table.kind === "translate" ? table.rules[0]?.action : undefined).toMatchObject({
      to: [[0x0a471e14n, 0x0a471e14n]],
      ports: [[8443n, 8443n]],
    });
  });
});

describe("services", () => {
  const services = (network: Network, device: string): readonly Service[] =>
    network.services.filter(({ stack }) => stack === `${device}/stack`);

  it("of administration are bound to the interfaces listed", () => {
    const admin = partOf(station().services, "edge/admin");
    expect(admin.kind === "listen" ? [matches(admin.when), admin.boundTo, admin.administers] : []).toEqual([
      ["protocol=6 destinationPort=22,443"],
      ["edge/management", "edge/rescue"],
      true,
    ]);
  });

  it("of a host that says what it serves are these; else everything, assumed", () => {
    const network = station();
    expect(services(network, "archive").map(({ id }) => id)).toEqual(["archive/serves/0"]);
    expect(services(network, "laptop")).toMatchObject([
      { id: "laptop/serves/any", when: [[]], boundTo: "all", assumed: true },
    ]);
    expect(services(network, "carrier").map(({ id }) => id)).toEqual(["carrier/dhcp/drop", "carrier/serves/any"]);
  });

  it("lend addresses on an interface, with options", () => {
    expect(partOf(station().services, "edge/dhcp/rescue")).toMatchObject({
      interface: "edge/rescue",
      subnet: { value: 0x0a476300n, length: 24 },
      pool: [[0x0a47630an, 0x0a476314n]],
      routers: [0x0a476301n],
      resolvers: [],
    });
    expect(partOf(station().services, "carrier/dhcp/drop")).toMatchObject({
      routers: [0xcb007101n],
      leaseSeconds: 3600,
    });
  });

  it("advertise the prefixes of the network", () => {
    const service = partOf(
      station("    advertise: { crew: { router-lifetime: 0s, resolvers: [edge/crew] } }\n").services,
      "edge/advertise/crew",
    );
    expect(service).toMatchObject({
      interface: "edge/crew",
      routerSeconds: 0,
      prefixes: [{ length: 64, onLink: true, autonomous: true, validSeconds: 2592000, preferredSeconds: 604800 }],
      resolvers: [0xfd712c9e5a0400300000000000000001n],
    });
  });

  it("resolve the names of the site's devices", () => {
    const plan =
      "devices:\n  laptop: { legs: { nic: { network: management, host: 50 } }, names: { laptop.example: nic } }\n";
    const network = networkOf(
      TOPOLOGY,
      NETWORKS,
      `${plan}  edge: { interfaces: { x: { network: management, port: lan1, host: 1 } }, resolver: { listen: [x], forward: [198.51.100.53] } }\n`,
    );
    expect(partOf(network.services, "edge/resolver")).toMatchObject({
      listen: ["edge/x"],
      forward: [{ address: 0xc6336435n, origin: { by: "written" } }],
      records: [{ name: "laptop.example", address: 0x0a470a32n }],
    });
  });
});
