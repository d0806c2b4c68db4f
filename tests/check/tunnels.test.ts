/**
 * Tunnels between two sites over the internet, and from a laptop on the road: they come up by an exchange of outer packets,
 * allowed prefixes pick the peer outbound and drop foreign sources inbound (semantics, section 3).
 */
import { describe, expect, it } from "vitest";
import { isBeyond } from "../../src/network/index.ts";
import { judge, siteFrom, statuses, type TestSite } from "./verdicts.ts";

const RACK = `
devices:
  north: { is: upstream, ports: { drop: 1G } }
  south: { is: upstream, ports: { drop1..2: 1G } }
  mill: { is: router, ports: { wan: 1G, lan: 1G } }
  dock: { is: router, ports: { wan: 1G, lan: 1G } }
  loom: { is: host, ports: { nic: 1G } }
  crane: { is: host, ports: { nic: 1G } }
  rover: { is: host, ports: { nic: 1G } }
cables:
  - [north:drop, mill:wan]
  - [south:drop1, dock:wan]
  - [south:drop2, rover:nic]
  - [mill:lan, loom:nic]
  - [dock:lan, crane:nic]
`;

type Changes = {
  readonly millTunnels?: string;
  readonly dockTunnels?: string;
  readonly dockTo?: string;
  readonly millRoutes?: string;
  readonly dockRoutes?: string;
  readonly crane?: string;
  readonly millServes?: string;
  readonly dockRelays?: string;
  readonly roverAllowed?: string;
};

const ANSWERS = "{ name: answers, state: [established, related], action: accept }";

/** The dock listens; the mill, behind a leased address, and the rover start. */
function site({
  millTunnels = "link: { peers: { dock/link: { endpoint: 198.51.100.2, allowed: [10.99.0.1, 10.60.2.0/24] } } }",
  dockTunnels = "link: { listen: 4701, peers: { mill/link: { allowed: [10.99.0.2, 10.60.1.0/24] }, rover/home: { allowed: [10.99.0.3] } } }",
  dockTo = "{ name: tunnels, in: wan, service: udp/4701, action: accept }",
  millRoutes = "{ to: 10.60.2.0/24, out: far }",
  roverAllowed = "[10.99.0.0/24, 10.60.0.0/16]",
  dockRoutes = "{ to: 10.60.1.0/24, out: far }",
  crane = "{ network: freight, host: 9, gateway: dock/freight }",
  millServes = "{}",
  dockRelays = "{}",
}: Changes = {}): TestSite {
  return siteFrom(
    RACK,
    `
networks:
  weaving: { ipv4: 10.60.1.0/24 }
  freight: { ipv4: 10.60.2.0/24 }
devices:
  north: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }
  south:
    hands-out:
      drop1: { ipv4: 198.51.100.0/25, router: 198.51.100.1 }
      drop2: { ipv4: 198.51.100.128/25, router: 198.51.100.129, hosts: 10-20 }
  mill:
    interfaces:
      wan: { port: wan, ipv4: lease }
      weaving: { network: weaving, port: lan, host: 1 }
      far: { port: link, ipv4: 10.99.0.2/24 }
    routes: [${millRoutes}]
    dhcp: ${millServes}
    tunnels: { ${millTunnels} }
    translate: { source: [ { name: hide, family: ipv4, out: wan, to: external-address } ] }
  dock:
    interfaces:
      wan: { port: wan, ipv4: 198.51.100.2/25, gateway: 198.51.100.1 }
      freight: { network: freight, port: lan, host: 1 }
      far: { port: link, ipv4: 10.99.0.1/24 }
    routes: [${dockRoutes}]
    relay: ${dockRelays}
    tunnels: { ${dockTunnels} }
    filter:
      to: { otherwise: drop, rules: [${ANSWERS}, ${dockTo}] }
      through: { otherwise: drop, rules: [${ANSWERS}, { name: sites, in: far, out: freight, action: accept }, { name: out, in: freight, action: accept }] }
      from: { otherwise: accept }
  loom: { legs: { nic: { network: weaving, host: 9, gateway: mill/weaving } } }
  crane: { legs: { nic: ${crane} } }
  rover:
    tunnels: { home: { peers: { dock/link: { endpoint: dock/wan, allowed: ${roverAllowed} } } } }
    legs: { nic: lease, home: { port: home, ipv4: 10.99.0.3/24 } }
    routes: [{ to: 10.60.0.0/16, out: home }]
`,
  );
}

const TO_CRANE = "from: loom, to: crane, service: tcp/80, expect: connects";
const FROM_ROVER = "from: rover, to: crane, service: tcp/80, expect: connects";
const DEAF = "{ name: nothing, in: freight, action: accept }";

describe("a tunnel", () => {
  it("joins two sites once an outer packet was answered, and says that somebody keeps it open", () => {
    const [told] = judge(site(), TO_CRANE);
    expect(told).toMatchObject({ status: "passed" });
    expect(told?.assumptions).toContain("the tunnel between mill and dock is kept open by whoever starts it");
    expect(statuses(site(), "from: crane, to: loom, service: tcp/80, expect: connects")).toEqual(["passed"]);
  });

  it("lets a host in that starts from anywhere", () => {
    expect(statuses(site(), FROM_ROVER)).toEqual(["passed"]);
  });

  it("stays down where outer packets are dropped: the list that drops them is to blame, then the peer", () => {
    const [told] = judge(site({ dockTo: DEAF }), TO_CRANE);
    expect(told).toMatchObject({ status: "failed", headline: "loom to crane on tcp/80: the tunnel of mill is not up" });
    expect(told?.decided[0]).toContain("drop");
    expect(told?.decided[1]).toContain("dock/link");
  });

  it("stays down where the peer does not know it", () => {
    const one = "link: { listen: 4701, peers: { rover/home: { allowed: [10.99.0.3] } } }";
    const [told] = judge(site({ dockTunnels: one }), TO_CRANE);
    expect(told).toMatchObject({ status: "failed", decided: ["`mill/link`"] });
  });

  it("is turned away at an end that waits for its peer to start", () => {
    const packet = "from: crane, to: loom, service: tcp/80, expect: connects";
    const [told] = judge(site({ dockTo: DEAF }), packet);
    expect(told?.headline).toContain("the tunnel of dock is not up (icmp/host-unreachable from dock)");
  });

  it("carries nothing to what no peer is allowed", () => {
    const wide = site({ millRoutes: "{ to: 10.0.0.0/8, out: far }" });
    const [told] = judge(wide, "from: loom, to: 10.77.0.1, service: tcp/80, expect: connects");
    expect(told).toMatchObject({ status: "failed" });
    expect(told?.headline).toContain("nobody answers");
  });

  it("is killed by a route that leads its own outer packets into it", () => {
    const link = "link: { peers: { dock/link: { endpoint: 198.51.100.2, allowed: [0.0.0.0/0] } } }";
    const eaten = site({ millTunnels: link, millRoutes: "{ to: 0.0.0.0/1, out: far }, { to: 128.0.0.0/1, out: far }" });
    expect(statuses(eaten, TO_CRANE)).toEqual(["failed"]);
    expect(statuses(site({ millTunnels: link }), TO_CRANE)).toEqual(["passed"]);
  });
});

/** The source of the packet that gets through, in short. */
function breachFrom(from: string, changes: Changes = {}): string | undefined {
  const [told] = judge(site(changes), `from: ${from}, to: crane, service: tcp/80, expect: blocked`);
  expect(told?.status).toBe("failed");
  return told?.packet.replace(/^.* from (\S+) to .*$/, "$1");
}

describe("what comes out of a tunnel", () => {
  it("has a source that its peer is allowed, whatever its sender forges", () => {
    expect(breachFrom("rover")).toBe("10.99.0.3");
    expect(breachFrom("weaving")).toMatch(/^10\.60\.1\./);
    const narrow =
      "link: { listen: 4701, peers: { mill/link: { allowed: [10.99.0.2, 10.60.1.64/26] }, rover/home: { allowed: [10.99.0.3] } } }";
    expect(breachFrom("weaving", { dockTunnels: narrow })).toBe("10.60.1.64");
    // What is left is an address of the mill's own, which nobody else can claim there (kernel fact 7).
    const none = narrow.replace(", 10.60.1.64/26", "");
    expect(statuses(site({ dockTunnels: none }), "from: weaving, to: crane, service: tcp/80, expect: blocked")).toEqual(
      ["passed"],
    );
  });
});

describe("a tunnel of several peers", () => {
  const both = (mill: string, rover: string): Changes => ({
    dockTunnels: `link: { listen: 4701, peers: { mill/link: { allowed: [${mill}] }, rover/home: { allowed: [${rover}] } } }`,
  });
  const TO_ROVER = "from: dock, to: 10.99.0.3, service: tcp/80, expect: connects";

  it("sends to the one with the longest prefix", () => {
    expect(statuses(site(both("10.99.0.0/24", "10.99.0.3")), TO_ROVER)).toEqual(["passed"]);
    expect(statuses(site(both("10.99.0.3", "10.99.0.0/24")), TO_ROVER)).toEqual(["failed"]);
  });

  it("takes relayed requests to the one that is allowed the server, whatever the routes say", () => {
    const leased = (peers: Changes): TestSite =>
      site({
        ...peers,
        crane: "lease",
        dockRoutes: "",
        dockTo:
          "{ name: tunnels, in: wan, service: udp/4701, action: accept }, { name: leases, service: udp/67, action: accept }",
        millServes: "{ freight: { hosts: 100-110, lease: 1h, router: 10.60.2.1 } }",
        dockRelays: "{ freight: { to: 10.60.1.1, via: far } }",
      });
    const LEASE = "lease: { client: crane }";
    const first =
      "link: { listen: 4701, peers: { rover/home: { allowed: [10.99.0.3] }, mill/link: { allowed: [10.99.0.2, 10.60.1.0/24] } } }";
    expect(statuses(leased({}), LEASE)).toEqual(["passed"]);
    expect(statuses(leased({ dockTunnels: first }), LEASE)).toEqual(["passed"]);
    expect(statuses(leased(both("10.99.0.2", "10.99.0.3")), LEASE)).toEqual(["failed"]);
  });

  it("sends to the later one of equals", () => {
    expect(statuses(site(both("10.99.0.0/24", "10.99.0.0/24")), TO_ROVER)).toEqual(["passed"]);
  });
});

describe("a packet in a tunnel", () => {
  it("is 60 bytes smaller over IPv4, unless more is stated", () => {
    const { network } = site();
    const legs = network.stacks
      .flatMap(({ interfaces }) => interfaces)
      .filter(({ id, tunnel }) => tunnel !== undefined && !isBeyond(id));
    expect(new Set(legs.map(({ mtu }) => mtu))).toEqual(new Set([1440]));
    const stated = site({ millTunnels: "link: { overhead: 100, peers: { dock/link: { allowed: [10.60.2.0/24] } } }" });
    const mill = stated.network.stacks.flatMap(({ interfaces }) => interfaces).find(({ id }) => id === "mill/far");
    expect(mill?.mtu).toBe(1400);
  });

  it.each([
    ["an address", '"fd00:9::2"'],
    ["a name", "there/wan"],
  ])("is 80 bytes smaller over IPv6, at either end, told by %s", (_, endpoint) => {
    const { network } = siteFrom(
      `
devices:
  here: { is: router, ports: { wan: 1G } }
  there: { is: router, ports: { wan: 1G } }
cables: [[here:wan, there:wan]]
`,
      `
devices:
  here:
    interfaces: { wan: { port: wan, ipv6: "fd00:9::1/64" }, far: { port: link, ipv4: 10.99.0.1/24 } }
    tunnels: { link: { peers: { there/link: { endpoint: ${endpoint}, allowed: [10.99.0.2] } } } }
  there:
    interfaces: { wan: { port: wan, ipv6: "fd00:9::2/64" }, far: { port: link, ipv4: 10.99.0.2/24 } }
    tunnels: { link: { listen: 4701, peers: { here/link: { allowed: [10.99.0.1] } } } }
`,
    );
    const legs = network.stacks.flatMap(({ interfaces }) => interfaces).filter(({ tunnel }) => tunnel !== undefined);
    expect(legs.map(({ mtu }) => mtu)).toEqual([1420, 1420]);
  });
});
