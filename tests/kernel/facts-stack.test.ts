/** Kernel facts 4 and 8 to 12: whose addresses answer where, which sources are believed, and which route is taken. */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { judged } from "./judge.ts";
import { packet, udp } from "./packets.ts";
import { row } from "./row.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

/** A storage box with a second leg that leads nowhere, beside a desk that takes both subnets to be on its own link. */
function storage(told = ""): readonly string[] {
  return [
    `
devices:
  desk: { is: host, ports: { nic: 1G } }
  store: { is: host, ports: { a: 1G, b: 1G } }
cables: [[desk:nic, store:a]]`,
    `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24 } }, routes: [{ to: 10.31.5.0/24, out: nic }] }
  store: { legs: { a: { ipv4: 10.31.1.20/24 }, b: { ipv4: 10.31.5.20/24 } }, ${told} }`,
  ];
}

describe.concurrent("fact 4: a weak host", () => {
  it("answers ARP and IP for an own address of another leg, even one without carrier", async () => {
    const site = await judged(rack, ...storage());
    const arrived = "answered; store sees 10.31.1.9 to 10.31.5.20";
    expect(await site.ask("desk", "ping", "10.31.5.20")).toBe(arrived);
    expect(await site.ask("desk", "tcp/445", "10.31.5.20")).toBe(`${arrived}:445`);
    expect(await site.ask("desk", "udp/53", "10.31.5.20")).toBe(`${arrived}:53`);
  });

  it("a strong host answers for the addresses of that leg only", async () => {
    const site = await judged(rack, ...storage("host-model: strong"));
    expect(await site.ask("desk", "ping", "10.31.5.20")).toBe("refused 3/1 from 10.31.1.9");
    expect(await site.ask("desk", "ping", "10.31.1.20")).toBe("answered; store sees 10.31.1.9 to 10.31.1.20");
  });

  it("input rules see the leg a packet came in by, not the one its address belongs to", async () => {
    const to = (leg: string) =>
      `filter: { to: { otherwise: accept, rules: [{ name: shut, in: ${leg}, service: [tcp, udp], action: drop }] } }`;
    const [byAddress, byArrival] = [await judged(rack, ...storage(to("b"))), await judged(rack, ...storage(to("a")))];
    expect(await byAddress.ask("desk", "udp/53", "10.31.5.20")).toMatch(/^answered/);
    expect(await byArrival.ask("desk", "udp/53", "10.31.5.20")).toBe("silent");
  });

  it("a packet to an own far address is input and never forward", async () => {
    const site = await judged(rack, ...row({ edge: "filter: { through: { otherwise: drop } }" }));
    expect(await site.ask("desk", "ping", "10.31.2.1")).toMatch(/^answered/);
    const shut = await judged(
      rack,
      ...row({ edge: "filter: { to: { otherwise: drop }, through: { otherwise: accept } }" }),
    );
    expect(await shut.ask("desk", "ping", "10.31.2.1")).toBe("silent");
    expect(await shut.ask("desk", "ping", "10.31.2.9")).toMatch(/^answered/);
  });
});

/** A box whose address is not of the subnet it is plugged into. */
function stray(check: string): readonly string[] {
  return [
    `
devices:
  stray: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { left: 1G, right: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[stray:nic, edge:left], [edge:right, shelf:nic]]`,
    `
devices:
  stray:
    legs: { nic: { ipv4: 10.31.7.9/24 } }
    routes: [{ to: 10.31.1.0/24, out: nic }]
  edge:
    reverse-path: ${check}
    interfaces: { left: { port: left, ipv4: 10.31.1.1/24 }, right: { port: right, ipv4: 10.31.2.1/24 } }
  shelf: { legs: { nic: { ipv4: 10.31.2.9/24, gateway: 10.31.2.1 } } }`,
  ];
}

describe.concurrent("fact 8: reverse-path filters", () => {
  it("strict drops a source whose route leaves by another leg, loose does not", async () => {
    const forged = packet("10.31.2.50", "10.31.2.9", udp(5000, 53));
    const strict = await judged(rack, ...row({ edge: "reverse-path: strict" }));
    expect(await strict.send("desk", forged)).toBe("nothing arrives");
    const loose = await judged(rack, ...row({ edge: "reverse-path: loose" }));
    expect(await loose.send("desk", forged)).toContain("shelf gets UDP 5000>53 10.31.2.50 to 10.31.2.9");
  });

  it("loose drops a source that no route leads to", async () => {
    const foreign = packet("10.88.0.5", "10.31.2.9", udp(5000, 53));
    const loose = await judged(rack, ...row({ edge: "reverse-path: loose" }));
    expect(await loose.send("desk", foreign)).toBe("nothing arrives");
    const none = await judged(rack, ...row());
    expect(await none.send("desk", foreign)).toContain("shelf gets UDP 5000>53 10.88.0.5 to 10.31.2.9");
  });

  it.each(["strict", "loose"])("%s drops the broadcast address of a network as a source", async (mode) => {
    const forged = packet("10.31.1.255", "10.31.2.9", udp(5000, 53));
    const checked = await judged(rack, ...row({ edge: `reverse-path: ${mode}` }));
    expect(await checked.send("desk", forged)).toBe("nothing arrives");
    const none = await judged(rack, ...row());
    expect(await none.send("desk", forged)).toContain("shelf gets UDP 5000>53 10.31.1.255 to 10.31.2.9");
  });

  it("in IPv6 as well", async () => {
    const forged = packet("fd31:2::50", "fd31:2::9", udp(5000, 53));
    const strict = await judged(rack, ...row({ edge: "reverse-path: strict" }));
    expect(await strict.send("desk", forged)).toBe("nothing arrives");
    const loose = await judged(rack, ...row({ edge: "reverse-path: loose" }));
    expect(await loose.send("desk", forged)).toContain("shelf gets UDP 5000>53 fd31:2::50 to fd31:2::9");
    expect(await loose.send("desk", packet("fd88::5", "fd31:2::9", udp(5000, 53)))).toBe("nothing arrives");
  });

  it("strict drops the ARP question of a wrong source too, so its sender sees an unreachable host", async () => {
    const strict = await judged(rack, ...stray("strict"));
    expect(await strict.ask("stray", "ping", "10.31.1.1")).toBe("refused 3/1 from 10.31.7.9");
    const loose = await judged(rack, ...stray("loose"));
    expect(await loose.ask("stray", "ping", "10.31.1.1")).toBe("refused 3/1 from 10.31.7.9");
    const none = await judged(rack, ...stray("none"));
    expect(await none.ask("stray", "ping", "10.31.1.1")).toBe("silent; edge sees 10.31.7.9 to 10.31.1.1");
  });
});

const ODD_SHELF = [
  `
devices:
  desk: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { left: 1G, right: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[desk:nic, edge:left], [edge:right, shelf:nic]]`,
  `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1 } } }
  edge:
    interfaces: { left: { port: left, ipv4: 10.31.1.1/24 }, right: { port: right, ipv4: [10.31.2.1/24, 240.1.1.1/24, 0.1.1.1/24] } }
  shelf:
    legs: { nic: { ipv4: [10.31.2.0/24, 240.1.1.9/24, 0.1.1.9/24], gateway: 10.31.2.1 } }`,
];

describe.concurrent("fact 9: addresses that look special", () => {
  it("the all-zeros host is an ordinary one, and so are 240/4 and 0/8", async () => {
    const site = await judged(rack, ...ODD_SHELF);
    expect(await site.ask("desk", "ping", "10.31.2.0")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.0");
    expect(await site.ask("desk", "udp/53", "240.1.1.9")).toBe("answered; shelf sees 10.31.1.9 to 240.1.1.9:53");
    expect(await site.ask("desk", "udp/53", "0.1.1.9")).toBe("answered; shelf sees 10.31.1.9 to 0.1.1.9:53");
  });

  it("a directed broadcast is not forwarded", async () => {
    const site = await judged(rack, ...row());
    expect(await site.send("desk", packet("10.31.1.9", "10.31.2.255", udp(5000, 53)))).toBe(
      "edge gets UDP 5000>53 10.31.1.9 to 10.31.2.255",
    );
  });

  it("127/8 as a source gets nowhere", async () => {
    const site = await judged(rack, ...row());
    expect(await site.send("desk", packet("127.0.0.1", "10.31.2.9", udp(5000, 53)))).toBe("nothing arrives");
  });
});

/** An edge with two ways on, to the boxes `one` and `two`, which both own 10.50.0.1 and differ in what they answer. */
function ways(routes: string): readonly string[] {
  return [
    `
devices:
  desk: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { left: 1G, up1: 1G, up2: 1G } }
  one: { is: host, ports: { nic: 1G, own: 1G } }
  two: { is: host, ports: { nic: 1G, own: 1G } }
cables: [[desk:nic, edge:left], [edge:up1, one:nic], [edge:up2, two:nic]]`,
    `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1 } } }
  edge:
    interfaces:
      left: { port: left, ipv4: 10.31.1.1/24 }
      up1: { port: up1, ipv4: 10.31.11.1/24 }
      up2: { port: up2, ipv4: 10.31.12.1/24 }
    routes: ${routes}
  one: { legs: { nic: { ipv4: 10.31.11.2/24, gateway: 10.31.11.1 }, own: { ipv4: 10.50.0.1/24 } } }
  two: { legs: { nic: { ipv4: 10.31.12.2/24, gateway: 10.31.12.1 }, own: { ipv4: 10.50.0.1/24 } } }`,
  ];
}

describe.concurrent("fact 10: which route is taken", () => {
  it("the longest prefix, whatever the metrics", async () => {
    const site = await judged(
      rack,
      ...ways("[{ to: 10.50.0.0/16, via: 10.31.11.2 }, { to: 10.50.0.0/24, via: 10.31.12.2, metric: 900 }]"),
    );
    expect(await site.ask("desk", "ping", "10.50.0.1")).toMatch(/; two sees/);
  });

  it("of equal prefixes the lowest metric, wherever it stands", async () => {
    const site = await judged(
      rack,
      ...ways("[{ to: 10.50.0.0/24, via: 10.31.11.2, metric: 50 }, { to: 10.50.0.0/24, via: 10.31.12.2, metric: 20 }]"),
    );
    expect(await site.ask("desk", "ping", "10.50.0.1")).toMatch(/; two sees/);
  });

  it("of equal routes the first added; the second is refused", async () => {
    const site = await judged(
      rack,
      ...ways("[{ to: 10.50.0.0/24, via: 10.31.11.2 }, { to: 10.50.0.0/24, via: 10.31.12.2 }]"),
    );
    expect(site.refused).toEqual(["edge: RTNETLINK answers: File exists"]);
    expect(await site.ask("desk", "ping", "10.50.0.1")).toMatch(/; one sees/);
  });

  it("of two legs in one subnet the first one; an answer bound to the other leg's address may be lost", async () => {
    const site = await judged(rack, ...TWINS);
    expect(await site.ask("twin", "ping", "10.31.1.9")).toBe("answered; desk sees 10.31.1.20 to 10.31.1.9");
    expect(await site.ask("desk", "ping", "10.31.1.21")).toBe("answered; twin sees 10.31.1.9 to 10.31.1.21");
    expect(await site.ask("lamp", "ping", "10.31.1.21")).toBe("silent; twin sees 10.31.1.30 to 10.31.1.21");
  });

  it("of two legs on one link one finds the other by its address of the link", async () => {
    const site = await judged(rack, ...BOTH_ON_ONE);
    const [one, other] = [site.linkLocal("twin/a"), site.linkLocal("twin/b")];
    expect(await site.ask("twin", "ping6", other, { egress: "a" })).toBe(`answered; twin sees ${one} to ${other}`);
    expect(await site.ask("twin", "tcp/80", other, { egress: "a" })).toMatch(/^answered/);
    // Who is asked is told on the link, though the address that asks is its own.
    const routed = { egress: "a", source: "fd31:1::20" };
    expect(await site.ask("twin", "tcp/80", other, routed)).toMatch(/^answered; twin sees fd31:1::20 to /);
  });
});

/** A box with a leg to each of two hosts, both legs in one subnet. */
const TWINS = [
  `
devices:
  desk: { is: host, ports: { nic: 1G } }
  lamp: { is: host, ports: { nic: 1G } }
  twin: { is: host, ports: { a: 1G, b: 1G } }
cables: [[desk:nic, twin:a], [lamp:nic, twin:b]]`,
  `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24 } } }
  lamp: { legs: { nic: { ipv4: 10.31.1.30/24 } } }
  twin: { legs: { a: { ipv4: 10.31.1.20/24 }, b: { ipv4: 10.31.1.21/24 } } }`,
];

/** A box with both legs on one link. */
const BOTH_ON_ONE = [
  `
devices:
  twin: { is: host, ports: { a: 1G, b: 1G } }
  mat: { is: unmanaged-switch, ports: { p1..4: 1G }, spanning-tree-frames: pass }
cables: [[twin:a, mat:p1], [twin:b, mat:p2]]`,
  `
devices:
  twin: { legs: { a: { ipv4: 10.31.1.20/24, ipv6: "fd31:1::20/64" }, b: { ipv4: 10.31.1.21/24, ipv6: "fd31:1::21/64" } }, serves: { tcp/80: all } }`,
];

/** A router with one leg in a segment where the far host answers the near one directly. */
function oneArmed(filter: string): readonly string[] {
  return [
    `
devices:
  desk: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { lan: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
  mat: { is: unmanaged-switch, ports: { p1..4: 1G }, spanning-tree-frames: pass }
cables: [[desk:nic, mat:p1], [edge:lan, mat:p2], [shelf:nic, mat:p3]]`,
    `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/25, gateway: 10.31.1.1 } } }
  edge: { interfaces: { lan: { port: lan, ipv4: 10.31.1.1/24 } }, filter: { through: ${filter} } }
  shelf: { legs: { nic: { ipv4: 10.31.1.200/24 } } }`,
  ];
}

const STATEFUL = `{
  otherwise: drop,
  rules: [{ name: answers, state: [established, related], action: accept }, { name: first, state: new, action: accept }] }`.replaceAll(
  /\s+/g,
  " ",
);

describe.concurrent("fact 11: a one-armed router", () => {
  it("sees requests only, since the answer bypasses it", async () => {
    const site = await judged(rack, ...oneArmed("{ otherwise: accept }"));
    expect(await site.ask("desk", "tcp/80", "10.31.1.200")).toMatch(/^answered/);
  });

  it("with connection state lets a connection open and then stalls it; a single question gets through", async () => {
    const site = await judged(rack, ...oneArmed(STATEFUL));
    expect(await site.ask("desk", "tcp/80", "10.31.1.200")).toMatch(/^opens, then stalls; shelf sees/);
    expect(await site.ask("desk", "udp/53", "10.31.1.200")).toMatch(/^answered/);
    expect(await site.ask("desk", "ping", "10.31.1.200")).toMatch(/^answered/);
  });
});

const DEAF = `filter: { to: { otherwise: accept, rules: [
  { name: deaf, service: icmp6/neighbour-solicitation, action: drop }] } }`;

describe.concurrent("fact 12: a neighbour that drops discovery", () => {
  it("is not found, except by those it asked earlier", async () => {
    const site = await judged(rack, ...row({ shelf: DEAF }));
    expect(await site.ask("edge", "ping6", "fd31:2::9")).toBe("refused 1/3 from fd31:2::1");
    const asked = await judged(rack, ...row({ shelf: DEAF }));
    expect(await asked.ask("shelf", "ping6", "fd31:2::1")).toBe("answered; edge sees fd31:2::9 to fd31:2::1");
    expect(await asked.ask("edge", "ping6", "fd31:2::9")).toBe("answered; shelf sees fd31:2::1 to fd31:2::9");
  });
});
