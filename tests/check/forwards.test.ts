/**
 * What stands behind an address. A forward is a static mapping of a translator's own address and port to a station inside (RFC 3022
 * sections 2.2 and 4.1, from memory: static address and port maps are for sessions that begin outside), so whoever names the
 * address means what is sent to it. The simulator, which knows nothing of the proof, says where each packet goes.
 */
import { describe, expect, it } from "vitest";
import { Evaluation } from "../../src/evaluate/index.ts";
import { onlyRule, type Rooms, rooms } from "./rooms.ts";
import { judge, siteFrom, statuses, type TestSite } from "./verdicts.ts";

const forward = (text: string): string => `{ name: forward, family: ipv4, in: red, ${text} }`;
const WEB = "dest: 10.1.0.1, service: tcp/8080, to: b, to-port: 80";
const LET_IN = "{ name: web, in: red, dest: b, service: tcp/80, action: accept }";

/** A router that forwards from its own address in red, accepts that and answers, and is closed itself. */
function home(dest: string, changes: Rooms = {}): TestSite {
  return rooms({
    to: "{ otherwise: drop }",
    through: onlyRule(LET_IN),
    router: `    reverse-path: strict\n    translate: { dest: [${dest}] }`,
    ...changes,
  });
}

/** Devices that a TCP request of `a` comes to in the simulator. */
function arrivals({ network }: TestSite, to: bigint, port: number): readonly string[] {
  const evaluation = new Evaluation(network);
  const [world] = evaluation.worlds().worlds;
  if (world === undefined) throw new Error("no world");
  const destination = { family: 4, value: to } as const;
  const { outcomes } = evaluation.exchange(world, { from: "a/stack", destination, service: { protocol: 6, port } });
  return outcomes.flatMap(({ result }) => result.outcome.arrivals.map(({ device }) => device));
}

const R_RED = 0x0a010001n;
const TO_FORWARD = "from: red, to: r/red, service: tcp/8080";

describe("a forward from an address", () => {
  const site = home(forward(WEB));

  it("gets there for both: what connects is not blocked", () => {
    expect(arrivals(site, R_RED, 8080)).toEqual(["b"]);
    const [connects, blocked] = judge(site, `${TO_FORWARD}, expect: connects`, `${TO_FORWARD}, expect: blocked`);
    expect(connects?.status).toBe("passed");
    expect(blocked).toMatchObject({
      status: "failed",
      headline: "a packet from red gets to r/red: tcp/8080 to 10.1.0.1, forwarded by `forward`, reaches b",
      packet: expect.stringMatching(/^tcp\/8080 from 10\.1\.0\.\d+ to 10\.1\.0\.1 at /),
      decided: expect.arrayContaining(["web", "forward"]),
    });
  });

  it.each(["r/red", "r", "10.1.0.1", "10.1.0.0-10.1.0.7"])("counts for %s", (end) => {
    expect(statuses(site, `from: a, to: ${end}, service: tcp/8080, expect: blocked`)).toEqual(["failed"]);
  });

  it("counts for a cell of a table in which nothing was written", () => {
    const [told] = judge(site, "policy: { from: [red], to: [r], open: {} }");
    expect(told).toMatchObject({
      status: "failed",
      headline: expect.stringContaining("forwarded by `forward`, reaches b"),
    });
    expect(statuses(site, "policy: { from: [red], to: [r], open: { red: { r: tcp/8080 } } }")).toEqual(["passed"]);
  });

  it("does not count for another service, nor for who is not let in", () => {
    expect(arrivals(site, R_RED, 22)).toEqual([]);
    expect(
      statuses(
        site,
        "from: red, to: r/red, service: tcp/22, expect: blocked",
        "from: blue, to: r/red, expect: blocked",
        "from: red, to: r/blue, expect: blocked",
      ),
    ).toEqual(["passed", "passed", "passed"]);
    const shut = home(forward(WEB), { through: "{ otherwise: drop }" });
    expect(statuses(shut, `${TO_FORWARD}, expect: blocked`, `${TO_FORWARD}, expect: connects`)).toEqual([
      "passed",
      "failed",
    ]);
  });

  it("counts where it leads to another address of the same router", () => {
    const own = home(forward("dest: 10.1.0.1, service: tcp/9443, to: 10.2.0.1, to-port: 443"), {
      to: onlyRule("{ name: administration, in: red, dest: 10.2.0.1, service: tcp/443, action: accept }"),
      router: `    reverse-path: strict
    admin: { services: [tcp/443], listen: [red, blue] }
    translate: { dest: [${forward("dest: 10.1.0.1, service: tcp/9443, to: 10.2.0.1, to-port: 443")}] }`,
    });
    expect(arrivals(own, R_RED, 9443)).toEqual(["r"]);
    const ask = "from: red, to: r/red, service: tcp/9443";
    expect(statuses(own, `${ask}, expect: connects`, `${ask}, expect: blocked`, `${ask}, expect: only`)).toEqual([
      "passed",
      "failed",
      "passed",
    ]);
  });
});

describe("only", () => {
  const both = home(
    `${forward("dest: 10.1.0.1, service: tcp/80, to: b")}, ${forward(WEB).replace("forward", "forgotten")}`,
  );

  it("is about what is sent: a forward is not hidden by the service that it leads to", () => {
    const [told] = judge(both, "from: red, to: r/red, service: tcp/80, expect: only");
    expect(told).toMatchObject({
      status: "failed",
      headline:
        "besides tcp/80, a packet from red gets to r/red: tcp/8080 to 10.1.0.1, forwarded by `forgotten`, reaches b",
    });
  });

  it("holds where all that is forwarded is listed, errors about it or not", () => {
    expect(statuses(both, "from: red, to: r/red, service: [tcp/80, tcp/8080], expect: only")).toEqual(["passed"]);
    expect(statuses(home(forward(WEB)), "from: red, to: r/red, service: tcp/8080, expect: only")).toEqual(["passed"]);
  });
});

describe("what somebody else diverts on its way", () => {
  const WITH_C: Rooms = {
    rack: "  c: { is: host, ports: { nic: 1G } }",
    cables: "  - [r:p4, c:nic]",
    ports: "p1: { untagged: red }, p3: { untagged: red }, p2: { untagged: blue }, p4: { untagged: blue }",
    intent: "  c: { legs: { nic: { network: blue, host: 11, gateway: 10.2.0.1 } } }",
  };
  const diverting = home(forward("service: tcp/80, to: b"), WITH_C);

  it("gets to nobody that it was sent to: it is blocked, and does not connect", () => {
    expect(arrivals(diverting, 0x0a02000bn, 80)).toEqual(["b"]);
    const ask = "from: a, to: c, service: tcp/80";
    const [connects, blocked] = judge(diverting, `${ask}, expect: connects`, `${ask}, expect: blocked`);
    expect(blocked?.status).toBe("passed");
    expect(connects).toMatchObject({
      status: "failed",
      headline: "a to c on tcp/80: it is diverted to b",
      decided: ["forward"],
    });
  });

  it("is that of who diverts it by name where nobody has the address", () => {
    const naming = home(forward("dest: 10.9.9.9, service: tcp/80, to: b"), WITH_C);
    expect(arrivals(naming, 0x0a090909n, 80)).toEqual(["b"]);
    const ask = "from: red, to: 10.9.9.9, service: tcp/80";
    expect(statuses(naming, `${ask}, expect: connects`, `${ask}, expect: blocked`)).toEqual(["passed", "failed"]);
  });

  it.each(["10.9.9.9", "8.8.8.8", "internet"])("gets to nobody by a rule that diverts whatever comes by: %s", (to) => {
    const ask = `from: red, to: ${to}, service: tcp/80`;
    const [connects, blocked] = judge(diverting, `${ask}, expect: connects`, `${ask}, expect: blocked`);
    if (to !== "internet") expect(connects?.headline).toBe(`a to ${to} on tcp/80: it is diverted to b`);
    expect([connects?.status === "passed", blocked?.status]).toEqual([false, to === "internet" ? "vacuous" : "passed"]);
  });

  it("is what is asked about itself where a rule leads it to the very address: nothing else is", () => {
    const redirect = home(forward("service: udp/53, to: r/red"));
    const ask = "from: red, to: r/red, service: tcp/22";
    expect(statuses(redirect, `${ask}, expect: blocked`)).toEqual(["passed"]);
  });
});

it("IPv6 is forwarded likewise", () => {
  const site = siteFrom(
    `dryrack: topology/1
devices:
  r: { is: router, ports: { p1..2: 1G } }
  a: { is: host, ports: { nic: 1G } }
  b: { is: host, ports: { nic: 1G } }
cables: [[r:p1, a:nic], [r:p2, b:nic]]
`,
    `dryrack: intent/1
networks: { red: { ipv6: "2001:db8:1::/64" }, blue: { ipv6: "2001:db8:2::/64" } }
devices:
  r:
    interfaces: { red: { port: p1, network: red, host: 1 }, blue: { port: p2, network: blue, host: 1 } }
    filter:
      to: { otherwise: drop, rules: [{ name: nd, service: [icmp6/neighbour-solicitation, icmp6/neighbour-advertisement], action: accept }] }
      through: ${onlyRule("{ name: web, in: red, dest: b, service: tcp/80, action: accept }")}
    translate: { dest: [{ name: six, family: ipv6, in: red, dest: r/red, service: tcp/8080, to: b, to-port: 80 }] }
  a: { legs: { nic: { network: red, host: 10, gateway: "2001:db8:1::1" } } }
  b: { legs: { nic: { network: blue, host: 10, gateway: "2001:db8:2::1" } } }
`,
  );
  const [connects, blocked] = judge(site, `${TO_FORWARD}, expect: connects`, `${TO_FORWARD}, expect: blocked`);
  expect(connects?.status).toBe("passed");
  expect(blocked?.headline).toBe(
    "a packet from red gets to r/red: tcp/8080 to 2001:db8:1::1, forwarded by `six`, reaches b",
  );
});

it("a leased address is the one that is held, not what else the provider may lend", () => {
  const site = rooms({
    rack: "  carrier: { is: upstream, ports: { drop: 1G } }",
    cables: "  - [carrier:drop, r:p4]",
    interfaces: ", wan: { port: p4, ipv4: lease }",
    intent: "  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }",
    to: "{ otherwise: drop }",
    through: onlyRule("{ name: web, in: wan, dest: b, service: tcp/80, action: accept }"),
    router: `    reverse-path: strict
    translate: { dest: [{ name: forward, family: ipv4, in: wan, dest: r/wan, service: tcp/8080, to: b, to-port: 80 }] }`,
  });
  const [told] = judge(site, "from: internet, to: r/wan, service: tcp/8080, expect: blocked");
  expect(told?.headline).toBe(
    "a packet from internet gets to r/wan: tcp/8080 to 203.0.113.100, forwarded by `forward`, reaches b",
  );
});
