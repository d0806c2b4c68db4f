/**
 * Statuses, assumptions, and the two profiles (semantics, section 1).
 */
import { describe, expect, it } from "vitest";
import { onlyRule, rooms } from "./rooms.ts";
import { check, judge, siteFrom, statuses } from "./verdicts.ts";

describe("undecided", () => {
  const through = onlyRule("{ name: legacy, service: tcp/23, action: unknown, note: until the old printer is gone }");
  // Without the check of sources a sender could forge answers through the unknown rule.
  const site = rooms({ to: "{ otherwise: drop }", through, router: "    reverse-path: strict" });

  it("is every verdict that an unknown action touches, with the note and the line", () => {
    const told = judge(
      site,
      "from: red, to: b, service: tcp/23, expect: blocked",
      "from: a, to: b, service: tcp/23, expect: connects",
      "from: a, to: b, service: tcp/23, expect: arrives",
    );
    for (const verdict of told) {
      expect(verdict).toMatchObject({
        status: "undecided",
        limit: "until the old printer is gone",
        decided: ["legacy"],
      });
    }
  });

  it("is none that it does not touch", () => {
    expect(statuses(site, "from: red, to: b, service: tcp/24, expect: blocked")).toEqual(["passed"]);
  });

  it("is no excuse for a failure", () => {
    expect(
      statuses(
        rooms({
          through: onlyRule(
            "{ name: web, service: tcp/80, action: accept }, { name: legacy, service: tcp/23, action: unknown, note: who knows }",
          ),
        }),
        "from: red, to: b, expect: blocked",
      ),
    ).toEqual(["failed"]);
  });
});

describe("skipped", () => {
  const QUESTIONS = [
    "from: a, to: b, expect: connects",
    "from: a, to: b, expect: blocked",
    "from: b, to: a, expect: connects",
  ];

  it("is what nobody asked for", () => {
    const { told } = check(rooms(), QUESTIONS, { only: ["3"] });
    expect(told.map(({ status }) => status)).toEqual(["skipped", "skipped", "passed"]);
  });

  it("is, when the first failure ends it, what comes after", () => {
    const { told } = check(rooms(), QUESTIONS, { bail: true });
    expect(told.map(({ status }) => status)).toEqual(["passed", "failed", "skipped"]);
  });
});

describe("assumptions", () => {
  const heard = "b is taken to listen on everything, since it says nothing of what it serves";

  it("are told of a host that does not say what it serves", () => {
    expect(judge(rooms(), "from: a, to: b, service: tcp/80, expect: connects")[0]?.assumptions).toEqual([heard]);
  });

  it("are none where it says so", () => {
    const site = rooms({ b: "serves: { tcp/80: all }" });
    expect(judge(site, "from: a, to: b, service: tcp/80, expect: connects")[0]?.assumptions).toEqual([]);
  });
});

describe("the profiles", () => {
  /** `s` and `t` are joined by two passive bonds; only one profile lets them find each other. */
  const passive = (profile: string) =>
    siteFrom(
      `dryrack: topology/1
devices:
  s: { is: switch, ports: { p1..3: 1G } }
  t: { is: switch, ports: { p1..3: 1G } }
  a: { is: host, ports: { nic: 1G } }
  b: { is: host, ports: { nic: 1G } }
cables: [[s:p1, t:p1], [s:p2, t:p2], [s:p3, a:nic], [t:p3, b:nic]]
`,
      `dryrack: intent/1
networks: { red: { vlan: 10, ipv4: 10.1.0.0/24 } }
devices:
  s: { profile: ${profile}, bonds: { pair: { members: [p1, p2], mode: lacp, activity: passive, alone: none } }, switching: { ports: { pair: { untagged: red }, p3: { untagged: red } } } }
  t: { profile: ${profile}, bonds: { pair: { members: [p1, p2], mode: lacp, activity: passive, alone: none } }, switching: { ports: { pair: { untagged: red }, p3: { untagged: red } } } }
  a: { legs: { nic: { network: red, host: 10 } } }
  b: { legs: { nic: { network: red, host: 20 } } }
`,
    );

  it.each([
    ["linux", "passed"],
    ["rfc", "failed"],
  ])("%s: two passive ends of a bond, %s", (profile, status) => {
    expect(statuses(passive(profile), "from: a, to: b, expect: connects")).toEqual([status]);
  });

  it.each([
    ["linux", "failed"],
    ["rfc", "passed"],
  ])("%s: a packet to 240/4 is forwarded, so that it is not blocked: %s", (profile, status) => {
    const site = rooms({
      router: `    profile: ${profile}`,
      networks: "  old: { vlan: 30, ipv4: 240.0.0.0/24 }",
      interfaces: ", old: { network: old, port: p4, host: 1 }",
    });
    expect(statuses(site, "from: red, to: 240.0.0.77, expect: blocked")).toEqual([status]);
  });

  it.each([
    ["linux", "passed"],
    ["rfc", "failed"],
  ])("%s: a port checks tags on entry, %s", (profile, status) => {
    const site = rooms({
      to: "{ otherwise: drop }",
      through: "{ otherwise: drop }",
      router: `    profile: ${profile}`,
    });
    // A frame tagged blue on a red port: the kernel's bridge drops it, the standard's default lets it in.
    expect(statuses(site, "from: a, to: blue, expect: blocked")).toEqual([status]);
  });
});
