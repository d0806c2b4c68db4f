/**
 * Lines that tell what is missing in the rack, or names the wrong neighbour, and not where a packet happened to end.
 *
 *     gate:lan --- core:p1, core:p2 --- pc:nic     gate is 10.1.0.1, core 10.1.0.2
 */
import { describe, expect, it } from "vitest";
import { noCableIn } from "../../src/check/unjoined.ts";
import { judge, siteFrom, type Told } from "./verdicts.ts";

const RACK = `devices:
  gate: { is: router, ports: { lan: 1G, lan2: 1G, side: 1G } }
  core: { is: switch, ports: { p1..4: 1G } }
  pc: { is: host, ports: { nic: 1G } }
  far: { is: host, ports: { nic: 1G } }
cables:
  - [gate:lan, core:p1]
  - [gate:lan2, core:p3]
  - [core:p2, pc:nic]
  - [gate:side, far:nic]
`;
const PLAIN = `networks:
  red: { vlan: 10, ipv4: 10.1.0.0/24 }
  blue: { ipv4: 10.2.0.0/24 }
devices:
  gate:
    switching: { unlisted: "off", ports: { lan: { tagged: [red] } }, own: { tagged: [red] } }
    interfaces: { red: { network: red, host: 1 }, blue: { port: side, network: blue, host: 1 } }
    dhcp:
      red:
        hosts: 100-110
        router: 10.1.0.1
  core:
    switching: { unlisted: "off", ports: { p1: { tagged: [red] }, p2: { untagged: red } }, own: { tagged: [red] } }
    interfaces: { red: { network: red, host: 2, gateway: 10.1.0.1 } }
    admin: { services: [tcp/22], listen: [red] }
  pc: { legs: { nic: { network: red, host: 10, gateway: 10.1.0.1 } } }
  far: { legs: { nic: { network: blue, host: 10, gateway: 10.2.0.1 } } }
`;
const BONDED = PLAIN.replace("  gate:\n", "  gate:\n    bonds: { pair: { members: [lan, lan2], mode: static } }\n")
  .replace("  core:\n", "  core:\n    bonds: { pair: { members: [p1, p3], mode: lacp, alone: none } }\n")
  .replace("lan: { tagged", "pair: { tagged")
  .replace("p1: { tagged", "pair: { tagged");

type Edit = readonly [from: string, to: string];

/** The first line that is blamed: what is missing there, if anything, and its text. */
function blamed(assertion: string, edits: readonly Edit[], intent: string = PLAIN): readonly [string, string, Told] {
  const missing = edits.find(([from]) => !`${RACK}${intent}`.includes(from));
  if (missing !== undefined) throw new Error(`nothing says ${missing[0]}`);
  const [rack = "", plan = ""] = [RACK, intent].map((text) =>
    edits.reduce((all, [from, to]) => all.replace(from, to), text),
  );
  const site = siteFrom(rack, plan);
  const [told] = judge(site, assertion);
  const [first] = told?.verdict.decidedBy ?? [];
  if (told === undefined || first === undefined) throw new Error("nothing is blamed");
  const { origin } = first;
  return [origin.by === "absent" ? origin.wanted : "", site.textAt(origin.span), told];
}

const AT_HOME = "from: pc, to: gate/red, service: icmp/echo-request, expect: connects";

describe("what is missing is named where it would be", () => {
  it("the gateway of a switch, at its interface", () => {
    const [wanted, text] = blamed("from: far, to: core, service: tcp/22, expect: connects", [
      [", host: 2, gateway: 10.1.0.1", ", host: 2"],
    ]);
    expect([wanted, text]).toEqual(["a gateway", "red"]);
  });

  it("a cable that was pulled from a host, at its socket", () => {
    const [wanted, text] = blamed(AT_HOME, [["  - [core:p2, pc:nic]\n", ""]]);
    expect([wanted, text]).toEqual(["a cable in `pc:nic`", "nic: 1G"]);
  });

  it("the socket of a switch that is off, at the cable in it, and not at whoever sends", () => {
    const [wanted, text, told] = blamed(AT_HOME, [["[core:p2, pc:nic]", "[core:p4, pc:nic]"]]);
    expect([wanted, text]).toEqual(["", "[core:p4, pc:nic]"]);
    expect(told.verdict.decidedBy[1]?.origin).toMatchObject({ by: "absent", wanted: "`p4` among the switched ports" });
  });

  it("a cable between two switches, at the sockets that stand empty, and not at whoever asked", () => {
    const [wanted, text, told] = blamed(AT_HOME, [
      ["  - [gate:lan, core:p1]\n", ""],
      ["  - [gate:lan2, core:p3]\n", ""],
    ]);
    expect(wanted).toBe("a cable in `gate:lan`");
    expect(text).toContain("lan");
    expect(told.verdict.decidedBy[1]?.origin).toMatchObject({ by: "absent", wanted: "a cable in `core:p1`" });
  });

  it("every cable of a bond", () => {
    const pulled: readonly Edit[] = [
      ["  - [gate:lan, core:p1]\n", ""],
      ["  - [gate:lan2, core:p3]\n", ""],
    ];
    const [wanted] = blamed(AT_HOME, pulled, BONDED);
    expect(wanted).toMatch(/^a cable in `(core:p1` or `core:p3|gate:lan` or `gate:lan2)`$/);
  });
});

describe("an empty socket", () => {
  it("is told in one way, alone or with others, at its line and by the ways that lead there", () => {
    const [line, role] = [
      { file: 1, start: 4, end: 6 },
      { file: 1, start: 20, end: 24 },
    ];
    const told = noCableIn(["core:p1", "core:p3"], { by: "written", span: line, through: [role] });
    expect(told).toEqual({ by: "absent", wanted: "a cable in `core:p1` or `core:p3`", span: line, through: [role] });
    expect(noCableIn(["pc:nic"], { by: "written", span: line })).toEqual({
      by: "absent",
      wanted: "a cable in `pc:nic`",
      span: line,
    });
  });
});

describe("what does not fit is told with both sides", () => {
  it("a bond that is static against one that speaks LACP", () => {
    const [wanted, text] = blamed(AT_HOME, [], BONDED);
    expect(wanted).toMatch(
      /^one mode with (core:pair \(lacp there, static here|gate:pair \(static there, lacp here)\)$/,
    );
    expect(text).toBe("pair");
  });
});

describe("a router that a lease names and nobody is", () => {
  const CLOSED: Edit = ["    dhcp:", "    filter: { through: { otherwise: drop } }\n    dhcp:"];
  const LEASED: readonly Edit[] = [
    ["router: 10.1.0.1", "router: 10.1.0.9"],
    ["nic: { network: red, host: 10, gateway: 10.1.0.1 }", "nic: lease"],
  ];

  it("is blamed on the word of the pool, in exchanges and where a source is cut off by it", () => {
    const [, exchange] = blamed("from: pc, to: far, service: tcp/80, expect: connects", LEASED);
    expect(exchange).toBe("10.1.0.9");
    const [, cut, told] = blamed("from: pc, to: far, expect: blocked", [CLOSED, ...LEASED]);
    expect([told.status, cut]).toEqual(["vacuous", "10.1.0.9"]);
  });

  it("is blamed there in what is asserted of the lease, too", () => {
    const [, line, told] = blamed("lease: { client: pc, router: gate/red }", LEASED);
    expect([told.status, line]).toEqual(["failed", "10.1.0.9"]);
  });

  it("is blamed on the gateway where a host names it itself", () => {
    const [, cut, told] = blamed("from: pc, to: far, expect: blocked", [
      CLOSED,
      ["host: 10, gateway: 10.1.0.1", "host: 10, gateway: 10.1.0.9"],
    ]);
    expect([told.status, cut]).toEqual(["vacuous", "10.1.0.9"]);
  });
});
