/**
 * `only`: these services connect and nothing else arrives; a policy is a table of such cells, and of blocked ones where nothing is written.
 */
import { describe, expect, it } from "vitest";
import { onlyRule, rooms } from "./rooms.ts";
import { check, judge, statuses } from "./verdicts.ts";

const NOTHING = "{ otherwise: drop }";
const WEB = "{ name: web, in: red, dest: b, service: tcp/80, action: accept }";
const site = (rule: string, more = {}) => rooms({ to: NOTHING, through: onlyRule(rule), ...more });
const ONLY_WEB = "from: red, to: b, service: tcp/80, expect: only";

describe("only", () => {
  it("holds where the service connects and nothing else arrives", () => {
    const [told] = judge(site(WEB), ONLY_WEB);
    expect(told).toMatchObject({ status: "passed", headline: "red gets to b by tcp/80 and by nothing else" });
    expect(told?.cells.map(({ service }) => service)).toEqual(["tcp/80", "all but tcp/80"]);
  });

  it("breaks where more is open than the services, with a packet of the rest", () => {
    const wide = WEB.replace("tcp/80", "[tcp/80, tcp/8080]");
    const [told] = judge(site(wide), ONLY_WEB);
    expect(told).toMatchObject({ status: "failed", packet: expect.stringMatching(/^tcp\/8080 from /) });
    expect(told?.headline).toMatch(/^besides tcp\/80, a packet from red gets to b: /);
    expect(told?.decided).toContain("web");
  });

  it("asks once for a service that is listed twice, and says it once", () => {
    const [told] = judge(site(WEB), "from: red, to: b, service: [tcp/80, tcp/80], expect: only");
    expect(told?.headline).toBe("red gets to b by tcp/80 and by nothing else");
    expect(told?.cells.map(({ service }) => service)).toEqual(["tcp/80", "all but tcp/80"]);
    const wide = WEB.replace("tcp/80", "[tcp/80, tcp/8080]");
    const [broken] = judge(site(wide), "from: red, to: b, service: [tcp/80, tcp/80], expect: only");
    expect(broken?.headline).toMatch(/^besides tcp\/80, a packet/);
  });

  it("says what would keep two hosts of one network apart, and blames no route for what is delivered", () => {
    const beside = rooms({
      rack: "  c: { is: host, ports: { nic: 1G } }",
      cables: "  - [r:p3, c:nic]",
      intent: "  c: { legs: { nic: { network: red, host: 11, gateway: 10.1.0.1 } } }",
    });
    const [told] = judge(beside, "from: a, to: c, service: tcp/80, expect: only");
    expect(told).toMatchObject({
      status: "failed",
      why: ["this puts the sender there", "this lets it out there", "reaches c"],
      verdict: {
        help: "no list of rules lies between them, as they share a network: keep them in different ones, or give c a `filter` of its own",
      },
    });
    expect(judge(beside, "from: a, to: r/red, expect: blocked")[0]?.verdict.help).toBe(
      "no list of rules lies between them, as they share a network: give r a `to` list in its `filter`",
    );
    expect(judge(site(WEB), "from: red, to: b, expect: blocked")[0]?.verdict.help).toMatch(/^narrow `web`/);
  });

  it("blames no route for what a router takes itself, past a list of rules", () => {
    const open = rooms({ to: onlyRule("{ name: lax, in: red, action: accept }"), through: NOTHING });
    const [told] = judge(open, "from: red, to: r/blue, expect: blocked");
    expect(told).toMatchObject({ status: "failed", decided: expect.arrayContaining(["lax"]) });
    expect(told?.why).toEqual(["accepted by `lax`", "carried across by r", "reaches r"]);
  });

  it("breaks where less is open", () => {
    const closed = WEB.replace("tcp/80", "tcp/443");
    expect(judge(site(closed), "from: red, to: b, service: [tcp/443, tcp/80], expect: only")[0]).toMatchObject({
      status: "failed",
      headline: expect.stringMatching(/a to b on tcp\/80/),
    });
  });

  it("lets errors about packets of its services pass, and no others", () => {
    // RFC 5508 section 7: errors about a permitted exchange belong to it.
    const related = onlyRule(WEB);
    expect(statuses(rooms({ to: NOTHING, through: related }), ONLY_WEB)).toEqual(["passed"]);
    const any = onlyRule(`${WEB}, { name: errors, in: red, service: icmp/destination-unreachable, action: accept }`);
    const [told] = judge(rooms({ to: NOTHING, through: any }), ONLY_WEB);
    expect(told).toMatchObject({ status: "failed", packet: expect.stringMatching(/^icmp\//) });
  });

  it("means the service where it arrives: behind a forward, the one inside", () => {
    const forward = "{ name: in, family: ipv4, in: red, dest: 10.1.0.1, service: tcp/8080, to: b, to-port: 80 }";
    const through = onlyRule(WEB);
    const router = `    reverse-path: strict\n    translate: { dest: [${forward}] }`;
    expect(statuses(rooms({ to: NOTHING, through, router }), ONLY_WEB)).toEqual(["passed"]);
  });

  it("sees that an answer to a connection with a forged sender comes to any port of it", () => {
    const forward = "{ name: in, family: ipv4, in: red, dest: 10.1.0.1, service: tcp/8080, to: b, to-port: 80 }";
    const router = `    translate: { dest: [${forward}] }`;
    const [told] = judge(rooms({ to: NOTHING, through: onlyRule(WEB), router }), ONLY_WEB);
    expect(told).toMatchObject({
      status: "failed",
      packet: expect.stringMatching(/^tcp\/443 from 10\.2\.0\.10 to 10\.2\.0\.10/),
    });
  });

  it("counts a datagram that nobody answers as more", () => {
    const wide = `${WEB}, { name: syslog, in: red, dest: b, service: udp/514, action: accept }`;
    expect(judge(site(wide), ONLY_WEB)[0]).toMatchObject({
      status: "failed",
      decided: expect.arrayContaining(["syslog"]),
    });
  });

  it("takes what is no exchange to be open when it arrives", () => {
    const tunnel = WEB.replace("tcp/80", "esp");
    expect(statuses(site(tunnel), "from: red, to: b, service: esp, expect: only")).toEqual(["passed"]);
  });

  it("needs services, and refuses `even-if`", () => {
    const { diagnostics } = check(site(WEB), ["from: red, to: b, expect: only"]);
    expect(diagnostics).toMatchObject([{ code: "missing-key", help: expect.stringContaining("expect: blocked") }]);
    const odd = check(site(WEB), [`${ONLY_WEB}, even-if: cut-off`]);
    expect(odd.diagnostics).toMatchObject([{ code: "keys-conflict" }]);
  });
});

const POLICY = "policy: { from: [red, blue], to: [red, blue, r], open: { red: { blue: tcp/80 } } }";

describe("a policy", () => {
  it("judges every cell, those that nobody wrote as blocked, and no end with itself", () => {
    const through = onlyRule(WEB.replace("dest: b", "out: blue"));
    const strict = rooms({ to: NOTHING, through });
    const [told] = judge(strict, POLICY);
    expect(told?.cells.map(({ from, to, service, status }) => `${from} ${to} ${service} ${status}`)).toEqual([
      "red red  skipped",
      "red blue tcp/80 failed",
      "red r  passed",
      "blue red  passed",
      "blue blue  skipped",
      "blue r  passed",
    ]);
  });

  it("tells of each cell that does not hold", () => {
    const [told] = judge(rooms(), POLICY);
    expect(told).toMatchObject({
      status: "failed",
      headline: expect.stringMatching(/^red to blue: .*; 3 more cells do not hold$/),
    });
    expect(told?.cells.filter(({ text }) => text !== undefined)).toHaveLength(4);
  });

  it("holds with `anything`, `nothing` and `unjudged` where they are true", () => {
    const open = "open: { red: { blue: anything, r: unjudged }, blue: { red: unjudged, r: unjudged } }";
    const [told] = judge(rooms(), `policy: { from: [red, blue], to: [red, blue, r], ${open} }`);
    expect(told).toMatchObject({ status: "passed", headline: "the one cell holds: 1 open, 0 blocked" });
    expect(statuses(rooms(), "policy: { from: red, to: blue, open: { red: { blue: nothing } } }")).toEqual(["failed"]);
    expect(statuses(rooms(), "policy: { from: red, to: blue, open: { red: { blue: unjudged } } }")).toEqual([
      "vacuous",
    ]);
  });

  it("takes a set for each of its members", () => {
    const sets = rooms({ to: NOTHING, through: NOTHING, top: "sets: { both: [red, blue] }" });
    expect(judge(sets, "policy: { from: both, to: r }")[0]).toMatchObject({ status: "passed" });
  });

  it.each([
    [
      "a row that is none of its own",
      "policy: { from: red, to: blue, open: { bleu: { blue: tcp/80 } } }",
      "unknown-name",
    ],
    [
      "a column that is none of its own",
      "policy: { from: red, to: blue, open: { red: { r: tcp/80 } } }",
      "unknown-name",
    ],
    ["a name that nothing carries", "policy: { from: rde, to: blue }", "unknown-name"],
    [
      "a word beside services",
      "policy: { from: red, to: blue, open: { red: { blue: [tcp/80, anything] } } }",
      "keys-conflict",
    ],
    ["ends beside it", "policy: { from: red, to: blue }, expect: blocked", "keys-conflict"],
  ])("refuses %s", (_what, text, code) => {
    expect(check(rooms(), [text]).diagnostics).toMatchObject([{ code }]);
  });
});
