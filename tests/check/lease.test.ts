/**
 * `lease`: what a client is handed.
 */
import { describe, expect, it } from "vitest";
import { type Rooms, rooms } from "./rooms.ts";
import { judge } from "./verdicts.ts";

const served = (pool = "hosts: 100-109", more: Rooms = {}): ReturnType<typeof rooms> =>
  rooms({ legsA: "nic: lease", router: `    dhcp: { red: { ${pool} } }`, ...more });

describe("a lease", () => {
  it.each([
    ["client: a", "passed", "a gets 10.1.0.100 from r"],
    ["client: a/nic", "passed", "a/nic gets 10.1.0.100 from r"],
    ["client: a, address: 10.1.0.100-109, router: r/red, server: r", "passed", "a gets 10.1.0.100 from r"],
    ["client: a, address: 10.1.0.50", "failed", "a: gets 10.1.0.100, not 10.1.0.50"],
    ["client: a, address: 10.1.0.50-60", "failed", "a: gets 10.1.0.100, outside 10.1.0.50-10.1.0.60"],
    ["client: a, address: none", "failed", "a: gets 10.1.0.100, and should get none"],
    ["client: a, router: 10.1.0.2", "failed", "a: is told the router 10.1.0.1, not 10.1.0.2"],
    ["client: a, router: none", "failed", "a: is told the router 10.1.0.1, and should be told none"],
    ["client: a, resolvers: [r/blue]", "failed", "a: is told the resolvers 10.1.0.1, not 10.2.0.1"],
    ["client: a, resolvers: none", "failed", "a: is told the resolvers 10.1.0.1, not none"],
    ["client: a, server: b", "failed", "a: is answered by r, not b"],
  ])("{ %s }: %s", (lease, status, headline) => {
    expect(judge(served(), `lease: { ${lease} }`)[0]).toMatchObject({ status, headline });
  });

  it.each([
    ["router: none", "router: none", "router: 10.1.0.1", "a: is told no router, not 10.1.0.1"],
    ["resolvers: none", "resolvers: none", "resolvers: [r]", "a: is told the resolvers none, not 10.1.0.1 or 10.2.0.1"],
  ])("with %s tells none", (pool, kept, broken, headline) => {
    const site = served(`hosts: 100-109, ${pool}`);
    const [holds, fails] = judge(site, `lease: { client: a, ${kept} }`, `lease: { client: a, ${broken} }`);
    expect(holds?.status).toBe("passed");
    expect(fails).toMatchObject({ status: "failed", headline });
  });

  it("is relayed by the interface that the relay names, whatever the routes say", () => {
    const relayed = (via: string): ReturnType<typeof rooms> =>
      rooms({
        legsA: "nic: lease",
        b: "dhcp: { red: { hosts: 100-109 } }",
        router: `    routes: [{ to: 10.2.0.10/32, via: 10.1.0.77 }]\n    relay: { red: { to: b${via} } }`,
      });
    const [lost] = judge(relayed(""), "lease: { client: a }");
    expect(lost).toMatchObject({ status: "failed" });
    const [named] = judge(relayed(", via: blue"), "lease: { client: a }");
    expect(named).toMatchObject({ status: "passed", headline: "a gets 10.1.0.100 from b" });
    expect(() => relayed(", via: green")).toThrow(/green/);
  });

  it("comes past a rogue server where its port is not trusted, and not at all where that of the router is not", () => {
    const guarded = (router: string, rogue: string): ReturnType<typeof rooms> =>
      served("hosts: 100-109", {
        rack: `  s: { is: switch, ports: { p1..3: 1G } }
  c: { is: host, ports: { nic: 1G } }
  x: { is: router, ports: { lan: 1G } }`,
        cables: "  - [r:p3, s:p1]\n  - [s:p2, c:nic]\n  - [s:p3, x:lan]",
        intent: `  s:
    switching:
      unlisted: "off"
      ports:
        p1: { untagged: red${router} }
        p2: { untagged: red }
        p3: { untagged: red${rogue} }
  c: { legs: { nic: lease } }
  x: { interfaces: { lan: { port: lan, network: red, host: 2 } }, dhcp: { lan: { hosts: 200-209 } } }`,
      });
    const [both] = judge(guarded("", ""), "lease: { client: c, server: r }");
    expect(both).toMatchObject({ status: "failed", headline: expect.stringMatching(/^c: is answered by x, not r/) });
    const [kept] = judge(guarded("", ", leases-trusted: no"), "lease: { client: c, server: r }");
    expect(kept).toMatchObject({ status: "passed", headline: expect.stringMatching(/^c gets .* from r$/) });
    const no = ", leases-trusted: no";
    const [neither] = judge(guarded(no, no), "lease: { client: c }");
    expect(neither).toMatchObject({ status: "failed" });
    expect(neither?.decided[0]).toBe("no");
  });

  it("that never comes is shown by the line that keeps it away", () => {
    const [verdict] = judge(served("hosts: 100-109", { to: "{ otherwise: drop }" }), "lease: { client: a }");
    expect(verdict).toMatchObject({ status: "failed", decided: expect.arrayContaining(["drop"]) });
    expect(verdict?.headline).toBe("a: gets no lease: its request was dropped");
  });

  it("that shall not come passes when it does not", () => {
    const [verdict] = judge(rooms({ legsA: "nic: lease" }), "lease: { client: a, address: none }");
    expect(verdict).toMatchObject({ status: "passed", headline: "a gets no lease, as it should" });
  });

  it("runs out with the pool, in document order", () => {
    const site = served("hosts: 100-100", {
      rack: "  c: { is: host, ports: { nic: 1G } }",
      cables: "  - [r:p3, c:nic]",
      intent: "  c: { legs: { nic: lease } }",
    });
    const [first, second] = judge(site, "lease: { client: a }", "lease: { client: c }");
    expect(first?.status).toBe("passed");
    expect(second).toMatchObject({ status: "failed", headline: "c: gets no lease: the pool has no address left" });
  });

  it("is an empty question for a client that asks for none", () => {
    expect(judge(rooms(), "lease: { client: a }")[0]).toMatchObject({
      status: "vacuous",
      headline: "a asks for no lease",
    });
  });

  it("is undecided where nobody knows what becomes of the request", () => {
    const to =
      "{ otherwise: accept, rules: [{ name: legacy, service: udp/67, action: unknown, note: nobody dares to look }] }";
    const site = served("hosts: 100-109", { to });
    const told = judge(
      site,
      "lease: { client: a }",
      "lease: { client: a, address: none }",
      "from: a, to: b, expect: connects",
      "from: a, to: 10.9.9.9, expect: blocked",
    );
    expect(told.map(({ status }) => status)).toEqual(["undecided", "undecided", "undecided", "undecided"]);
    for (const verdict of told) expect(verdict.limit).toBe("nobody dares to look");
  });
});
