/**
 * All outcomes (semantics, section 1): what the documents leave open is tried every way, and a failure names the outcome
 * that breaks it.
 */
import { describe, expect, it } from "vitest";
import { type Rooms, rooms } from "./rooms.ts";
import { judge, siteFrom, type TestSite } from "./verdicts.ts";

const RED_AND_BLUE = "p1: { untagged: red }, p2: { untagged: blue }";

describe("the member that a bond takes", () => {
  /** The two members of a static bond lead to two switches; `c` is behind one of them. */
  const split = (at: string, more: Rooms = {}): TestSite =>
    rooms({
      networks: "  green: { vlan: 30, ipv4: 10.3.0.0/24 }",
      rack: `  s: { is: switch, ports: { p1..2: 1G } }
  t: { is: switch, ports: { p1..2: 1G } }
  c: { is: host, ports: { nic: 1G } }`,
      cables: `  - [r:p3, s:p1]\n  - [r:p4, t:p1]\n  - [${at}:p2, c:nic]`,
      ports: RED_AND_BLUE,
      interfaces: ", green: { network: green, port: pair, host: 1 }",
      router: "    bonds: { pair: { members: [p3, p4], mode: static } }",
      intent: `  s: { switching: { ports: { p1..2: { untagged: green } } } }
  t: { switching: { ports: { p1..2: { untagged: green } } } }
  c: { legs: { nic: { network: green, host: 10, gateway: 10.3.0.1 } } }`,
      ...more,
    });

  it.each([
    ["s", "r:p4"],
    ["t", "r:p3"],
  ])("breaks an exchange with a host behind %s", (at, member) => {
    const [verdict] = judge(split(at), "from: a, to: c, expect: connects");
    expect(verdict).toMatchObject({
      status: "failed",
      headline: expect.stringMatching(`when r:pair sends by ${member}$`),
    });
    expect(verdict?.picks).toContainEqual({ choice: "r:pair/member", option: member });
  });

  it("breaks a wall, too", () => {
    const [verdict] = judge(split("t"), "from: a, to: c, expect: blocked");
    expect(verdict).toMatchObject({ status: "failed", headline: expect.stringContaining("when r:pair sends by r:p4") });
  });
});

describe("equal paths", () => {
  /** Two ways to `c`, of which the second one filters. */
  const site = rooms({
    rack: `  s: { is: switch, ports: { p1..4: 1G } }
  u: { is: router, ports: { in: 1G, out: 1G } }
  v: { is: router, ports: { in: 1G, out: 1G } }
  w: { is: switch, ports: { p1..3: 1G } }
  c: { is: host, ports: { nic: 1G } }`,
    cables: `  - [r:p4, s:p1]
  - [s:p2, u:in]
  - [s:p3, v:in]
  - [u:out, w:p1]
  - [v:out, w:p2]
  - [c:nic, w:p3]`,
    networks: "  middle: { vlan: 30, ipv4: 10.3.0.0/24 }\n  far: { vlan: 40, ipv4: 10.4.0.0/24 }",
    interfaces: ", middle: { network: middle, port: p4, host: 1 }",
    router: "    routes: [{ to: 10.4.0.0/24, via: [10.3.0.2, 10.3.0.3] }]",
    intent: `  s: { switching: { ports: { p1..4: { untagged: middle } } } }
  w: { switching: { ports: { p1..3: { untagged: far } } } }
  u:
    interfaces: { in: { network: middle, port: in, host: 2 }, out: { network: far, port: out, host: 2 } }
    routes: [{ to: 10.1.0.0/16, via: 10.3.0.1 }]
  v:
    interfaces: { in: { network: middle, port: in, host: 3 }, out: { network: far, port: out, host: 3 } }
    routes: [{ to: 10.1.0.0/16, via: 10.3.0.1 }]
    filter: { to: { otherwise: accept }, through: { otherwise: accept, rules: [{ name: no web, service: tcp/80, action: drop }] }, from: { otherwise: accept } }
  c: { legs: { nic: { network: far, host: 10, gateway: 10.4.0.2 } } }`,
  });

  it("must all work", () => {
    const [web, mail] = judge(
      site,
      "from: a, to: c, service: tcp/80, expect: connects",
      "from: a, to: c, service: tcp/25, expect: connects",
    );
    expect(web?.status).toBe("failed");
    expect(web?.headline).toMatch(/dropped by `no web` when r takes the way .*10\.3\.0\.3$/);
    expect(web?.decided[0]).toBe("no web");
    expect(mail?.status).toBe("passed");
  });

  it("must all be walls", () => {
    const [verdict] = judge(site, "from: a, to: c, service: tcp/80, expect: blocked");
    expect(verdict?.headline).toMatch(/reaches c when r takes the way .*10\.3\.0\.2/);
  });
});

describe("two servers of leases", () => {
  const site = siteFrom(
    `dryrack: topology/1
devices:
  s: { is: switch, ports: { p1..4: 1G } }
  r: { is: router, ports: { lan: 1G } }
  rogue: { is: router, ports: { lan: 1G } }
  a: { is: host, ports: { nic: 1G } }
cables: [[s:p1, r:lan], [s:p2, rogue:lan], [s:p3, a:nic]]
`,
    `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 } }
devices:
  s: { switching: { ports: { p1..4: { untagged: red } } } }
  r: { interfaces: { lan: { network: red, port: lan, host: 1 } }, dhcp: { lan: { hosts: 100-109 } } }
  rogue: { interfaces: { lan: { network: red, port: lan, host: 2 } }, dhcp: { lan: { hosts: 200-209 } } }
  a: { legs: { nic: lease } }
`,
  );

  it("both count", () => {
    const [one, two, any] = judge(
      site,
      "lease: { client: a, server: r }",
      "lease: { client: a, address: 10.1.0.200-209 }",
      "lease: { client: a, address: 10.1.0.100-209 }",
    );
    expect(one).toMatchObject({
      status: "failed",
      headline: "a: is answered by rogue, not r when a takes the lease of rogue",
    });
    expect(two).toMatchObject({ status: "failed", headline: expect.stringContaining("when a takes the lease of r") });
    expect(any?.status).toBe("passed");
  });

  it("both count for what rests on the lease", () => {
    const [verdict] = judge(site, "from: a, to: 10.1.0.1, expect: connects, through: r");
    expect(verdict?.status).toBe("passed");
    const [gateway] = judge(site, "from: a, to: 10.9.0.1, expect: arrives");
    expect(gateway?.status).toBe("failed");
  });
});

describe("the access point that a client is on", () => {
  const site = siteFrom(
    `dryrack: topology/1
devices:
  r: { is: router, ports: { p1..3: 1G } }
  hall: { is: access-point, ports: { up: 1G }, radios: [air] }
  yard: { is: access-point, ports: { up: 1G }, radios: [air] }
  phone: { is: host, radios: [wlan] }
cables: [[r:p1, hall:up], [r:p2, yard:up]]
`,
    `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 }, blue: { vlan: 20, ipv4: 10.2.0.0/24 } }
devices:
  r:
    switching: { unlisted: "off", ports: { p1: { tagged: [red, blue] }, p2: { tagged: [blue] } }, own: { tagged: [red, blue] } }
    interfaces: { red: { network: red, host: 1 }, blue: { network: blue, host: 1 } }
    dhcp: { red: { hosts: 100-109 } }
  hall: { ssids: { House: { radio: air, network: red } }, switching: { ports: { up: { tagged: [red, blue] } } } }
  yard: { ssids: { House: { radio: air, network: red } }, switching: { ports: { up: { tagged: [red, blue] } } } }
  phone: { joins: House, legs: { wlan: lease } }
`,
  );

  it("must not matter: the trunk to one lacks the network", () => {
    const [verdict] = judge(site, "lease: { client: phone }");
    expect(verdict).toMatchObject({
      status: "failed",
      headline: expect.stringMatching(/^phone: gets no lease: .* when phone is on yard$/),
    });
  });
});

describe("what an unmanaged switch does with spanning-tree frames", () => {
  const ring = (habit: string): TestSite =>
    siteFrom(
      `dryrack: topology/1
devices:
  s: { is: switch, ports: { p1..4: 1G } }
  u: { is: unmanaged-switch, ports: { p1..4: 1G }${habit} }
  a: { is: host, ports: { nic: 1G } }
  b: { is: host, ports: { nic: 1G } }
cables: [[s:p1, u:p1], [s:p2, u:p2], [s:p3, a:nic], [u:p3, b:nic]]
`,
      `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 } }
devices:
  s: { switching: { ports: { p1..4: { untagged: red } } } }
  a: { legs: { nic: { network: red, host: 10 } } }
  b: { legs: { nic: { network: red, host: 20 } } }
`,
    );

  it("is tried both ways where nobody knows", () => {
    const [verdict] = judge(ring(""), "from: a, to: b, expect: connects");
    expect(verdict).toMatchObject({
      status: "failed",
      headline: expect.stringMatching(/drowns in a loop that nothing cuts when u eats spanning-tree frames$/),
    });
    expect(verdict?.picks).toEqual([{ choice: "u/switching/spanning-tree", option: "eat" }]);
  });

  it("is known where it is written", () => {
    const told = [", spanning-tree-frames: pass", ", spanning-tree-frames: eat"].map(
      (habit) => judge(ring(habit), "from: a, to: b, expect: connects")[0],
    );
    expect(told.map((verdict) => verdict?.status)).toEqual(["passed", "failed"]);
    expect(told[1]?.headline).not.toContain("when");
  });
});

it("a failure in every outcome names none", () => {
  const site = rooms({
    through: "{ otherwise: drop }",
    ports: RED_AND_BLUE,
    networks: "  green: { vlan: 30, ipv4: 10.3.0.0/24 }",
    rack: "  s: { is: switch, ports: { p1..3: 1G } }\n  c: { is: host, ports: { nic: 1G } }",
    cables: "  - [r:p3, s:p1]\n  - [r:p4, s:p2]\n  - [c:nic, s:p3]",
    interfaces: ", green: { network: green, port: pair, host: 1 }",
    router: "    bonds: { pair: { members: [p3, p4], mode: lacp } }",
    intent: `  s: { bonds: { up: { members: [p1, p2], mode: lacp } }, switching: { ports: { up: { untagged: green }, p3: { untagged: green } } } }
  c: { legs: { nic: { network: green, host: 10, gateway: 10.3.0.1 } } }`,
  });
  const [verdict] = judge(site, "from: a, to: c, expect: connects");
  expect(verdict).toMatchObject({ status: "failed", picks: [] });
  expect(verdict?.headline).not.toContain("when");
});
