/**
 * `survives`: what must hold without any one part, or any two. The site: a router and a switch on a bond of two cables, a
 * clerk and a till behind the switch, the clerk's lease from the router.
 */
import { describe, expect, it } from "vitest";
import { judge, siteFrom, type TestSite } from "./verdicts.ts";

const BOND = "bonds: { pair: { members: [M1, M2], mode: lacp, alone: first-member } }";

type Changes = {
  /** Cables between the router and the switch. */
  readonly trunk?: string;
  /** Further top-level keys of the topology. */
  readonly top?: string;
  /** Further keys of the router. */
  readonly mill?: string;
  /** The trunk is one plain cable. */
  readonly plain?: boolean;
};

function shop({
  trunk = "  - [mill:l1, hub:p1]\n  - [mill:l2, hub:p2]",
  top = "",
  mill = "",
  plain = false,
}: Changes = {}): TestSite {
  const bond = (first: string, second: string): string =>
    plain ? "" : `    ${BOND.replace("M1", first).replace("M2", second)}\n`;
  const at = (port: string): string => (plain ? port : "pair");
  return siteFrom(
    `dryrack: topology/1
${top}
devices:
  mill: { is: router, ports: { l1..2: 1G } }
  hub: { is: switch, ports: { p1..8: 1G } }
  clerk: { is: host, ports: { nic: 1G } }
  till: { is: host, ports: { nic: 1G } }
cables:
${trunk}
  - [hub:p3, clerk:nic]
  - [hub:p4, till:nic]
`,
    `dryrack: intent/1
networks:
  office: { vlan: 10, ipv4: 10.1.0.0/24 }
  tills: { vlan: 20, ipv4: 10.2.0.0/24 }
devices:
  mill:
${bond("l1", "l2")}    switching: { ports: { ${at("l1")}: { tagged: [office, tills] } }, unlisted: "off", own: { tagged: [office, tills] } }
    interfaces: { office: { network: office, host: 1 }, tills: { network: tills, host: 1 } }
    dhcp: { office: { hosts: 100-199, lease: 12h } }
    ${mill}
  hub:
${bond("p1", "p2")}    switching: { ports: { ${at("p1")}: { tagged: [office, tills] }, p3: { untagged: office }, p4: { untagged: tills } }, unlisted: "off", own: { tagged: [office] } }
    interfaces: { office: { network: office, host: 2 } }
  clerk: { legs: { nic: lease } }
  till: { legs: { nic: { network: tills, host: 10, gateway: 10.2.0.1 } } }
`,
  );
}

const REACH = "from: clerk, to: till, service: tcp/443, expect: connects";

function asked(site: TestSite, survives: string, what: string = REACH) {
  const [told] = judge(site, `${what}, survives: { ${survives} }`);
  if (told === undefined) throw new Error("nothing was judged");
  return told;
}

const brokenBy = (site: TestSite, survives: string, what?: string): readonly string[] =>
  (asked(site, survives, what).verdict.breaks ?? []).map(({ without }) => without.join(" and "));

describe("an assertion that survives one failure", () => {
  it("holds without either member of a bond", () => {
    expect(asked(shop(), "one-of: bond-members")).toMatchObject({
      status: "passed",
      headline: expect.stringMatching(/; survives each of 2 failures$/),
    });
  });

  it("is not asked of an end that lost its only cable", () => {
    expect(asked(shop(), "one-of: [cables]")).toMatchObject({ status: "passed" });
  });

  it("names the one cable that it hangs on, and its line", () => {
    const told = asked(shop({ plain: true, trunk: "  - [mill:l1, hub:p1]" }), "one-of: [cables]");
    expect(told).toMatchObject({
      status: "failed",
      headline: expect.stringMatching(/^without the cable mill:l1 - hub:p1: clerk to till on tcp.443: /),
      verdict: { breaks: [{ without: ["the cable mill:l1 - hub:p1"] }] },
    });
    expect(told.decided[0]).toBe("[mill:l1, hub:p1]");
  });

  it("names every device in between", () => {
    expect(brokenBy(shop(), "one-of: devices")).toEqual(["mill", "hub"]);
  });

  it("goes on asking the other ends when one of several has failed", () => {
    const both = "from: clerk, to: [till, hub, mill], expect: connects";
    expect(brokenBy(shop(), "one-of: devices", both)).toEqual(["mill", "hub"]);
  });

  it("fails with what two cables share", () => {
    const trunk = "  - { ends: [mill:l1, hub:p1], shares: [duct] }\n  - { ends: [mill:l2, hub:p2], shares: [duct] }";
    const site = shop({ trunk, top: "shared-fates: { duct: under the yard }" });
    expect(brokenBy(site, "one-of: [cables]")).toEqual(["the shared fate duct"]);
  });

  it("fails without the server of a lease, and a lease needs it", () => {
    expect(brokenBy(shop(), "one-of: servers")).toEqual(["the DHCP server on mill/office"]);
    expect(brokenBy(shop(), "one-of: servers", "lease: { client: clerk }")).toEqual(["the DHCP server on mill/office"]);
  });

  it("is broken where nobody serves any more", () => {
    const site = shop({ mill: "resolver: { listen: [office] }" });
    const names = "from: clerk, to: mill/office, service: udp/53, expect: connects";
    expect(brokenBy(site, "one-of: servers", names)).toContain("the resolver on mill");
  });

  it("is decided by the server that failed alone, not by a line beside which one is missing", () => {
    const site = shop({ mill: "resolver: { listen: [office] }\n    admin: { services: [tcp/22], listen: [office] }" });
    const names = "from: till, to: mill/office, service: udp/53, expect: connects";
    const { verdict } = asked(site, "one-of: servers", names);
    const [first] = verdict.breaks ?? [];
    expect(first?.without).toEqual(["the resolver on mill"]);
    expect(verdict.decidedBy[0]).toMatchObject({ text: "the resolver on mill fails", origin: { by: "written" } });
    expect(verdict.decidedBy.filter(({ origin: { by } }) => by === "absent")).toEqual([]);
  });

  it("takes nothing else of the same name down with a shared fate", () => {
    const trunk = "  - { ends: [mill:l1, hub:p1], shares: [clerk] }\n  - { ends: [mill:l2, hub:p2], shares: [clerk] }";
    const site = shop({ trunk, top: "shared-fates: { clerk: the duct behind the desk }" });
    expect(brokenBy(site, "one-of: [cables, devices]")).toEqual(["mill", "hub", "the shared fate clerk"]);
    expect(brokenBy(site, "one-of: [cables]")).toEqual(["the shared fate clerk"]);
    expect(brokenBy(site, "one-of: [devices]")).toEqual(["mill", "hub"]);
  });

  it("is vacuous where nothing of the kind is there", () => {
    const site = shop({ plain: true, trunk: "  - [mill:l1, hub:p1]" });
    expect(asked(site, "one-of: bond-members")).toMatchObject({
      status: "vacuous",
      headline: "the site has no bond-members that could fail",
      path: [],
    });
  });

  it("is not asked when it does not hold on the whole site", () => {
    const told = asked(shop(), "one-of: [cables, devices]", REACH.replace("connects", "blocked"));
    expect(told).toMatchObject({ status: "failed" });
    expect(told.verdict.breaks).toBeUndefined();
  });
});

describe("an assertion that survives two failures", () => {
  it("names the pair, and no pair that holds a part which breaks it alone", () => {
    expect(brokenBy(shop(), "two-of: [cables]")).toEqual(["the cable mill:l1 - hub:p1 and the cable mill:l2 - hub:p2"]);
    const hanging = shop({ plain: true, trunk: "  - [mill:l1, hub:p1]" });
    expect(brokenBy(hanging, "two-of: [cables]")).toEqual(["the cable mill:l1 - hub:p1"]);
  });
});

describe("what must stay blocked", () => {
  /** Two switches; the second cable between them, blocked by the tree at rest, joins the two networks. */
  const ring = (second: string): TestSite =>
    siteFrom(
      `dryrack: topology/1
devices:
  east: { is: switch, ports: { p1..4: 1G } }
  west: { is: switch, ports: { p1..4: 1G } }
  guest: { is: host, ports: { nic: 1G } }
  vault: { is: host, ports: { nic: 1G } }
cables: [[east:p1, west:p1], [east:p2, west:p2], [east:p3, guest:nic], [west:p3, vault:nic]]
`,
      `dryrack: intent/1
networks:
  guests: { vlan: 10, ipv4: 10.1.0.0/24 }
  vaults: { vlan: 20, ipv4: 10.1.0.0/24 }
devices:
  east: { switching: { spanning-tree: { priority: 4096 }, unlisted: "off", ports: { p1: { tagged: [guests, vaults] }, p2: { untagged: guests }, p3: { untagged: guests } } } }
  west: { switching: { unlisted: "off", ports: { p1: { tagged: [guests, vaults] }, p2: ${second}, p3: { untagged: vaults } } } }
  guest: { legs: { nic: { network: guests, host: 10, gateway: none } } }
  vault: { legs: { nic: { network: vaults, host: 20, gateway: none } } }
`,
    );
  const APART = "from: guest, to: vault, expect: blocked, even-if: cut-off";

  it("is broken where the second way joins what the first keeps apart", () => {
    expect(judge(ring("{ untagged: vaults }"), APART)[0]).toMatchObject({ status: "passed" });
    expect(brokenBy(ring("{ untagged: vaults }"), "one-of: [cables]", APART)).toEqual(["the cable east:p1 - west:p1"]);
  });

  it("holds where the second way keeps them apart, too", () => {
    expect(asked(ring("{ untagged: guests }"), "one-of: [cables]", APART)).toMatchObject({ status: "passed" });
  });
});

describe("the internet", () => {
  /** A provider's socket, a box in between, the router. */
  const line = (): TestSite =>
    siteFrom(
      `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  box: { is: unmanaged-switch, ports: { p1..2: 1G } }
  mill: { is: router, ports: { wan: 1G, l1: 1G } }
  clerk: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, box:p1], [box:p2, mill:wan], [mill:l1, clerk:nic]]
`,
      `dryrack: intent/1
networks: { office: { ipv4: 10.1.0.0/24 } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  mill:
    interfaces: { wan: { port: wan, ipv4: lease }, office: { network: office, port: l1, host: 1 } }
    admin: { services: [tcp/22] }
  clerk: { legs: { nic: { network: office, host: 10, gateway: 10.1.0.1 } } }
`,
    );
  const ALL = "one-of: [cables, devices, servers]";
  const UPLINK = [
    "carrier",
    "box",
    "the cable carrier:drop - box:p1",
    "the cable box:p2 - mill:wan",
    "the DHCP server on carrier/drop",
  ];

  it("is no end that fails itself: whatever leads to it counts", () => {
    const inward = brokenBy(line(), ALL, "from: internet, to: mill/wan, service: tcp/22, expect: connects");
    expect(inward).toEqual(UPLINK);
  });

  it("hides no failure of another end", () => {
    const inward = brokenBy(line(), ALL, "from: [internet, clerk], to: mill/wan, expect: arrives");
    expect(inward).toEqual(UPLINK);
  });
});
