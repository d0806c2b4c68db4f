/**
 * The line that a failed exchange is blamed on first: where the mistake is, not where the packet ended.
 */
import { describe, expect, it } from "vitest";
import type { Verdict } from "../../src/result/index.ts";
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

  it("the word of the pool whose lease named it", () => {
    const legsA = "nic: lease";
    const pool = "red: { hosts: 10-19, router: 10.1.0.20 }";
    expect(blamed({ ...neighbour, legsA, router: `    dhcp: { ${pool} }` }, A_TO_B)[0]).toBe("10.1.0.20");
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

describe("a client on the wrong radio network", () => {
  const air = (ssids: string): Rooms => ({
    rack: "  ap: { is: access-point, ports: { up: 1G }, radios: [air] }\n  phone: { is: host, radios: [wlan] }",
    cables: "  - [r:p4, ap:up]",
    ports: "p1: { untagged: red }, p2: { untagged: blue }, p4: { tagged: [red, blue] }",
    router: "    dhcp: { red: { hosts: 100-109 }, blue: { hosts: 100-109 } }",
    intent: `  ap: { ssids: { ${ssids} }, switching: { unlisted: "off", ports: { up: { tagged: [red, blue] } } } }
  phone: { joins: Guests, legs: { wlan: lease } }`,
  });
  const LEASE = "lease: { client: phone, address: 10.1.0.100-109 }";
  const GUESTS = "Guests: { radio: air, network: blue }";

  it("joined the wrong one where another leads to where it was to be", () => {
    expect(blamed(air(`${GUESTS}, Home: { radio: air, network: red }`), LEASE)[0]).toBe("Guests");
  });

  it("else its radio network is in the wrong network", () => {
    expect(blamed(air(GUESTS), LEASE)[0]).toBe("blue");
  });
});

describe("a client whose router has another tag than its network", () => {
  it("is kept from its lease by the interface with that tag", () => {
    const site: Rooms = {
      networks: "  green: { vlan: 30, ipv4: 10.3.0.0/24 }",
      rack: "  s: { is: switch, ports: { p1..2: 1G } }\n  c: { is: host, ports: { nic: 1G } }",
      cables: "  - [r:p4, s:p1]\n  - [s:p2, c:nic]",
      interfaces: ", green: { port: p4, tag: 31, network: green, host: 1 }",
      router: "    dhcp: { green: { hosts: 100-109 } }",
      intent: `  s: { switching: { unlisted: "off", ports: { p1: { tagged: [green] }, p2: { untagged: green } } } }
  c: { legs: { nic: lease } }`,
    };
    const { decided, verdict } = judge(rooms(site), "lease: { client: c }")[0] ?? {};
    expect(verdict?.status).toBe("failed");
    expect(decided?.[0]).toBe("green");
    expect(verdict?.decidedBy[0]?.origin).toMatchObject({ by: "written" });
    expect(rooms(site).textAt({ ...spanOf(verdict), end: spanOf(verdict).start + 18 })).toBe("green: { port: p4,");
  });
});

function spanOf(verdict: Verdict | undefined): Verdict["decidedBy"][number]["origin"]["span"] {
  const span = verdict?.decidedBy[0]?.origin.span;
  if (span === undefined) throw new Error("nothing is blamed");
  return span;
}

describe("a host that answers on the leg alone that has the address is blamed for it where that is written", () => {
  const legs: Rooms = {
    cables: "  - [r:p3, b:spare]",
    ports: "p1: { untagged: red }, p2: { untagged: blue }, p3: { untagged: red }",
    legsB: "nic: { network: blue, host: 10, gateway: 10.2.0.1 }, spare: { network: red, host: 20, gateway: none }",
    router: "    routes: [{ to: 10.2.0.10/32, via: 10.1.0.20 }]",
  };

  it("at its `host-model`", () => {
    const [first] = blamed({ ...legs, b: "host-model: strong" }, A_TO_B.replace("to: b", "to: b/nic"));
    expect(first).toBe("strong");
  });

  it("and not at all where it answers for each of its addresses on every leg", () => {
    const [verdict] = judge(rooms(legs), A_TO_B.replace("to: b", "to: b/nic").replace("connects", "arrives"));
    expect(verdict?.status).toBe("passed");
  });
});
