/**
 * A storage box with a leg in each network on one tagged cable, and what is proved when nobody but the box is at the end of it.
 *
 *     gate:lan --- core:p1 | core:p2 --- store:a     the box: management, people and guests, tagged
 *                          | core:p3 --- pc          management
 *                          | core:p4                 guests, free
 */
import { describe, expect, it } from "vitest";
import { judge, siteFrom, statuses, type TestSite, type Told } from "./verdicts.ts";

const ALL = "[management, people, guests]";
const RACK = `devices:
  gate: { is: router, ports: { lan: 1G, side: 1G } }
  core: { is: switch, ports: { p1..8: 1G } }
  store: { is: host, ports: { a: 1G, b: 1G } }
  pc: { is: host, ports: { nic: 1G } }
cables:
  - [gate:lan, core:p1]
  - [core:p2, store:a]
  - [core:p3, pc:nic]
`;
const INTENT = `networks:
  management: { vlan: 10, ipv4: 10.1.0.0/24 }
  people: { vlan: 20, ipv4: 10.2.0.0/24 }
  guests: { vlan: 30, ipv4: 10.3.0.0/24 }
devices:
  gate:
    switching: { unlisted: "off", ports: { lan: { tagged: ${ALL} } }, own: { tagged: ${ALL} } }
    interfaces:
      management: { network: management, host: 1 }
      people: { network: people, host: 1 }
      guests: { network: guests, host: 1 }
    filter:
      to: { otherwise: drop }
      through: { otherwise: drop }
  core:
    switching:
      unlisted: "off"
      ports: { p1: { tagged: ${ALL} }, p2: { tagged: ${ALL}, admit: tagged }, p3: { untagged: management, admit: untagged }, p4: { untagged: guests, admit: untagged } }
  store:
    trusted: [a]
    host-model: strong
    legs:
      m: { port: a, tag: management, network: management, host: 20 }
      p: { port: a, tag: people, network: people, host: 20 }
      g: { port: a, tag: guests, network: guests, host: 20 }
    serves: { tcp/445: all }
  pc: { legs: { nic: { network: management, host: 30, gateway: 10.1.0.1 } } }
`;
const BLOCKED = "from: guests, to: management, expect: blocked, even-if: cut-off";
const ALONE = "store alone sends by core:p2; it is trusted";

/** The site with pieces of its texts replaced; throws where there is nothing to replace. */
function edited(...edits: readonly (readonly [from: string, to: string])[]): TestSite {
  const texts = [RACK, INTENT].map((text) => edits.reduce((all, [from, to]) => all.replace(from, () => to), text));
  const missing = edits.find(([from]) => !`${RACK}${INTENT}`.includes(from));
  if (missing !== undefined) throw new Error(`nothing says ${missing[0]}`);
  return siteFrom(...texts);
}

function blocked(...edits: readonly (readonly [from: string, to: string])[]): Told {
  const [told] = judge(edited(...edits), BLOCKED);
  if (told === undefined) throw new Error("no verdict");
  return told;
}

const UNTRUSTED = ["    trusted: [a]\n", ""] as const;

describe("a box on a tagged cable", () => {
  it("that nobody vouches for lets whoever unplugs it into every network of the cable", () => {
    const told = blocked(UNTRUSTED);
    expect(told).toMatchObject({ status: "failed", assumptions: [] });
    expect(told.packet).toMatch(/at core:p2 tagged 10$/);
    expect(told.verdict.help).toBe(
      "whoever unplugs store has every network of core:p2: carry fewer there or, where nobody can, say so, `store: { trusted: [a] }`",
    );
  });

  it("is not to be trusted for what it may send itself, nor where nothing is plugged in", () => {
    const [itself] = judge(edited(UNTRUSTED), BLOCKED.replace("guests", "store"));
    const free = blocked(["p4: { untagged: guests, admit: untagged }", `p4: { tagged: ${ALL} }`]);
    for (const told of [itself, free]) {
      expect(told?.status).toBe("failed");
      expect(told?.verdict.help).not.toContain("trusted");
    }
  });

  it("that is trusted and named is asked what it might send, and a packet that claims more than it is says so", () => {
    const [told] = judge(edited(["host-model: strong", "host-model: weak"]), "from: store, to: pc, expect: blocked");
    const [forged] = judge(
      edited(["p3: { untagged: management", "p3: { untagged: guests"]),
      "from: store/m, to: pc, expect: blocked",
    );
    // From its own address, by its own leg.
    expect(told).toMatchObject({ status: "failed" });
    expect(told?.verdict.help).not.toContain("trusted");
    expect(forged?.packet).toMatch(/10\.1\.0\.20 .*at core:p2 tagged 30$/);
    expect(forged?.verdict.help).toContain(
      "that store is trusted counts where its networks are asked; who names it asks what it might send, whatever source and tag it makes up",
    );
  });

  it("that is trusted leaves the networks apart, and the verdict says who is trusted where, with the line", () => {
    const told = blocked();
    expect(told).toMatchObject({ status: "passed", assumptions: [ALONE] });
    const lines = told.restsOn.filter(({ ground }) => ground === "assumed");
    expect(lines).toHaveLength(1);
    const [line] = lines;
    expect([line?.text, line && edited().textAt(line.origin.span)]).toEqual([ALONE, "a"]);
  });

  it("hides nobody else: a free port that carries both networks is still one to plug into", () => {
    const told = blocked(["p4: { untagged: guests, admit: untagged }", `p4: { tagged: ${ALL} }`]);
    expect(told.status).toBe("failed");
    expect(told.packet).toMatch(/at core:p4 tagged 10$/);
  });

  it("is asked about as before where it is named, by its name, a leg or an address of its own", () => {
    for (const from of ["store", "store/g", "10.3.0.20"]) {
      const [trusted] = judge(edited(), BLOCKED.replace("guests", from));
      const [untrusted] = judge(edited(UNTRUSTED), BLOCKED.replace("guests", from));
      expect(trusted, from).toMatchObject({ status: "failed", assumptions: [], packet: untrusted?.packet });
      expect(trusted?.packet, from).toMatch(/at core:p2 tagged 10$/);
    }
  });

  it("is left out of a range of addresses, as of the network that they belong to", () => {
    const range = BLOCKED.replace("guests", "10.3.0.16/28");
    expect(judge(edited(), range)[0]).toMatchObject({ status: "passed", assumptions: [ALONE] });
    expect(statuses(edited(UNTRUSTED), range)).toEqual(["failed"]);
  });

  it("stays a target, and a source of what connects", () => {
    const site = edited();
    const asked = "service: tcp/445, expect: connects";
    expect(judge(site, `from: pc, to: store/m, ${asked}`)[0]).toMatchObject({ status: "passed", assumptions: [] });
    const [told] = judge(site, `from: guests, to: pc, service: tcp/22, expect: connects`);
    expect(told?.cells).toMatchObject([{ from: "store" }]);
    const open = "p4: { untagged: guests, admit: untagged }";
    const [reached] = judge(edited([open, `p4: { tagged: ${ALL} }`]), "from: guests, to: store, expect: blocked");
    expect(reached?.status).toBe("failed");
  });

  it("is what `only` and policies leave out, too, and sets of networks", () => {
    const site = edited(["networks:\n", "sets: { strangers: [guests] }\nnetworks:\n"]);
    const [policy, set] = judge(
      site,
      "policy: { from: [guests, people], to: [management], open: { guests: { management: nothing }, people: { management: unjudged } } }",
      BLOCKED.replace("guests", "strangers"),
    );
    expect(policy).toMatchObject({ status: "passed", assumptions: [ALONE] });
    expect(set).toMatchObject({ status: "passed", assumptions: [ALONE] });
    const [only] = judge(edited(), "from: guests, to: pc, service: tcp/22, expect: only");
    expect(only?.assumptions).toContain(ALONE);
  });

  it("leaves what is said of sockets as it is", () => {
    const ports = "segment: { network: guests, ports: [core:p2, core:p4] }";
    expect(statuses(edited(), ports)).toEqual(statuses(edited(UNTRUSTED), ports));
    expect(statuses(edited(), ports)).toEqual(["passed"]);
  });
});

describe("nobody left to send", () => {
  const free = ["p4: { untagged: guests, admit: untagged }", "p4: { untagged: management, admit: untagged }"] as const;

  /** What must be blocked, whoever reaches nothing. */
  const strict = (edit: readonly [from: string, to: string]): Told => {
    const [told] = judge(edited(edit), BLOCKED.replace(", even-if: cut-off", ""));
    if (told === undefined) throw new Error("no verdict");
    return told;
  };

  it("says nothing, says why, points at the line, and tells what to ask instead", () => {
    const told = strict(free);
    expect(told).toMatchObject({
      status: "vacuous",
      headline: `nothing is asked: \`guests\` has nobody left who might send: ${ALONE}`,
      decided: ["a"],
      assumptions: [ALONE],
    });
    expect(told.verdict.help).toBe(
      "name whom you mean: `from: store` asks what that host might send; where it is meant, say `even-if: cut-off`",
    );
  });

  it("is what `even-if: cut-off` excuses: it holds, and rests on the line that says who is trusted", () => {
    const told = blocked(free);
    expect(told).toMatchObject({
      status: "passed",
      headline: `nothing gets from guests to management: \`guests\` has nobody left who might send: ${ALONE}`,
      decided: ["a"],
      assumptions: [ALONE],
    });
    expect(told.restsOn.map(({ ground, text }) => [ground, text])).toEqual([["assumed", ALONE]]);
    // Of whoever else might plug in there something is asked again.
    expect(blocked(free, UNTRUSTED).status).toBe("failed");
  });

  it("is no excuse for a target that is not there, nor for a source where nobody is at all", () => {
    const absent = ["networks:\n", "networks:\n  attic: { vlan: 50 }\n"] as const;
    const told = judge(
      edited(free, absent),
      BLOCKED.replace("guests", "attic"),
      BLOCKED.replace("to: management", "to: attic"),
    );
    expect(told.map(({ status, headline }) => [status, headline])).toEqual([
      ["vacuous", "nothing is asked: `attic` has no host, and nothing can be plugged in"],
      ["vacuous", "nothing is asked: `attic` holds nothing that could be reached"],
    ]);
  });

  it("of a source whose only host is trusted nothing is asked about its gateway: who plugs in beside it has one", () => {
    const told = judge(edited(), BLOCKED.replace(", even-if: cut-off", ""))[0];
    expect(told?.status).toBe("passed");
    const alone = judge(
      edited(UNTRUSTED),
      BLOCKED.replace(", even-if: cut-off", "").replace("management", "people"),
    )[0];
    expect(alone?.status).toBe("failed");
  });

  it("and no gateway: neither is there anybody to be cut off", () => {
    const [told] = judge(
      edited(["      guests: { network: guests, host: 1 }\n", ""]),
      BLOCKED.replace(", even-if: cut-off", ""),
    );
    expect(told).toMatchObject({
      status: "vacuous",
      headline: `nothing gets from guests to management, but only because \`guests\` has no host that is asked and no gateway; ${ALONE}`,
    });
  });
});

describe("the other end of a trusted cable", () => {
  it("may be a bond, where no member of it is left to others", () => {
    const bonded = [
      ["  - [core:p2, store:a]\n", "  - [core:p2, store:a]\n  - [core:p5, store:b]\n"],
      ["  core:\n", "  core:\n    bonds: { pair: { members: [p2, p5], mode: MODE } }\n"],
      ["p2: {", "pair: {"],
      ["    host-model", "    bonds: { both: { members: [a, b], mode: MODE } }\n    host-model"],
      ["m: { port: a", "m: { port: both"],
      ["p: { port: a", "p: { port: both"],
      ["g: { port: a", "g: { port: both"],
    ] as const;
    const site = (mode: string, trusted: string) =>
      blocked(...bonded.map(([from, to]) => [from, to.replace("MODE", mode)] as const), [
        "trusted: [a]",
        `trusted: ${trusted}`,
      ]);
    const alone = "store alone sends by core:pair; it is trusted";
    for (const mode of ["lacp", "static", "active-backup"]) {
      expect(site(mode, "both"), mode).toMatchObject({ status: "passed", assumptions: [alone] });
      expect(site(mode, "all"), mode).toMatchObject({ status: "passed", assumptions: [alone] });
      expect(site(mode, "[a]"), mode).toMatchObject({ status: "failed", assumptions: [] });
    }
  });

  it("may be a port that a router stands on", () => {
    const direct = [
      ["  - [core:p2, store:a]\n", "  - [gate:side, store:a]\n"],
      ["guests: { network: guests, host: 1 }", "guests: { network: guests, port: side, host: 1 }"],
      ["p: { port: a, tag: people, network: people, host: 20 }", "o: { port: a, network: guests, host: 21 }"],
      ["own: { tagged: [management, people, guests] }", "own: { tagged: [management, people] }"],
      [`p2: { tagged: ${ALL}, admit: tagged }`, "p2: { untagged: people }"],
      ["p4: { untagged: guests", "p4: { untagged: people"],
    ] as const;
    expect(blocked(...direct)).toMatchObject({
      status: "passed",
      assumptions: ["store alone sends by gate:side; it is trusted"],
    });
    expect(blocked(...direct, UNTRUSTED).assumptions).toEqual([]);
  });

  it("may be a port that admits untagged frames alone", () => {
    const told = blocked(
      [`p2: { tagged: ${ALL}, admit: tagged }`, "p2: { untagged: guests }"],
      ["p4: { untagged: guests", "p4: { untagged: management"],
    );
    expect(told).toMatchObject({ status: "passed", assumptions: [ALONE] });
  });

  it("is none where an unmanaged switch lies between: anybody may plug in there", () => {
    const told = blocked(
      ["  pc: { is", "  desk: { is: unmanaged-switch, ports: { d1..3: 1G } }\n  pc: { is"],
      ["  - [core:p2, store:a]\n", "  - [core:p2, desk:d1]\n  - [desk:d2, store:a]\n"],
    );
    expect(told).toMatchObject({ status: "failed", assumptions: [] });
  });
});

describe("a trusted machine that switches", () => {
  const inside = [
    ["ports: { a: 1G, b: 1G } }\n", "ports: { a: 1G, b: 1G } }\n  inner: { is: host, ports: { v: 1G } }\n"],
    ["  - [core:p3, pc:nic]\n", "  - [core:p3, pc:nic]\n  - [store:b, inner:v]\n"],
    [
      "    legs:\n      m: { port: a, tag: management, network: management, host: 20 }\n      p: { port: a, tag: people, network: people, host: 20 }\n      g: { port: a, tag: guests, network: guests, host: 20 }\n",
      `    switching: { ports: { a: { tagged: ${ALL} }, b: { untagged: guests, BESIDE admit: all } } }\n    legs: {}\n`,
    ],
    ["  pc: { legs", "  inner: { INNER legs: { v: { network: guests, host: 40 } } }\n  pc: { legs"],
  ] as const;
  const site = (beside: string, inner: string) =>
    blocked(...inside.map(([from, to]) => [from, to.replace("BESIDE", beside).replace("INNER", inner)] as const), [
      "serves: { tcp/445: all }",
      "serves: {}",
    ]);

  it("vouches for itself, and not for whoever is at its own ports", () => {
    expect(site("", "")).toMatchObject({ status: "passed", assumptions: [ALONE] });
    const told = site("tagged: [management],", "");
    expect(told.status).toBe("failed");
    expect(told.packet).toMatch(/at store:b tagged 10$/);
  });

  it("may have machines at its ports that are trusted themselves", () => {
    expect(site("tagged: [management],", "trusted: all,")).toMatchObject({
      status: "passed",
      assumptions: [ALONE, "inner alone sends by store:b; it is trusted"],
    });
  });
});
