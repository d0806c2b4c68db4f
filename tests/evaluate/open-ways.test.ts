/** Who reaches whom at all, and which of that nobody asks about: a router is no station of a network, and whoever is asked about counts for it. */
import { describe, expect, it } from "vitest";
import { Evaluation, openWaysOf, unaskedIn } from "../../src/evaluate/index.ts";
import type { Network } from "../../src/network/index.ts";
import { createProver } from "../../src/prove/index.ts";
import type { Cell } from "../../src/result/index.ts";
import { networkOf } from "../support/site.ts";

const TOPOLOGY = `
devices:
  road: { is: upstream, ports: { line: 1G } }
  gate: { is: router, ports: { wan: 1G, lan1..5: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  press: { is: host, ports: { nic: 1G } }
  till: { is: host, ports: { nic: 1G } }
cables:
  - [road:line, gate:wan]
  - [gate:lan1, desk:nic]
  - [gate:lan2, press:nic]
  - [gate:lan3, till:nic]
`;

function siteWith(rules: string, tillPrefix = "10.2.30.0/24"): Network {
  return networkOf(
    TOPOLOGY,
    `
networks:
  office: { vlan: 10, ipv4: 10.2.10.0/24, ipv6: 2001:db8:2:10::/64 }
  shop: { vlan: 20, ipv4: 10.2.20.0/24, ipv6: 2001:db8:2:20::/64 }
  tills: { vlan: 30, ipv4: ${tillPrefix} }
  rescue: { ipv4: 10.2.99.0/24 }
  attic: { vlan: 50, ipv4: 10.2.50.0/24 }
sets: { back-rooms: [office, attic] }
devices:
  road: { hands-out: { line: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  gate:
    switching:
      unlisted: "off"
      ports: { lan1: { untagged: office }, lan2: { untagged: shop }, lan3: { untagged: tills }, lan5: { untagged: attic } }
      own: { tagged: [office, shop, tills, attic] }
    interfaces:
      wan: { port: wan, ipv4: lease }
      office: { network: office, host: 1 }
      shop: { network: shop, host: 1 }
      tills: { network: tills, host: 1 }
      attic: { network: attic, host: 1 }
      rescue: { network: rescue, port: lan4, host: 1 }
    dhcp: { office: { hosts: 100-199, lease: 1h } }
    filter:
      to:
        otherwise: drop
        rules:
          - { name: leases, in: office, service: udp/67, action: accept }
          - { name: anything to the router, in: rescue, action: accept }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
${rules}
    translate: { source: [ { name: one address, family: ipv4, out: wan, to: external-address } ] }
  desk: { legs: { nic: { network: office, host: 5, gateway: 10.2.10.1 } } }
  press: { legs: { nic: { network: shop, host: 5, gateway: 10.2.20.1 } } }
  till: { legs: { nic: { network: tills, host: 5, gateway: ${tillPrefix.replace("0/24", "1")} } } }`,
  );
}

const RULES = `
          - { name: the press, in: office, out: shop, service: tcp/9100, action: accept }
          - { name: out, in: [office, tills], out: wan, action: accept }
          - { name: from the attic, in: attic, out: tills, service: tcp/22, action: accept }`;

function waysOf(network: Network): Readonly<Record<string, readonly string[]>> {
  const open = openWaysOf(new Evaluation(network));
  if (open === undefined) throw new Error("it takes too many steps");
  return Object.fromEntries(open.map(({ from, to }) => [from, to.map(({ name }) => name)]));
}

function servicesOf(network: Network): readonly string[] {
  const open = openWaysOf(new Evaluation(network)) ?? [];
  return open.flatMap(({ from, to }) => to.map(({ name, services }) => `${from} to ${name}: ${services}`));
}

describe("what is open", () => {
  it("is told from each network, a socket that nobody is plugged into with it, and never because of a router's own addresses", () => {
    expect(waysOf(siteWith(RULES))).toEqual({
      attic: ["tills"],
      office: ["shop", "internet"],
      rescue: [],
      shop: [],
      tills: ["internet"],
    });
  });

  it("is told with what gets through, over either version of IP", () => {
    expect(servicesOf(siteWith(RULES))).toEqual([
      "attic to tills: tcp/22",
      "office to shop: tcp/9100",
      "office to internet: every service",
      "tills to internet: every service",
    ]);
    const all = `
          - { name: pages, in: office, out: shop, family: ipv4, service: tcp/80, action: accept }
          - { name: names, in: office, out: shop, family: ipv6, service: [udp/53, icmp6/echo-request], action: accept }
          - { name: no mail, in: attic, out: tills, service: tcp/25, action: drop }
          - { name: the rest, in: attic, out: tills, action: accept }`;
    expect(servicesOf(siteWith(all))).toEqual([
      "attic to tills: all but tcp/25",
      "office to shop: tcp/80, udp/53, icmp6/echo-request",
    ]);
  });

  it("leaves out networks that share addresses, since nobody could say whose they are", () => {
    const found = waysOf(siteWith(RULES, "10.2.20.0/24"));
    expect(Object.keys(found)).toEqual(["attic", "office", "rescue"]);
    expect(new Map(Object.entries(found)).get("office")).toEqual(["internet"]);
  });
});

describe("whoever proves for an evaluation", () => {
  it("is asked for what is open too: no other prover is made of the same site", () => {
    const made: unknown[] = [];
    const evaluation = new Evaluation(siteWith(RULES), (network, settled) => {
      made.push(settled);
      return createProver(network, settled);
    });
    const { worlds } = evaluation.worlds();
    const first = openWaysOf(evaluation);
    // Each world, and the same with somebody at every empty socket.
    expect(made).toHaveLength(2 * worlds.length);
    expect(openWaysOf(evaluation)).toEqual(first);
    expect(made).toHaveLength(2 * worlds.length);
  });

  it("need not be able to tell", () => {
    const evaluation = new Evaluation(siteWith(RULES), (network, settled) => {
      const prover = createProver(network, settled);
      return { prove: (question, notes) => prover.prove(question, notes) };
    });
    expect(openWaysOf(evaluation)).toBeUndefined();
  });
});

const cell = (from: string, to: string, expected: Cell["expect"] = "blocked"): Cell => ({
  from,
  to,
  service: "",
  expect: expected,
  status: "passed",
});

describe("what is open and nobody asks about", () => {
  const network = siteWith(RULES);
  const open = openWaysOf(new Evaluation(network)) ?? [];
  const unasked = (...cells: readonly Cell[]): readonly string[] =>
    unaskedIn(network, open, cells).map(({ kind, name, where }) => `${kind}: ${name} ${where}`);

  it("is a piece a network, at the line of the network", () => {
    expect(unasked()).toEqual([
      "way: attic to tills (tcp/22)",
      "way: office to shop (tcp/9100) and internet (every service)",
      "way: tills to internet (every service)",
    ]);
    const [attic] = unaskedIn(network, open, []);
    expect(attic?.origin).toMatchObject({ by: "written" });
  });

  it.each([
    ["networks", cell("office", "shop")],
    ["a host for its network", cell("desk", "press", "connects")],
    ["a new client", cell("a new client in office", "shop", "connects")],
    ["a set for its members", cell("back-rooms", "shop")],
    ["addresses that were written", cell("10.2.10.0/24", "10.2.20.5")],
  ] as const)("is not what %s were asked about", (_, asked) => {
    expect(unasked(asked)).toEqual([
      "way: attic to tills (tcp/22)",
      "way: office to internet (every service)",
      "way: tills to internet (every service)",
    ]);
  });

  it("is what was asked the other way round, of a router, or not judged", () => {
    const all = unasked();
    expect(unasked(cell("shop", "office"), cell("office", "gate"), cell("office", "shop", "unjudged"))).toEqual(all);
  });
});
