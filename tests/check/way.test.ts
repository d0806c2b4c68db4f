/**
 * The way that an exchange takes: `through`, `avoids`, `routed`.
 */
import { describe, expect, it } from "vitest";
import { rooms } from "./rooms.ts";
import { check, judge } from "./verdicts.ts";

const site = rooms({
  rack: "  s: { is: switch, ports: { p1..4: 1G } }\n  c: { is: host, ports: { nic: 1G } }",
  cables: "  - [r:p3, s:p1]\n  - [s:p2, c:nic]",
  intent:
    "  s: { switching: { ports: { p1..2: { untagged: red } } } }\n  c: { legs: { nic: { network: red, host: 20, gateway: 10.1.0.1 } } }",
});

describe("the way of an exchange", () => {
  it.each([
    ["c", "b", "through: [s, r]", "passed", ""],
    ["c", "b", "through: a", "failed", "it does not pass a"],
    ["c", "b", "avoids: a", "passed", ""],
    ["c", "b", "avoids: s", "failed", "it passes s"],
    ["c", "b", "routed: always", "passed", ""],
    ["c", "b", "routed: never", "failed", "it is routed by r"],
    // A router's own switching is no routing.
    ["c", "a", "routed: never", "passed", ""],
    ["c", "a", "routed: always", "failed", "no router lies on the way"],
    ["c", "a", "through: r, avoids: b", "passed", ""],
  ])("from %s to %s, %s: %s", (from, to, wish, status, why) => {
    const [verdict] = judge(site, `from: ${from}, to: ${to}, expect: connects, ${wish}`);
    expect(verdict?.status).toBe(status);
    if (why !== "") expect([...new Set(verdict?.why)]).toEqual([why]);
  });

  it("counts for `arrives`, too", () => {
    const [verdict] = judge(site, "from: c, to: b, expect: arrives, routed: never");
    expect(verdict).toMatchObject({ status: "failed", headline: "c to b on echo: it is routed by r" });
  });

  it("shows the wish that was missed, or the line that led it there", () => {
    const [missed, met] = judge(
      site,
      "from: c, to: b, expect: connects, through: a",
      "from: c, to: b, expect: connects, routed: never",
    );
    expect(missed?.decided).toEqual(["a"]);
    // Both are plugged in where their networks are: then a leg is to change, and the router last.
    expect(met?.decided.slice(0, 2)).toEqual(["nic", "nic"]);
    expect(met?.decided).toHaveLength(3);
  });

  it("cannot be asked for where nothing is to get through", () => {
    const wishes = ["through: r", "avoids: r", "routed: never"];
    const { told, diagnostics } = check(
      site,
      wishes.map((wish) => `from: c, to: b, expect: blocked, ${wish}`),
    );
    expect(told).toEqual([]);
    expect(diagnostics.map(({ message }) => message)).toEqual([
      "`through` has no meaning with `expect: blocked`",
      "`avoids` has no meaning with `expect: blocked`",
      "`routed` has no meaning with `expect: blocked`",
    ]);
  });
});

describe("what is routed though it was to stay in one network", () => {
  const box = (cables: string) =>
    rooms({
      router: "    dhcp: { red: { hosts: 100-110 }, blue: { hosts: 100-110 } }",
      ports: "p1: { untagged: red }, p2: { untagged: blue }, p3: { untagged: red }, p4: { untagged: blue }",
      rack: "  box: { is: host, ports: { one: 1G, two: 1G } }",
      cables,
      intent:
        "  box: { legs: { one: { network: red, ipv4: lease }, two: { network: blue, ipv4: lease } }, host-model: strong }",
    });

  it("is not, while the box is plugged in right", () => {
    const right = box("  - [r:p3, box:one]\n  - [r:p4, box:two]");
    expect(judge(right, "from: a, to: box/one, expect: connects, routed: never")[0]?.status).toBe("passed");
  });

  it("is blamed on the cables that a box has in one another's sockets", () => {
    const swapped = box("  - [r:p3, box:two]\n  - [r:p4, box:one]");
    const [verdict] = judge(swapped, "from: a, to: box/one, expect: connects, routed: never");
    expect(verdict).toMatchObject({ status: "failed", why: expect.arrayContaining(["it is routed by r"]) });
    expect(verdict?.decided[0]).toBe("[r:p4, box:one]");
  });
});
