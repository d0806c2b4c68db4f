/**
 * Those who stand in networks, as a comparison counts them: others of their network may still get by, and yet one of them lost
 * its way: by its routes, its lease, or the line that it hangs on.
 */
import { describe, expect, it } from "vitest";
import { compared, edited, RACK } from "./sides.ts";

const LEASE = [
  "  a: { legs: { nic: { network: red, host: 10, gateway: 10.1.0.1 } } }",
  "  a: { legs: { nic: lease } }",
] as const;
const ADMIN = "    switching: { unlisted";
const served = (more: string): readonly [string, string] => [
  ADMIN,
  `    dhcp: { red: { hosts: 100-199, lease: 1h${more} } }\n${ADMIN}`,
];
const KEEPERS = ["keepers: [a]", "keepers: [b]"] as const;
const LETS_ASK = [
  "          - { name: keeping",
  "          - { name: leases, in: red, dest: [255.255.255.255, gate/red], service: udp/67, action: accept }\n          - { name: keeping",
] as const;
const leased = (more = ""): string => edited(LEASE, KEEPERS, LETS_ASK, served(more));

describe("a lease with another router", () => {
  it.each([
    ["that nobody has", "10.1.0.77"],
    ["that is another host's", "10.1.0.10"],
  ])("cuts off whoever takes it, by an address %s, and shows the line that was changed", (_, router) => {
    const { lines, decided, differences, alongside } = compared(leased(`, router: ${router}`), { before: leased() });
    expect(lines).toEqual([
      "- tcp/80 from a, red (whoever takes a lease) to blue no longer gets through",
      "- every service from a, red (whoever takes a lease) to internet no longer gets through",
    ]);
    for (const each of decided) expect(each[0]).toBe("head changed: red");
    expect(differences[0]?.decidedBy[0]?.text).toBe(`a sends it on to ${router}`);
    expect(differences[0]?.witness).toMatchObject({ source: "10.1.0.100", sentAt: "a" });
    expect(alongside).toEqual([`a/nic has gateway ${router} now, not 10.1.0.1`]);
  });

  it("opens again what it cut off", () => {
    const { lines } = compared(leased(), { before: leased(", router: 10.1.0.77") });
    expect(lines).toEqual([
      "+ tcp/80 from a, red (whoever takes a lease) to blue gets through now",
      "+ every service from a, red (whoever takes a lease) to internet gets through now",
    ]);
  });

  it("cuts off those who take one, though nobody who does is in the plan", () => {
    const stays = (more = ""): string => edited(KEEPERS, LETS_ASK, served(more));
    const { lines, differences } = compared(stays(", router: 10.1.0.77"), { before: stays() });
    expect(lines).toEqual([
      "- tcp/80 from red (whoever takes a lease) to blue no longer gets through",
      "- every service from red (whoever takes a lease) to internet no longer gets through",
    ]);
    expect(differences[0]?.witness?.sentAt).toBe("a new client in red");
  });

  it("changes nothing where only the time of leases is another one", () => {
    const { lines } = compared(leased().replace("lease: 1h", "lease: 2h"), { before: leased() });
    expect(lines).toEqual([]);
  });
});

describe("a host without its gateway", () => {
  it("reaches no more what is beyond its network, and its line is shown", () => {
    const { lines, decided } = compared(edited(["gateway: 10.1.0.1", "gateway: none"]));
    expect(lines).toEqual([
      "- tcp/80 from a to blue no longer gets through",
      "- every service from a to internet no longer gets through",
      "- tcp/22 from a to gate (10.2.0.1, 203.0.113.10) no longer gets through",
    ]);
    expect(decided[0]?.slice(0, 2)).toEqual(["head changed: none", "base changed: 10.1.0.1"]);
  });

  it("that has another address, too, has its changed line pointed at", () => {
    const { differences } = compared(edited(["host: 10, gateway: 10.1.0.1", "host: 11, gateway: none"]));
    const told = differences.flatMap(({ decidedBy }) => decidedBy.filter(({ changed }) => changed));
    expect(new Set(told.map(({ text }) => text))).toEqual(new Set(["this line", "a sends it on to 10.1.0.1"]));
  });

  it("is told beside that where it may begin nothing", () => {
    const { lines, alongside } = compared(edited(["gateway: 10.2.0.1", "gateway: none"]));
    expect(lines).toEqual([]);
    expect(alongside).toEqual(["b/nic has no gateway now, not 10.2.0.1"]);
  });

  it("loses nothing by one that it has anyhow", () => {
    const { lines } = compared(
      edited(
        ["  b: { legs", "  # the router\n  b: { legs"],
        ["host: 10, gateway: 10.2.0.1", "gateway: 10.2.0.1, host: 10"],
      ),
    );
    expect(lines).toEqual([]);
  });
});

describe("a host in a prefix of another length", () => {
  it("asks its own link for those who are elsewhere, and is told with the line", () => {
    const { lines, decided } = compared(
      edited(["network: red, host: 10, gateway: 10.1.0.1", "port: nic, ipv4: 10.1.0.10/8, gateway: 10.1.0.1"]),
      {
        before: edited([
          "network: red, host: 10, gateway: 10.1.0.1",
          "port: nic, ipv4: 10.1.0.10/24, gateway: 10.1.0.1",
        ]),
      },
    );
    expect(lines).toContain("- tcp/80 from a to blue no longer gets through");
    expect(decided[0]?.some((line) => line.startsWith("head changed: "))).toBe(true);
  });
});

describe("a line that lacks a network", () => {
  const SWITCHED = `dryrack: topology/1
devices:
  provider: { is: upstream, ports: { drop: 1G } }
  gate: { is: router, ports: { p1..2: 1G } }
  sw: { is: switch, ports: { p1..6: 1G } }
  far: { is: switch, ports: { p1..6: 1G } }
  a: { is: host, ports: { nic: 1G } }
  c: { is: host, ports: { nic: 1G } }
  d: { is: host, ports: { nic: 1G } }
  nas: { is: host, ports: { one: 1G, two: 1G } }
cables: [[provider:drop, gate:p2], [sw:p1, gate:p1], [sw:p5, far:p5], [sw:p6, far:p6], [sw:p2, a:nic], [sw:p3, c:nic], [sw:p4, d:nic], [far:p1, nas:one], [far:p2, nas:two]]
`;
  const site = (nas: string, trunk: string): string => `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 }, blue: { vlan: 20, ipv4: 10.2.0.0/24 } }
devices:
  provider: { hands-out: { drop: { ipv4: 203.0.113.0/24, hosts: 10-20 } } }
  gate:
    switching: { unlisted: "off", ports: { p1: { tagged: [red, blue] } }, own: { tagged: [red, blue] } }
    interfaces: { wan: { port: p2, ipv4: lease }, red: { network: red, host: 1 }, blue: { network: blue, host: 1 } }
    filter: { through: { otherwise: drop } }
  sw:
    bonds: { pair: { members: [p5, p6], mode: lacp } }
    switching:
      unlisted: "off"
      ports: { p1: { tagged: [red, blue] }, pair: { tagged: ${trunk} }, p2: { untagged: red }, p3..4: { untagged: blue } }
  far:
    bonds: { pair: { members: [p5, p6], mode: lacp } }
    switching: { unlisted: "off", ports: { pair: { tagged: [red, blue] }, p1: { untagged: red }, p2: { untagged: ${nas} } } }
  a: { legs: { nic: { network: red, host: 10, gateway: 10.1.0.1 } } }
  c: { legs: { nic: { network: blue, host: 10, gateway: 10.2.0.1 } } }
  d: { legs: { nic: { network: blue, host: 11, gateway: 10.2.0.1 } } }
  nas: { host-model: strong, legs: { one: { network: red, host: 20, gateway: none }, two: { network: blue, host: 20, gateway: none } } }
`;
  const racks = { rack: [SWITCHED, SWITCHED] } as const;
  const whole = site("blue", "[red, blue]");

  it.each([
    ["over a bond", site("blue", "[red]"), "blue, gate (10.2.0.1)"],
    // The router answers on every link for all its addresses, so that it is reached still.
    ["to the host", site("red", "[red, blue]"), "blue"],
  ])("%s cuts off the host behind it in that network alone, both ways", (_, after, whom) => {
    const { lines, decided } = compared(after, { before: whole, ...racks });
    expect(lines.filter((told) => told.startsWith("-"))).toEqual([
      `- every service from nas to ${whom} no longer gets through`,
      "- every service from blue to nas (10.2.0.20) no longer gets through",
    ]);
    const lost = decided.filter((_, index) => lines[index]?.startsWith("-"));
    for (const each of lost) expect(each.some((told) => told.startsWith("base changed: "))).toBe(true);
    expect(decided.flat().filter((told) => /^head(?!.*(?:red|drop))/.test(told))).toEqual([]);
  });

  it.each([
    ["at the switch", "p1: { tagged: [red, blue] }, pair", "p1: { tagged: [red] }, pair", "sw:p1"],
    [
      "at the router",
      "ports: { p1: { tagged: [red, blue] } }, own",
      "ports: { p1: { tagged: [red] } }, own",
      "gate:p1",
    ],
  ])("%s is shown, and not where another copy of a frame ends", (_, was, becomes, port) => {
    const after = whole.replace(was, becomes);
    expect(after).not.toBe(whole);
    const { differences, decided, lines } = compared(after, { before: whole, ...racks });
    expect(lines).toEqual([
      "- every service from blue to gate no longer gets through",
      "- every service from gate to blue no longer gets through",
    ]);
    for (const { decidedBy } of differences)
      expect(decidedBy[0]?.text).toContain(`\`${port}\` does not carry this network`);
    expect(decided.map(([first]) => first)).toEqual(["head changed: [red]", "head changed: [red]"]);
  });
});

describe("a router of two", () => {
  it("that lets nothing by any more cuts off those alone whose gateway it is", () => {
    const rack = RACK.replace("  a: {", "  side: { is: router, ports: { wan: 1G, p1: 1G } }\n  a: {").replace(
      "cables:",
      "cables:\n  - [gate:p3, side:p1]",
    );
    const site = (rule: string): string =>
      edited(
        ["p2: { untagged: blue } }", "p2: { untagged: blue }, p3: { untagged: red } }"],
        [
          "  a: { legs",
          `  side:
    interfaces: { red: { port: p1, network: red, host: 2, gateway: 10.1.0.1 } }
    routes: [{ to: 10.2.0.0/24, via: 10.1.0.1 }]
    filter: { through: { otherwise: drop, rules: [${rule}] } }
  a: { legs`,
        ],
        ["host: 10, gateway: 10.1.0.1", "host: 10, gateway: 10.1.0.2"],
      );
    const lets = "{ name: lets by, in: red, action: accept }";
    const { lines, decided } = compared(site(""), { before: site(lets), rack: [rack, rack] });
    expect(lines).toContain("- tcp/80 from a to blue no longer gets through");
    expect(decided.flat().some((line) => line.startsWith("base changed: lets by"))).toBe(true);
    expect(lines.filter((line) => !/ from a(?: \(.*\))? to /.test(line))).toEqual([]);
  });
});

describe("a router's own packets", () => {
  it("are told where its list for them lets fewer by", () => {
    const from = (list: string) => edited(["from: { otherwise: accept }", `from: ${list}`]);
    const { lines } = compared(
      from("{ otherwise: accept, rules: [{ name: no mail, service: tcp/25, action: drop }] }"),
    );
    expect(lines).toEqual(["- tcp/25 from gate to blue, internet, red no longer gets through"]);
  });
});
