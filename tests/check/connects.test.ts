/**
 * `connects` and `arrives` (semantics, section 1): whole exchanges, the address that a client uses, who takes part.
 */
import { describe, expect, it } from "vitest";
import { onlyRule, rooms } from "./rooms.ts";
import { judge, siteFrom, statuses } from "./verdicts.ts";

describe("a whole exchange", () => {
  const site = rooms({ b: "serves: { tcp/80: all, udp/53: all }" });

  it.each(["tcp/80", "udp/53", "icmp/echo-request"])("works over %s when request and answer pass", (service) => {
    const [verdict] = judge(site, `from: a, to: b, service: ${service}, expect: connects`);
    expect(verdict).toMatchObject({ status: "passed", headline: `the exchange works: a to b on ${service}` });
  });

  it("is none with somebody whose address the one who asks has himself, which is said and shown", () => {
    const legsB = "nic: { ipv4: 10.1.0.10/24 }";
    const [verdict] = judge(rooms({ legsB }), "from: a, to: b, expect: connects");
    expect(verdict).toMatchObject({ status: "failed", headline: "a to b on echo: a has 10.1.0.10 itself" });
    expect(verdict?.decided).toEqual(["10"]);
  });

  it("is an echo where no service is named", () => {
    const [verdict] = judge(site, "from: a, to: b, expect: connects");
    expect(verdict?.cells).toEqual([{ from: "a", to: "b", expect: "connects", service: "echo", status: "passed" }]);
  });

  it("fails at the rule that drops the request, and shows the request with its way", () => {
    const site = rooms({ through: onlyRule("{ name: no web, service: tcp/80, action: drop }") });
    const [verdict] = judge(site, "from: a, to: b, service: tcp/80, expect: connects");
    expect(verdict).toMatchObject({
      status: "failed",
      headline: "a to b on tcp/80: dropped by `no web`",
      decided: ["no web"],
      packet: "tcp/80 from 10.1.0.10 to 10.2.0.10 at a",
    });
    expect(verdict?.path.at(-1)?.device).toBe("r");
    expect(verdict?.verdict.repeat).toBe("dryrack check a.yaml --only 1");
  });

  it("fails where the answer is dropped", () => {
    const through = "{ otherwise: drop, rules: [{ name: there, in: red, action: accept }] }";
    const [verdict] = judge(rooms({ through }), "from: a, to: b, service: udp/53, expect: connects");
    expect(verdict).toMatchObject({ status: "failed", decided: ["drop"] });
    expect(verdict?.headline).toContain("the answer is lost");
  });

  it("fails where nothing listens on that port of one of two hosts", () => {
    const [verdict] = judge(site, "from: a, to: [b, a], service: tcp/81, expect: connects");
    expect(verdict).toMatchObject({ status: "vacuous", headline: "nobody in `b` serves tcp/81" });
  });

  it("asks each port of a service", () => {
    const [verdict] = judge(site, "from: a, to: b, service: [tcp/80, tcp/80-81], expect: connects");
    expect(verdict?.cells.map(({ service, status }) => `${service} ${status}`)).toEqual([
      "tcp/80 passed",
      "tcp/80-81 failed",
    ]);
  });
});

describe("an exchange that opens and then stalls", () => {
  /** The answers leave by another router, whose strict tracker never saw the connection begin. */
  const site = siteFrom(
    `dryrack: topology/1
devices:
  r: { is: router, ports: { p1..2: 1G } }
  t: { is: router, ports: { p1..2: 1G } }
  one: { is: switch, ports: { p1..3: 1G } }
  two: { is: switch, ports: { p1..3: 1G } }
  a: { is: host, ports: { nic: 1G } }
  b: { is: host, ports: { nic: 1G } }
cables:
  - [a:nic, one:p1]
  - [r:p1, one:p2]
  - [t:p1, one:p3]
  - [b:nic, two:p1]
  - [r:p2, two:p2]
  - [t:p2, two:p3]
`,
    `dryrack: intent/1
networks:
  red: { vlan: 10, ipv4: 10.1.0.0/24 }
  blue: { vlan: 20, ipv4: 10.2.0.0/24 }
devices:
  one: { switching: { ports: { p1..3: { untagged: red } } } }
  two: { switching: { ports: { p1..3: { untagged: blue } } } }
  r:
    interfaces: { red: { network: red, port: p1, host: 1 }, blue: { network: blue, port: p2, host: 1 } }
    filter: { to: { otherwise: accept }, from: { otherwise: accept }, through: { otherwise: accept, rules: [{ name: strays, state: [invalid], action: drop }] } }
  t:
    interfaces: { red: { network: red, port: p1, host: 2 }, blue: { network: blue, port: p2, host: 2 } }
  a: { legs: { nic: { network: red, host: 10, gateway: 10.1.0.1 } } }
  b: { legs: { nic: { network: blue, host: 10, gateway: 10.2.0.2 } }, serves: { tcp/80: all, udp/53: all } }
`,
  );

  it("is a failure of its own: the rule that sees one direction only is blamed", () => {
    const [verdict] = judge(site, "from: a, to: b, service: tcp/80, expect: connects");
    expect(verdict).toMatchObject({
      status: "failed",
      headline: "a to b on tcp/80: opens, then stalls: dropped by `strays`",
      decided: ["strays"],
    });
  });

  it("does not befall a question that needs one answer only", () => {
    expect(statuses(site, "from: a, to: b, service: udp/53, expect: connects")).toEqual(["passed"]);
  });
});

describe("arrives", () => {
  it("asks for the request alone", () => {
    const through = "{ otherwise: drop, rules: [{ name: there, in: red, action: accept }] }";
    const question = "from: a, to: b, service: udp/53";
    expect(statuses(rooms({ through }), `${question}, expect: arrives`, `${question}, expect: connects`)).toEqual([
      "passed",
      "failed",
    ]);
  });

  it("holds where the stack is reached and nothing listens", () => {
    const site = rooms({ b: "serves: { tcp/80: all }" });
    expect(statuses(site, "from: a, to: b, service: [tcp/79-80], expect: arrives")).toEqual(["passed"]);
  });
});
