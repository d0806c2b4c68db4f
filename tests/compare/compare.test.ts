/**
 * What a change opens and closes: each case is one edit of a small site and all that it changes, no more and no less.
 */
import { describe, expect, it } from "vitest";
import { compared, edited, INTENT, RACK } from "./sides.ts";

describe("a router that takes another address", () => {
  const MOVED = [
    ["red: { network: red, host: 1 }", "red: { network: red, host: 2 }"],
    ["gateway: 10.1.0.1", "gateway: 10.1.0.2"],
  ] as const;

  it("is told of at its addresses, and not by who could have claimed the old one", () => {
    const { lines, alongside } = compared(edited(...MOVED));
    expect(lines).toEqual([
      "+ tcp/22 from blue (a), internet (a) to gate (10.1.0.2) gets through now",
      "+ tcp/22 from red (a) to gate (10.1.0.2) gets through now",
      "- tcp/22 from blue (a), internet (a) to gate (10.1.0.1) no longer gets through",
      "- tcp/22 from red (a) to gate (10.1.0.1) no longer gets through",
    ]);
    expect(JSON.stringify(alongside)).toContain("10.1.0.2");
  });

  it("nor by the old one as part of the internet, where it was the outside one", () => {
    const { lines } = compared(
      edited(["wan: { port: wan, ipv4: lease }", "wan: { port: wan, ipv4: 203.0.113.7/24, gateway: 203.0.113.1 }"]),
    );
    expect(lines.filter((line) => !line.includes("to gate (203.0.113."))).toEqual([]);
    expect(lines).toHaveLength(4);
  });

  it("leaves an old one told that a rule lets through as none beside it", () => {
    const rule = ["{ name: web, in: red,", "{ name: web, in: red, source: 10.1.0.1,"] as const;
    const { lines } = compared(edited(...MOVED, rule), { before: edited(rule) });
    expect(lines).toContain("+ tcp/80 from red (10.1.0.1) to blue gets through now");
    // Those beside it get through as answers to what blue may begin: that is not the same.
    const back = [
      "{ name: web, in: red,",
      "{ name: back, source: blue, dest: red, action: accept }\n          - { name: web, in: red,",
    ] as const;
    const both = compared(edited(...MOVED, rule, back), { before: edited(rule, back) });
    expect(both.lines).toContain("+ tcp/80 from red (10.1.0.1) to blue gets through now");
  });
});

describe("a comparison", () => {
  it("of a rule that drops frames which a switch keeps anyhow tells only of those that no switch kept", () => {
    const rack = `dryrack: topology/1
devices:
  gate: { is: router, ports: { p1..2: 1G } }
  sw: { is: switch, ports: { p1..3: 1G } }
  a: { is: host, ports: { nic: 1G } }
  b: { is: host, ports: { nic: 1G } }
cables: [[sw:p1, gate:p1], [sw:p2, a:nic], [gate:p2, b:nic]]
`;
    const site = (rules: string): string => `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 }, blue: { vlan: 20, ipv4: 10.2.0.0/24 } }
devices:
  gate:
    interfaces:
      red: { port: p1, network: red, host: 1, mac: "02:00:5e:00:00:01" }
      blue: { port: p2, network: blue, host: 1 }
    filter: { through: { otherwise: accept, rules: [${rules}] } }
  a: { legs: { nic: { network: red, host: 10, gateway: 10.1.0.1 } } }
  b: { legs: { nic: { network: blue, host: 10, gateway: 10.2.0.1 } } }
`;
    const before = site('{ name: self, source-mac: ["02:00:5e:00:00:01"], action: drop }');
    // From red such frames come no further than to the switch, with the rule and without it.
    expect(compared(site(""), { before, rack: [rack, rack] }).lines).toEqual([
      "+ every service from blue to red gets through now",
    ]);
  });

  it("says that frames need a tag only where none without one gets through, whoever is shown", () => {
    const rack = (cables: string): string => `dryrack: topology/1
devices:
  gate: { is: router, ports: { p1..3: 1G } }
  a: { is: host, ports: { nic: 1G } }
  b: { is: host, ports: { nic: 1G } }
  c: { is: host, ports: { nic: 1G } }
cables: [[gate:p1, a:nic], [gate:p2, b:nic]${cables}]
`;
    const site = (p3: string, otherwise: string): string => `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 }, blue: { vlan: 20, ipv4: 10.2.0.0/24 } }
devices:
  gate:
    switching: { unlisted: "off", ports: { p1: { tagged: [red] }, p2: { untagged: blue }${p3} }, own: { tagged: [red, blue] } }
    interfaces: { red: { network: red, host: 1 }, blue: { network: blue, host: 1 } }
    filter: { through: { otherwise: ${otherwise} } }
  a: { legs: { nic: { port: nic, tag: red, network: red, host: 10, gateway: 10.1.0.1 } } }
  b: { legs: { nic: { network: blue, host: 10, gateway: 10.2.0.1 } } }
  c: { legs: { nic: { network: red, host: 20, gateway: 10.1.0.1 } } }
`;
    const openedIn = (cables: string, p3: string): readonly string[] | undefined => {
      const racks = [rack(cables), rack(cables)] as const;
      const { differences } = compared(site(p3, "accept"), { before: site(p3, "drop"), rack: racks });
      const opened = differences.find(({ from, to }) => from[0]?.name === "red" && to[0]?.name === "blue");
      expect(opened?.witness?.tag).toBe(10);
      return opened?.notes;
    };
    expect(openedIn("", "")).toContain("only in frames with a tag that the sender chooses");
    expect(openedIn(", [gate:p3, c:nic]", ", p3: { untagged: red }")).toEqual([]);
  });

  it("of equal states finds nothing and proves nothing", () => {
    const { lines, undecided, pairs } = compared(INTENT);
    expect(lines).toEqual([]);
    expect(undecided).toEqual([]);
    expect(pairs.untouched).toBe(pairs.all);
  });

  it("of a note or a comment finds nothing", () => {
    expect(compared(edited(["ipv4: 10.1.0.0/24 }", 'ipv4: 10.1.0.0/24, note: "desks" } # seats'])).lines).toEqual([]);
  });

  it("of one rule that is widened prints exactly that widening", () => {
    const { lines, decided } = compared(edited(["service: tcp/80, action", "service: [tcp/80, tcp/443], action"]));
    expect(lines).toEqual(["+ tcp/443 from red to blue gets through now"]);
    expect(decided).toEqual([["head changed: web", "base: drop"]]);
  });

  it("of one rule that is narrowed prints exactly what is lost, and that open connections live on", () => {
    const { lines, differences } = compared(INTENT, {
      before: edited(["service: tcp/80, action", "service: tcp/80-83, action"]),
    });
    expect(lines).toEqual(["- tcp/81-83 from red to blue no longer gets through"]);
    expect(differences[0]?.notes).toEqual([
      "connections that are open already live on until they end: `answers` accepts them",
    ]);
  });

  it("of a rule that goes, with the list that kept answers, does not say that connections live on", () => {
    const { lines, differences } = compared(
      edited(
        ["          - { name: web, in: red, out: blue, service: tcp/80, action: accept }\n", ""],
        [
          "          - { name: answers, state: [established, related], action: accept }\n          - { name: out",
          "          - { name: out",
        ],
      ),
      {
        before: edited([
          "          - { name: answers, state: [established, related], action: accept }\n          - { name: web",
          "          - { name: web",
        ]),
      },
    );
    expect(lines).toEqual(["- tcp/80 from red to blue no longer gets through"]);
    expect(differences[0]?.notes).toEqual([]);
  });

  it("of a member that joins a set shows the set's line", () => {
    const { lines, decided, differences } = compared(edited(["keepers: [a]", "keepers: [a, b]"]));
    expect(lines).toEqual([
      "+ tcp/22 from blue (b) to gate gets through now",
      // No check of sources is on: whoever bears that address passes for `b`.
      "+ tcp/22 from internet (b), red (b) to gate gets through now",
    ]);
    expect(differences[1]?.notes).toEqual(["only with a source address that is not the sender's"]);
    expect(decided[0]?.[0]).toMatch(/^head changed: /);
    expect(decided[0]?.some((line) => line.startsWith("head changed: ") && line.includes("b"))).toBe(true);
  });

  it("of a check of sources that goes tells that borrowed addresses get through, and not only those that nobody has", () => {
    const strict = edited(["    filter:\n", "    reverse-path: strict\n    filter:\n"]);
    const { lines, differences, decided } = compared(INTENT, { before: strict });
    expect(lines).toEqual([
      "+ tcp/22 from blue (a), internet (a) to gate gets through now",
      expect.stringMatching(/^\+ tcp\/80 from red \(public addresses, blue, .* to blue gets through now$/),
      expect.stringMatching(/^\+ every service from red \(public addresses, blue, .* to internet gets through now$/),
    ]);
    for (const { notes } of differences) expect(notes).toContain("only with a source address that is not the sender's");
    for (const [first] of decided) expect(first).toMatch(/^base changed: /);
  });

  it("of a host that drops what others of its own network send shows its line, not one of the router beside it", () => {
    const rack = RACK.replace("[gate:p2, b:nic]", "[gate:p2, b:nic]\n  - [gate:p3, c:nic]").replace(
      "cables:",
      "  c: { is: host, ports: { nic: 1G } }\ncables:",
    );
    const third = (filter: string): readonly (readonly [string, string])[] => [
      ["p2: { untagged: blue }", "p2: { untagged: blue }, p3: { untagged: red }"],
      ["  b: {", `  c: { legs: { nic: { network: red, host: 20, gateway: 10.1.0.1 } }${filter} }\n  b: {`],
    ];
    const closed = ", filter: { to: { otherwise: drop, rules: [] } }";
    const { lines, decided } = compared(edited(...third(closed)), { before: edited(...third("")), rack: [rack, rack] });
    expect(lines).toEqual(["- every service from red to c no longer gets through"]);
    expect(decided[0]?.[0]).toBe("head changed: drop");
  });

  it("of clients of a radio that are kept apart no more shows that they were, not where they could have gone round", () => {
    const rack = RACK.replace("[gate:p2, b:nic]", "[gate:p2, b:nic]\n  - [gate:p3, air:up]").replace(
      "cables:",
      "  air: { is: access-point, ports: { up: 1G }, radios: [band5] }\n  c: { is: host, radios: [wlan] }\ncables:",
    );
    const radio = (more: string): readonly (readonly [string, string])[] => [
      ["p2: { untagged: blue }", "p3: { untagged: blue }"],
      [
        "  b: {",
        `  air: { ssids: { Guest: { radio: band5, network: blue${more} } }, switching: { ports: { up: { untagged: blue } } } }
  c: { joins: Guest, legs: { wlan: { network: blue, host: 20, gateway: 10.2.0.1 } } }\n  b: {`,
      ],
    ];
    const before = edited(...radio(", clients: isolated"));
    const { differences } = compared(edited(...radio("")), { before, rack: [rack, rack] });
    const told = differences.flatMap(({ decidedBy }) =>
      decidedBy.flatMap(({ side, text }) => (side === "base" ? [text] : [])),
    );
    expect(new Set(told)).toEqual(new Set(["clients there are kept apart"]));
  });

  it("of a drop that goes shows the line of the base that stopped it", () => {
    const before = edited([
      "          - { name: web, in",
      "          - { name: not b, in: red, dest: b, action: drop }\n          - { name: web, in",
    ]);
    const { lines, decided } = compared(INTENT, { before });
    expect(lines).toEqual(["+ tcp/80 from red to blue (b) gets through now"]);
    expect(decided[0]?.[0]).toBe("base changed: not b");
  });

  it("of two rules that change places finds what the order decides", () => {
    const first = "          - { name: web, in: red, out: blue, service: tcp/80, action: accept }\n";
    const second = "          - { name: not a, in: red, source: a, action: drop }\n";
    const { lines } = compared(edited([first, second + first]), { before: edited([first, first + second]) });
    expect(lines).toEqual(["- tcp/80 from red (a) to blue no longer gets through"]);
  });

  it("of a network that is new says so", () => {
    const { lines, differences } = compared(
      edited(
        ["sets:", "  green: { vlan: 30, ipv4: 10.3.0.0/24 }\nsets:"],
        [
          "p2: { untagged: blue } }, own: { tagged: [red, blue] }",
          "p2: { untagged: blue }, p3: { untagged: green } }, own: { tagged: [red, blue, green] }",
        ],
        [
          "blue: { network: blue, host: 1 } }",
          "blue: { network: blue, host: 1 }, green: { network: green, host: 1 } }",
        ],
        ["{ name: out, in: red,", "{ name: out, in: [red, green],"],
      ),
    );
    expect(lines).toContain("+ every service from green to internet gets through now");
    expect(differences.find(({ from }) => from[0]?.name === "green")?.notes).toContain("green is new");
  });

  it("of a port that moves to another network finds who can reach whom now", () => {
    const { lines } = compared(edited(["p2: { untagged: blue }", "p2: { untagged: red }"]));
    expect(lines.length).toBeGreaterThan(0);
    expect(lines.every((line) => line.includes("blue") || line.includes("red"))).toBe(true);
  });

  it("names what of a network is left out, where that is shorter", () => {
    const { lines } = compared(
      edited([
        "          - { name: web, in",
        "          - { name: not b, in: red, out: blue, dest: b, action: drop }\n          - { name: all, in: red, out: blue, action: accept }\n          - { name: web, in",
      ]),
    );
    expect(lines).toEqual([
      "+ all but tcp/80 from red to blue (all but b) gets through now",
      "- tcp/80 from red to blue (b) no longer gets through",
    ]);
  });

  it("of ends that speak both versions of IP names the one that is meant", () => {
    const both = edited(
      ["red: { vlan: 10, ipv4: 10.1.0.0/24 }", 'red: { vlan: 10, ipv4: 10.1.0.0/24, ipv6: "fd00:0:0:1::/64" }'],
      ["blue: { vlan: 20, ipv4: 10.2.0.0/24 }", 'blue: { vlan: 20, ipv4: 10.2.0.0/24, ipv6: "fd00:0:0:2::/64" }'],
    );
    const opened = (family: string): string =>
      both.replace(
        "          - { name: web, in",
        () => `          - { name: ours, in: red, out: blue,${family} action: accept }\n          - { name: web, in`,
      );
    expect(compared(opened(" family: ipv6,"), { before: both }).lines).toEqual([
      "+ all but tcp/80 from red to blue (IPv6) gets through now",
    ]);
    expect(compared(opened(""), { before: both }).lines).toEqual([
      "+ all but tcp/80 from red to blue gets through now",
    ]);
  });

  it("names a host of both versions of IP only with the one that is meant, and none of which it lacks an address", () => {
    const own = (addresses: string): string =>
      edited(
        ["red: { vlan: 10, ipv4: 10.1.0.0/24 }", 'red: { vlan: 10, ipv4: 10.1.0.0/24, ipv6: "fd00:0:0:1::/64" }'],
        ["blue: { vlan: 20, ipv4: 10.2.0.0/24 }", 'blue: { vlan: 20, ipv4: 10.2.0.0/24, ipv6: "fd00:0:0:2::/64" }'],
        [
          "b: { legs: { nic: { network: blue, host: 10, gateway: 10.2.0.1 } }",
          `b: { legs: { nic: { network: blue, ipv4: 10.2.0.10/24, ipv6: [${addresses}], gateway: 10.2.0.1 } }`,
        ],
      );
    const opened = (dest: string, addresses = '"fd00:0:0:2::a/64"'): readonly string[] => {
      const before = own(addresses);
      const rule = `{ name: ours, in: red, out: blue, dest: [${dest}], service: tcp/22, action: accept }`;
      const after = before.replace(
        "          - { name: web, in",
        () => `          - ${rule}\n          - { name: web, in`,
      );
      return compared(after, { before }).lines;
    };
    expect(opened("10.2.0.10")).toEqual(["+ tcp/22 from red to blue (IPv4 of b) gets through now"]);
    expect(opened('"fd00:0:0:2::a"')).toEqual(["+ tcp/22 from red to blue (IPv6 of b) gets through now"]);
    expect(opened("b")).toEqual(["+ tcp/22 from red to blue (b) gets through now"]);
    expect(opened('"fd00:0:0:2::a"', '"fd00:0:0:2::a/64", "fd00:0:0:2::c/64"')).toEqual([
      "+ tcp/22 from red to blue (fd00:0:0:2::a) gets through now",
    ]);
  });

  it("of private addresses that leave for the internet names them, past the networks of the site", () => {
    const rule = (dest: string) =>
      compared(
        edited([
          "          - { name: out,",
          `          - { name: on, in: blue, out: wan, dest: [${dest}], action: accept }\n          - { name: out,`,
        ]),
      ).lines;
    expect(rule("10.0.0.0/8, 172.16.0.0/12")).toEqual([
      "+ every service from blue to internet (10.0.0.0/8, 172.16.0.0/12) gets through now",
    ]);
    // What lies between two and is no network of the site stays apart.
    expect(rule("10.0.0.0/16, 10.3.0.0/16")).toEqual([
      "+ every service from blue to internet (10.0.0.0/16, 10.3.0.0/16) gets through now",
    ]);
  });

  it("of a forward from outside finds it by the address that strangers ask for", () => {
    const { lines } = compared(
      edited(
        [
          "translate: { source",
          "translate: { dest: [{ name: door, in: wan, service: tcp/8080, to: b, to-port: 80 }], source",
        ],
        [
          "          - { name: web, in",
          "          - { name: door, in: wan, dest: b, service: tcp/80, action: accept }\n          - { name: web, in",
        ],
      ),
    );
    expect(lines).toEqual([
      "+ tcp/8080 from internet to blue (any address) gets through now",
      // The rule does not ask whether the packet came by the forward.
      "+ tcp/80 from internet to blue (b) gets through now",
    ]);
  });
});

describe("what became of a packet on the other side", () => {
  const DOOR = [
    "translate: { source",
    "translate: { dest: [{ name: door, in: wan, service: tcp/8080, to: b, to-port: 80 }], source",
  ] as const;
  const LET_IN = [
    "          - { name: web, in",
    "          - { name: door, in: wan, service: tcp/80, action: accept }\n          - { name: web, in",
  ] as const;

  it("is that a forward leads it elsewhere, and what is open is led as it was", () => {
    const before = edited(DOOR, LET_IN);
    const { differences, decided } = compared(before.replace("to: b, to-port", "to: a, to-port"), { before });
    const of = (change: string, to: string) =>
      differences.findIndex((each) => each.change === change && each.to[0]?.name === to);
    const [opened, closed] = [of("newly-allowed", "red"), of("newly-forbidden", "blue")];
    expect(decided[opened]).toEqual(["head changed: door", "base changed: door", "head: door"]);
    const instead = (at: number) => differences[at]?.decidedBy.find(({ text }) => text.includes("instead"))?.text;
    expect(instead(opened)).toBe("gets to blue instead: translated by `door`");
    expect(instead(closed)).toBe("gets to red instead: translated by `door`");
    expect(differences[opened]?.notes).toEqual(["`door` leads the packet that is shown to a, port 80"]);
    expect(differences[closed]?.notes).toContain(
      "connections that are open already live on until they end: `answers` accepts them",
    );
  });

  it("is that the router it is sent to stops it, where its forward is gone, and what is open lives on", () => {
    const before = edited([DOOR[0], DOOR[1].replace("in: wan,", "in: wan, dest: gate/wan,")], LET_IN);
    const after = edited(LET_IN);
    const { differences, decided } = compared(after, { before });
    expect(differences.map(({ change, services }) => [change, services])).toEqual([["newly-forbidden", "tcp/8080"]]);
    expect(decided).toEqual([["base changed: door", "base: door", "head: drop"]]);
    expect(differences[0]?.notes).toContain(
      "connections that are open already live on until they end: `answers` accepts them",
    );
  });

  it("is that another route leads it elsewhere, which leads what is open, too", () => {
    const all = [
      "{ name: web, in: red, out: blue, service: tcp/80, action",
      "{ name: web, in: red, service: tcp/80, action",
    ] as const;
    const { differences } = compared(edited(all, [", blue: { network: blue, host: 1 } }", " }"]), {
      before: edited(all),
    });
    const closed = differences.filter(({ change, services }) => change === "newly-forbidden" && services === "tcp/80");
    expect(closed.map(({ decidedBy }) => decidedBy.at(-1)?.text)).toEqual([
      "gets to internet instead: gate sends it on to 203.0.113.1",
    ]);
    expect(closed.flatMap(({ notes }) => notes)).toEqual([]);
  });

  it("does not live on where another list on its way would stop it", () => {
    const before = edited(DOOR, LET_IN);
    const after = edited(DOOR).replaceAll(
      "          - { name: answers, state: [established, related], action: accept }\n",
      "",
    );
    const { differences } = compared(after, { before });
    expect(differences.filter(({ change }) => change === "newly-forbidden").length).toBeGreaterThan(0);
    expect(differences.flatMap(({ notes }) => notes).filter((note) => note.includes("live on"))).toEqual([]);
  });

  it("is told without types of ICMP that no packet has", () => {
    const { lines } = compared(
      edited([
        "related], action: accept }\n          - { name: web",
        "related, new], action: accept }\n          - { name: web",
      ]),
    );
    expect(lines.length).toBeGreaterThan(0);
    expect(lines.filter((line) => line.includes("-1"))).toEqual([]);
  });
});

describe("beside reach", () => {
  it("a network that only has another name is told, and is the same network", () => {
    const { lines, alongside } = compared(INTENT.replaceAll(/\bblue\b/g, "azure"));
    expect(lines).toEqual([]);
    expect(alongside).toEqual(["network `blue` is called `azure` now"]);
  });

  it("a network with another prefix is another network", () => {
    const after = INTENT.replaceAll(/\bblue\b/g, "azure").replaceAll("10.2.0.", "10.3.0.");
    const { lines, alongside } = compared(after);
    expect(lines.some((line) => line.startsWith("+ ") && line.includes("azure"))).toBe(true);
    expect(alongside.filter((each) => each.startsWith("network "))).toEqual([]);
  });

  it("a host that gets another address is told, though nothing opens or closes", () => {
    const lent = (host: number) =>
      edited(
        ["    filter:", `    dhcp: { red: { hosts: 100-109, reservations: { a: ${host} } } }\n    filter:`],
        [
          "- { name: keeping,",
          "- { name: leases, in: red, service: udp/67, action: accept }\n          - { name: keeping,",
        ],
        ["sets:\n  keepers: [a]", "sets:\n  keepers: [b]"],
        ["a: { legs: { nic: { network: red, host: 10, gateway: 10.1.0.1 } } }", "a: { legs: { nic: lease } }"],
      );
    const { lines, alongside } = compared(lent(21), { before: lent(20) });
    expect(lines).toEqual([]);
    expect(alongside).toEqual(["a/nic has 10.1.0.21 now, not 10.1.0.20"]);
  });

  it("of several addresses those are told that came and went, and a gateway that went with them", () => {
    const legs = (now: string) =>
      edited(["a: { legs: { nic: { network: red, host: 10, gateway: 10.1.0.1 } } }", `a: { legs: { nic: ${now} } }`]);
    const [one, two] = ["10.1.0.10/24", "10.1.0.11/24"];
    const at = (ipv4: string, gateway: string): string => `{ port: nic, ipv4: ${ipv4}, gateway: ${gateway} }`;
    const both = legs(at(`[${one}, ${two}]`, "10.1.0.1"));
    const told = (after: string, before: string) => compared(after, { before }).alongside;
    expect(told(legs(at(`[${one}, 10.1.0.12/24]`, "none")), both)).toEqual([
      "a/nic has 10.1.0.12 now, not 10.1.0.11",
      "a/nic has no gateway now, not 10.1.0.1",
    ]);
    expect(told(legs(at(one, "10.1.0.1")), both)).toEqual(["a/nic has 10.1.0.11 no more"]);
    expect(told(both, legs(at(one, "10.1.0.1")))).toEqual(["a/nic has 10.1.0.11 now, too"]);
  });

  it("a host that is plugged into another network is told with both", () => {
    const { alongside } = compared(
      edited(
        ["p2: { untagged: blue }", "p2: { untagged: red }"],
        ["network: blue, host: 10, gateway: 10.2.0.1", "network: red, host: 12, gateway: 10.1.0.1"],
      ),
    );
    expect(alongside).toEqual(["b/nic stands in red now, not in blue, and has 10.1.0.12 now, not 10.2.0.10"]);
  });

  it("nothing is told where nothing is otherwise", () => {
    expect(compared(INTENT).alongside).toEqual([]);
    expect(compared(edited(["service: tcp/80, action", "service: [tcp/80, tcp/443], action"])).alongside).toEqual([]);
  });
});

describe("a replaced device", () => {
  const RENAMED = RACK.replaceAll(/\bgate\b/g, "ford");

  it("is compared with its successor, and what it did is carried over", () => {
    const after = INTENT.replaceAll(/\bgate\b/g, "ford");
    const { lines, replacements } = compared(after, { rack: [RACK, RENAMED], replaced: [["gate", "ford"]] });
    expect(lines).toEqual([]);
    expect(replacements).toEqual([{ old: "gate", successor: "ford", kept: 0, lost: [] }]);
  });

  it("is told with its address where that is another one", () => {
    const after = INTENT.replaceAll(/\bgate\b/g, "ford").replace("red, host: 1 }", "red, host: 2 }");
    const { alongside } = compared(after, { rack: [RACK, RENAMED], replaced: [["gate", "ford"]] });
    expect(alongside).toEqual(["ford/red has 10.1.0.2 now, not 10.1.0.1"]);
  });

  it("does in a renamed network what the old one did there", () => {
    const served = edited([
      "    filter:",
      "    admin: { services: [tcp/22], listen: [blue] }\n    dhcp: { blue: { hosts: 100-109 } }\n    filter:",
    ]);
    const after = served.replaceAll(/\bgate\b/g, "ford").replaceAll(/\bblue\b/g, "azure");
    const { replacements } = compared(after, { before: served, rack: [RACK, RENAMED], replaced: [["gate", "ford"]] });
    expect(replacements).toEqual([{ old: "gate", successor: "ford", kept: 2, lost: [] }]);
  });

  it("is compared with itself where it stays, though its work goes to another one", () => {
    const rack = RACK.replace("  a: {", "  ford: { is: router, ports: { p1: 1G } }\n  a: {");
    const after = `${INTENT}  ford: { interfaces: { one: { port: p1, ipv4: 10.9.0.1/24 } } }\n`;
    const { lines, replacements } = compared(after, { rack: [RACK, rack], replaced: [["gate", "ford"]] });
    expect(lines.filter((line) => line.includes("gate"))).toEqual([]);
    expect(replacements).toHaveLength(1);
  });

  it("is one of two that become one: the first is compared with it, the other one is gone", () => {
    const second = ["  a: {", "  spare: { is: router, ports: { p1: 1G } }\n  a: {"] as const;
    const before = `${INTENT}  spare: { interfaces: { one: { port: p1, ipv4: 10.9.0.1/24 } } }\n`;
    const after = INTENT.replaceAll(/\bgate\b/g, "ford");
    const rack = [RACK.replace(...second), RENAMED] as const;
    const replaced = [
      ["gate", "ford"],
      ["spare", "ford"],
    ] as const;
    const { lines, replacements } = compared(after, { before, rack, replaced });
    expect(lines.filter((line) => line.includes("ford"))).toEqual([]);
    expect(replacements.map(({ old }) => old)).toEqual(["gate", "spare"]);
  });

  it("loses what the successor does not do, each by name", () => {
    const before = edited(
      [
        "    filter:",
        "    admin: { services: [tcp/22, tcp/443], listen: [red] }\n    dhcp: { red: { hosts: 100-109, reservations: { a: { host: 10 } } } }\n    filter:",
      ],
      [
        "translate: { source",
        "translate: { dest: [{ name: door, in: wan, service: tcp/8080, to: b, to-port: 80 }], source",
      ],
    );
    const after = edited(["    filter:", "    admin: { services: [tcp/22], listen: [red] }\n    filter:"]).replaceAll(
      /\bgate\b/g,
      "ford",
    );
    const { replacements } = compared(after, { before, rack: [RACK, RENAMED], replaced: [["gate", "ford"]] });
    expect(replacements[0]?.kept).toBe(1);
    expect(replacements[0]?.lost.map(({ kind, text }) => `${kind}: ${text}`)).toEqual([
      "reservation: the reservation of 10.1.0.10 for `a`",
      "forward: the forward of tcp/8080 to 10.2.0.10 port 80",
      "administration: administration by tcp/443 in `red`",
      "leases: leases in `red`",
    ]);
  });
});

describe("a host that becomes trusted", () => {
  const TRUNK = [
    ["p1: { untagged: red }", "p1: { untagged: red, tagged: [blue] }"],
    ["in: red, out: blue, service: tcp/80", "in: red, out: blue, source: 10.9.0.0/16, service: tcp/80"],
  ] as const;
  const TRUSTED = ["  a: { legs", "  a: { trusted: nic, legs"] as const;

  it("closes what others might have sent by its cable, and the line that says so is shown", () => {
    const { lines, decided, differences } = compared(edited(...TRUNK, TRUSTED), { before: edited(...TRUNK) });
    expect(lines.filter((line) => line.startsWith("+"))).toEqual([]);
    const red = differences.findIndex(({ from, to }) => from[0]?.name === "red" && to[0]?.name === "blue");
    expect(lines[red]).toMatch(/^- every service from red.* to blue .* no longer gets through$/);
    expect(decided[red]?.[0]).toBe("head changed: nic");
    const [first] = differences[red]?.decidedBy ?? [];
    expect(first?.text).toBe("a alone sends by gate:p1; it is trusted");
    // What others might have sent is no open connection that would live on.
    expect(differences.flatMap(({ notes }) => notes).filter((note) => note.includes("live on"))).toEqual([]);
  });

  it("opens it again when it is trusted no more", () => {
    const { lines, decided } = compared(edited(...TRUNK), { before: edited(...TRUNK, TRUSTED) });
    expect(lines.filter((line) => line.startsWith("-"))).toEqual([]);
    expect(lines.some((line) => /^\+ every service from red.* to blue .* gets through now$/.test(line))).toBe(true);
    expect(decided.map(([first]) => first)).toEqual(decided.map(() => "base changed: nic"));
  });
});
