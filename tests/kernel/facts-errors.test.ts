/** Kernel facts 1 to 3 and 5 to 7: what is answered to a packet that goes no further, by whom, and what mutes it. */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { judged } from "./judge.ts";
import { echo, packet, udp } from "./packets.ts";
import { row } from "./row.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

const ROUTES = `routes: [
  { to: 10.91.0.0/16, action: blackhole }, { to: "fd91::/16", action: blackhole },
  { to: 10.92.0.0/16, action: unreachable }, { to: "fd92::/16", action: unreachable },
  { to: 10.93.0.0/16, action: prohibit }, { to: "fd93::/16", action: prohibit }]`;
const DROP_ALL = "otherwise: drop";

describe.concurrent("fact 1: routes and hop limit, then forward rules, then neighbours", () => {
  it("a forward drop does not hide what the route says, nor the hop limit; it hides a neighbour failure", async () => {
    const site = await judged(rack, ...row({ edge: `${ROUTES}, filter: { through: { ${DROP_ALL} } }` }));
    expect(await site.ask("desk", "udp/53", "10.99.0.1")).toBe("refused 3/0 from 10.31.1.1");
    expect(await site.ask("desk", "udp/53", "10.92.0.1")).toBe("refused 3/1 from 10.31.1.1");
    expect(await site.ask("desk", "udp/53", "10.93.0.1")).toBe("refused 3/13 from 10.31.1.1");
    expect(await site.send("desk", packet("10.31.1.9", "10.31.2.9", udp(5000, 53), 1))).toBe(
      "desk gets ICMP 11/0 10.31.1.1 to 10.31.1.9",
    );
    expect(await site.ask("desk", "udp/53", "10.31.2.77")).toBe("silent");
    expect(await site.ask("desk", "tcp/80", "10.31.2.77")).toBe("silent");
  });

  it("without the drop the neighbour failure is told", async () => {
    const site = await judged(rack, ...row());
    expect(await site.ask("desk", "udp/53", "10.31.2.77")).toBe("refused 3/1 from 10.31.1.1");
    expect(await site.ask("desk", "tcp/80", "10.31.2.77")).toBe("refused 3/1 from 10.31.1.1");
    expect(await site.ask("desk", "ping", "10.31.2.77")).toBe("refused 3/1 from 10.31.1.1");
  });
});

describe.concurrent("fact 2: routes that turn packets away", () => {
  it("forwarded, a blackhole is silent and the others answer by their kind", async () => {
    const site = await judged(rack, ...row({ edge: ROUTES }));
    expect(await site.ask("desk", "tcp/80", "10.91.0.1")).toBe("silent");
    expect(await site.ask("desk", "tcp/80", "10.92.0.1")).toBe("refused 3/1 from 10.31.1.1");
    expect(await site.ask("desk", "tcp/80", "10.93.0.1")).toBe("refused 3/13 from 10.31.1.1");
    expect(await site.ask("desk", "tcp/80", "10.94.0.1")).toBe("refused 3/0 from 10.31.1.1");
  });

  it("in IPv6 unreachable and no route are both 1/0, prohibited is 1/1, a neighbour failure 1/3", async () => {
    const site = await judged(rack, ...row({ edge: ROUTES }));
    expect(await site.ask("desk", "udp/53", "fd91::1")).toBe("silent");
    expect(await site.ask("desk", "udp/53", "fd92::1")).toBe("refused 1/0 from fd31:1::1");
    expect(await site.ask("desk", "udp/53", "fd93::1")).toBe("refused 1/1 from fd31:1::1");
    expect(await site.ask("desk", "udp/53", "fd94::1")).toBe("refused 1/0 from fd31:1::1");
    expect(await site.ask("desk", "udp/53", "fd31:2::77")).toBe("refused 1/3 from fd31:1::1");
    expect(await site.ask("desk", "tcp/80", "fd31:2::77")).toBe("refused 1/3 from fd31:1::1");
  });

  it("a local program is told at once: EINVAL, EHOSTUNREACH, EACCES, and ENETUNREACH without a route", async () => {
    const site = await judged(rack, ...row({ edge: ROUTES }));
    const told: string[] = [];
    for (const target of ["10.91.0.1", "10.92.0.1", "10.93.0.1", "10.94.0.1"]) {
      expect(await site.ask("edge", "tcp/80", target)).toBe("local error");
      told.push(site.errno);
    }
    expect(told).toEqual(["EINVAL", "EHOSTUNREACH", "EACCES", "ENETUNREACH"]);
  });
});

describe.concurrent("fact 3: forwarding off", () => {
  it("transit ends without an answer, while every own address answers on any leg", async () => {
    const site = await judged(rack, ...row({ edge: "forwarding: off" }));
    expect(await site.ask("desk", "ping", "10.31.2.9")).toBe("silent");
    expect(await site.ask("desk", "tcp/80", "10.99.0.1")).toBe("silent");
    expect(await site.ask("desk", "ping", "10.31.2.1")).toBe("answered; edge sees 10.31.1.9 to 10.31.2.1");
    expect(await site.ask("desk", "ping6", "fd31:2::9")).toBe("silent");
    expect(await site.ask("desk", "ping6", "fd31:2::1")).toBe("answered; edge sees fd31:1::9 to fd31:2::1");
  });
});

const TWO_LEGS = [
  `
devices:
  desk: { is: host, ports: { a: 1G, b: 1G } }
  edge: { is: router, ports: { a: 1G, b: 1G } }
cables: [[desk:a, edge:a], [desk:b, edge:b]]`,
  `
devices:
  desk:
    legs:
      a: { ipv4: 10.31.1.9/24, ipv6: "fd31:1::9/64", gateway: [10.31.1.1, "fd31:1::1"] }
      b: { ipv4: 10.31.3.9/24, ipv6: "fd31:3::9/64" }
  edge:
    interfaces:
      a: { port: a, ipv4: 10.31.1.1/24, ipv6: "fd31:1::1/64" }
      b: { port: b, ipv4: 10.31.3.1/24, ipv6: "fd31:3::1/64" }`,
];

describe.concurrent("fact 5: whose address an error carries", () => {
  it("that of the leg facing the sender, not of the leg the packet came in by", async () => {
    const site = await judged(rack, ...TWO_LEGS);
    expect(await site.ask("desk", "udp/53", "10.99.0.1")).toBe("refused 3/0 from 10.31.1.1");
    expect(await site.ask("desk", "udp/53", "10.99.0.1", { source: "10.31.3.9" })).toBe("refused 3/0 from 10.31.3.1");
  });

  it("in IPv6 it is that of the leg the packet came in by", async () => {
    const site = await judged(rack, ...TWO_LEGS);
    expect(await site.ask("desk", "udp/53", "fd99::1")).toBe("refused 1/0 from fd31:1::1");
    expect(await site.ask("desk", "udp/53", "fd99::1", { source: "fd31:3::9" })).toBe("refused 1/0 from fd31:1::1");
  });

  it("for a packet addressed to the device, the addressed one", async () => {
    const site = await judged(rack, ...row());
    expect(await site.ask("desk", "udp/53", "10.31.2.1")).toBe(
      "refused 3/3 from 10.31.2.1; edge sees 10.31.1.9 to 10.31.2.1:53",
    );
  });

  it("behind destination translation, the address translated from", async () => {
    const translate =
      "translate: { dest: [{ name: in, dest: 10.31.1.1, service: udp/53, to: 10.31.2.9, to-port: 5353 }] }";
    const site = await judged(rack, ...row({ edge: translate, shelf: "serves: { tcp/1: all }" }));
    expect(await site.ask("desk", "udp/53", "10.31.1.1")).toBe(
      "refused 3/3 from 10.31.1.1; shelf sees 10.31.1.9 to 10.31.2.9:5353",
    );
  });

  it("behind masquerade, the outside address for a neighbour failure, the inside one for the hop limit", async () => {
    const translate = "translate: { source: [{ name: out, out: right, to: external-address }] }";
    const site = await judged(rack, ...row({ edge: translate }));
    expect(await site.ask("desk", "udp/53", "10.31.2.77")).toBe("refused 3/1 from 10.31.2.1");
    expect(await site.send("desk", packet("10.31.1.9", "10.31.2.9", udp(5000, 53), 1))).toBe(
      "desk gets ICMP 11/0 10.31.1.1 to 10.31.1.9",
    );
  });
});

describe.concurrent("fact 6: a device's own errors, rejects and resets pass its output rules", () => {
  it("an output drop mutes them all", async () => {
    const site = await judged(rack, ...row({ edge: `filter: { from: { ${DROP_ALL} } }` }));
    expect(await site.ask("desk", "udp/53", "10.99.0.1")).toBe("silent");
    expect(await site.ask("desk", "udp/53", "10.31.2.1")).toBe("silent; edge sees 10.31.1.9 to 10.31.2.1:53");
    expect(await site.ask("desk", "tcp/22", "10.31.2.1")).toBe("silent; edge sees 10.31.1.9 to 10.31.2.1:22");
    expect(await site.send("desk", packet("10.31.1.9", "10.31.2.9", echo(4), 1))).toBe("nothing arrives");
  });

  it("so it does a reject", async () => {
    const filter = `filter: { through: { otherwise: reject }, from: { ${DROP_ALL} } }`;
    const site = await judged(rack, ...row({ edge: filter }));
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toBe("silent");
    // Answers to neighbour solicitations are output too: the router is not even found.
    expect(await site.ask("desk", "tcp/80", "fd31:2::9")).toBe("refused 1/3 from fd31:1::9");
  });
});

/** Two routers that each take the other for the way out. */
function loop(edge: string): readonly string[] {
  return [
    `
devices:
  desk: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { left: 1G, right: 1G } }
  tower: { is: router, ports: { down: 1G } }
cables: [[desk:nic, edge:left], [edge:right, tower:down]]`,
    `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1 } } }
  edge: { interfaces: { left: { port: left, ipv4: 10.31.1.1/24 }, right: { port: right, ipv4: 10.31.2.1/24, gateway: 10.31.2.2 } }, ${edge} }
  tower: { interfaces: { down: { port: down, ipv4: 10.31.2.2/24, gateway: 10.31.2.1 } } }`,
  ];
}

describe.concurrent("fact 7: a packet whose source is one of the receiver's own addresses", () => {
  it("a plain loop of routes ends when the hop limit does", async () => {
    const site = await judged(rack, ...loop(""));
    expect(await site.ask("desk", "udp/53", "10.99.0.1")).toMatch(/^refused 11\/0 from /);
  });

  it("a masquerading loop ends silently at the masquerader", async () => {
    const site = await judged(
      rack,
      ...loop("translate: { source: [{ name: out, out: right, to: external-address }] }"),
    );
    expect(await site.ask("desk", "udp/53", "10.99.0.1")).toBe("silent");
    expect(await site.ask("desk", "ping", "10.99.0.1")).toBe("silent");
  });

  it("a forged one is dropped without any reverse-path check", async () => {
    const site = await judged(rack, ...row());
    expect(await site.send("desk", packet("10.31.2.1", "10.31.2.9", udp(5000, 53)))).toBe("nothing arrives");
    // Any other forgery of that subnet arrives, and the answer to it finds nobody.
    expect(await site.send("desk", packet("10.31.2.77", "10.31.2.9", udp(5000, 53)))).toBe(
      "shelf gets ICMP 3/1 10.31.2.9 to 10.31.2.9; shelf gets UDP 5000>53 10.31.2.77 to 10.31.2.9",
    );
  });

  it("in IPv6 nobody looks: the forged one is sent on", async () => {
    const site = await judged(rack, ...row());
    expect(await site.send("desk", packet("fd31:2::1", "fd31:2::9", udp(5000, 53)))).toContain(
      "shelf gets UDP 5000>53 fd31:2::1 to fd31:2::9",
    );
  });
});
