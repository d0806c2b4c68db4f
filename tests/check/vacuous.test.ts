/**
 * Empty questions, and passes that say nothing (semantics, section 1): both fail, and `even-if: cut-off` excuses only
 * a source that is meant to be cut off.
 */
import { describe, expect, it } from "vitest";
import { type Rooms, rooms } from "./rooms.ts";
import { judge, statuses } from "./verdicts.ts";

const CLOSED: Rooms = { to: "{ otherwise: drop }", through: "{ otherwise: drop }" };

describe("an empty question", () => {
  const empty: Rooms = {
    networks: "  green: { vlan: 30, ipv4: 10.3.0.0/24 }",
    top: "sets: { nobody: [] }",
    b: "serves: { tcp/80: all }",
  };

  it.each([
    ["no host begins", "from: green, to: b, expect: connects", "there is no host in `green` to begin anything"],
    ["no host is meant", "from: a, to: green, expect: connects", "there is no host in `green` to answer"],
    ["nobody serves it", "from: a, to: b, service: tcp/81, expect: connects", "nobody in `b` serves tcp/81"],
    [
      "nobody serves it, of a network",
      "from: a, to: blue, service: tcp/81, expect: arrives",
      "nobody in `blue` serves tcp/81",
    ],
    ["both ends are one device", "from: a, to: a, expect: connects", "both ends are the same device"],
    ["an empty set begins", "from: nobody, to: b, expect: connects", "there is no host in `nobody` to begin anything"],
    [
      "an empty set is blocked",
      "from: nobody, to: b, expect: blocked, even-if: cut-off",
      "nothing is asked: `nobody` has no host, and nothing can be plugged in",
    ],
    [
      "an empty set is shielded",
      "from: a, to: nobody, expect: blocked",
      "nothing is asked: `nobody` holds nothing that could be reached",
    ],
    [
      "a network without hosts or ports is blocked",
      "from: green, to: b, expect: blocked, even-if: cut-off",
      "nothing is asked: `green` has no host, and nothing can be plugged in",
    ],
  ])("is vacuous: %s", (_what, assertion, headline) => {
    expect(judge(rooms({ ...CLOSED, ...empty }), assertion)[0]).toMatchObject({ status: "vacuous", headline });
  });

  it("is none where one host of a network serves it: each other one fails by name", () => {
    const site = rooms({
      ...empty,
      rack: "  c: { is: host, ports: { nic: 1G } }",
      cables: "  - [r:p4, c:nic]",
      ports: "p1: { untagged: red }, p2: { untagged: blue }, p4: { untagged: blue }",
      intent: "  c: { legs: { nic: { network: blue, host: 30, gateway: 10.2.0.1 } }, serves: { udp/53: all } }",
    });
    const [verdict] = judge(site, "from: a, to: blue, service: tcp/80, expect: connects");
    expect(verdict).toMatchObject({ status: "failed", headline: expect.stringContaining("a to c on tcp/80") });
  });

  it("is none with `blocked`: packets to a port that nobody serves today are packets all the same", () => {
    expect(statuses(rooms({ ...empty, ...CLOSED }), "from: a, to: b, service: tcp/81, expect: blocked")).toEqual([
      "passed",
    ]);
    expect(statuses(rooms(empty), "from: a, to: b, service: tcp/81, expect: blocked")).toEqual(["failed"]);
  });
});

describe("a source that is cut off", () => {
  const without = (legsA: string): Rooms => ({ ...CLOSED, legsA });
  const RED_TO_BLUE = "from: red, to: blue, expect: blocked";

  it.each([
    ["has no gateway", "nic: { network: red, host: 10, gateway: none }", "a has no gateway to reach"],
    [
      "has a gateway that is nobody",
      "nic: { network: red, host: 10, gateway: 10.1.0.99 }",
      "a does not even reach its own gateway",
    ],
    ["gets no lease", "nic: lease", "a has no gateway to reach"],
  ])("%s: its pass is vacuous", (_what, legs, told) => {
    const [verdict] = judge(rooms(without(legs)), RED_TO_BLUE);
    expect(verdict).toMatchObject({
      status: "vacuous",
      headline: `nothing gets from red to blue, but only because ${told}`,
    });
    expect(verdict?.verdict.help).toContain("even-if: cut-off");
  });

  it("passes where the assertion says that this is meant", () => {
    const site = rooms(without("nic: { network: red, host: 10, gateway: none }"));
    expect(statuses(site, `${RED_TO_BLUE}, even-if: cut-off`)).toEqual(["passed"]);
  });

  it("still fails where something gets through all the same", () => {
    const site = rooms({ legsA: "nic: { network: red, host: 10, gateway: none }" });
    expect(statuses(site, `${RED_TO_BLUE}, even-if: cut-off`)).toEqual(["failed"]);
  });

  it("is none when one host of the network reaches its gateway", () => {
    const site = rooms({
      ...without("nic: { network: red, host: 10, gateway: none }"),
      rack: "  c: { is: host, ports: { nic: 1G } }",
      cables: "  - [r:p3, c:nic]",
      intent: "  c: { legs: { nic: { network: red, host: 20, gateway: 10.1.0.1 } } }",
    });
    expect(statuses(site, RED_TO_BLUE)).toEqual(["passed"]);
  });

  it("is none where nobody is declared, but something plugged in would find a router", () => {
    const site = rooms({
      ...CLOSED,
      networks: "  green: { vlan: 30, ipv4: 10.3.0.0/24 }",
      interfaces: ", green: { network: green, port: p4, host: 1 }",
    });
    expect(statuses(site, "from: green, to: blue, expect: blocked")).toEqual(["passed"]);
  });

  it("is a network of ports without hosts and without a router", () => {
    const site = rooms({
      ...CLOSED,
      networks: "  green: { vlan: 30, ipv4: 10.3.0.0/24 }",
      ports: "p1: { untagged: red }, p2: { untagged: blue }, p4: { untagged: green }",
    });
    const [verdict] = judge(site, "from: green, to: blue, expect: blocked");
    expect(verdict).toMatchObject({
      status: "vacuous",
      headline: expect.stringContaining("`green` has no host and no gateway"),
    });
  });

  it("is never a router itself", () => {
    const site = rooms({ ...CLOSED, to: "{ otherwise: accept }" });
    expect(statuses(site, "from: r, to: 10.9.0.1, expect: blocked")).toEqual(["passed"]);
  });

  it("is shown by the line that keeps its lease away", () => {
    const dhcp = "    dhcp: { red: { hosts: 100-101 } }";
    const site = rooms({ ...without("nic: lease"), router: dhcp });
    const [verdict] = judge(site, RED_TO_BLUE);
    expect(verdict).toMatchObject({ status: "vacuous", decided: ["drop"] });
  });
});
