/**
 * The line that a failed exchange is blamed on first: where the mistake is, not where the packet ended.
 */
import { describe, expect, it } from "vitest";
import { type Rooms, rooms } from "./rooms.ts";
import { judge } from "./verdicts.ts";

/** Text of the lines blamed for an exchange that fails. */
function blamed(changes: Rooms, assertion: string): readonly string[] {
  const [verdict] = judge(rooms(changes), assertion);
  expect(verdict?.status).toBe("failed");
  return verdict?.decided ?? [];
}

const A_TO_B = "from: a, to: b, service: tcp/80, expect: connects";

describe("what knows no way is blamed on the list that lacks one", () => {
  it("the word `none` of a host that cannot answer", () => {
    const site = rooms({ legsB: "nic: { network: blue, host: 10, gateway: none }" });
    const [verdict] = judge(site, A_TO_B);
    const [first] = verdict?.verdict.decidedBy ?? [];
    expect(first?.origin).toMatchObject({ by: "absent", wanted: "a gateway or a route" });
    expect(first && site.textAt(first.origin.span)).toBe("none");
  });

  it("the routes of a router", () => {
    const routes = "{ to: 10.7.0.0/16, via: 10.1.0.10 }";
    const site = rooms({ router: `    routes: [${routes}]` });
    const [verdict] = judge(site, "from: a, to: 10.9.0.1, service: tcp/80, expect: connects");
    const [first] = verdict?.verdict.decidedBy ?? [];
    expect(first?.origin.by).toBe("absent");
    expect(first && site.textAt(first.origin.span)).toContain(routes);
  });
});

describe("a next hop that sends nothing on is blamed on who named it", () => {
  const neighbour: Rooms = {
    rack: "  n: { is: host, ports: { nic: 1G } }",
    cables: "  - [r:p3, n:nic]",
    intent: "  n: { legs: { nic: { network: red, host: 20, gateway: 10.1.0.1 } } }",
  };

  it("a gateway", () => {
    const legsA = "nic: { network: red, host: 10, gateway: 10.1.0.20 }";
    expect(blamed({ ...neighbour, legsA }, A_TO_B)[0]).toBe("10.1.0.20");
  });

  it("a route of the router on the way", () => {
    const route = "{ to: 10.9.0.0/16, via: 10.1.0.20 }";
    const question = "from: b, to: 10.9.0.1, service: tcp/80, expect: connects";
    expect(blamed({ ...neighbour, router: `    routes: [${route}]` }, question)[0]).toBe(route);
  });

  it("the pool whose lease named it", () => {
    const legsA = "nic: lease";
    const pool = "red: { hosts: 10-19, router: 10.1.0.20 }";
    expect(blamed({ ...neighbour, legsA, router: `    dhcp: { ${pool} }` }, A_TO_B)[0]).toBe("red");
  });
});

describe("a forward that lets its service be is blamed on the word that narrows it", () => {
  const forward = (more: string): Rooms => ({
    router: `    translate: { dest: [{ name: page, ${more}, service: tcp/80, to: b, to-port: 8080 }] }`,
    to: "{ otherwise: drop, rules: [] }",
    b: "serves: { tcp/8080: all }",
  });

  it.each([
    ["in", "in: blue", "blue"],
    ["dest", "family: ipv4, dest: 10.1.0.2", "10.1.0.2"],
    ["source", "family: ipv4, source: 10.1.0.99", "10.1.0.99"],
  ])("`%s`", (_, more, word) => {
    const [first] = blamed(forward(more), "from: a, to: 10.1.0.1, service: tcp/80, expect: connects");
    expect(first).toContain(word);
  });

  it("but not where the router serves it itself", () => {
    const { router, ...rest } = forward("in: blue");
    const served = { ...rest, router: `${router}\n    admin: { services: [tcp/80], listen: [red] }` };
    const [first] = blamed(served, "from: a, to: 10.1.0.1, service: tcp/80, expect: connects");
    expect(first).toBe("drop");
  });

  it("and no forward of another service", () => {
    const [first] = blamed(forward("in: red"), "from: a, to: 10.1.0.1, service: tcp/81, expect: connects");
    expect(first).toBe("drop");
  });
});
