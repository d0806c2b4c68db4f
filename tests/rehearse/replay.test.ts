/** What a story comes to: which assertions turn and when, what came of demands, and which step is to blame. */
import { describe, expect, it } from "vitest";
import { loadDocument } from "../../src/document/index.ts";
import { replay } from "../../src/rehearse/index.ts";
import { tellBlame } from "../../src/result/index.ts";
import { demandsIn, house, told, turnsIn } from "./stories.ts";

describe("events", () => {
  it("a cable that is pulled breaks what needs it, until it is back", () => {
    const replayed = told("  - { at: 1m, unplug: sw:p3 }\n  - { at: 2m, plug: [srv:nic, sw:p3] }");
    expect(turnsIn(replayed).slice(0, 3)).toEqual(["1m unplug", "1m pc reaches srv: failed", "2m plug"]);
    expect(replayed.outages.map(({ name, times }) => [name, times])).toEqual([
      // The switch's tree listens and learns for 15 s each (802.1D, from memory).
      ["pc reaches srv", [{ fromMs: 60_000, toMs: 150_000 }]],
    ]);
  });

  it("a port that is off is as a cable that is pulled", () => {
    const off = told("  - { at: 1m, port-off: sw:p3 }\n  - { at: 2m, port-on: sw:p3 }");
    expect(off.outages.map(({ times }) => times)).toEqual([[{ fromMs: 60_000, toMs: 150_000 }]]);
  });

  it("a cable in the wrong port breaks what it carried", () => {
    expect(turnsIn(told("  - { at: 1m, move: { from: sw:p3, to: sw:p7 } }"))).toContain("1m pc reaches srv: failed");
  });

  it("a second DHCP server is one that a cable connects", () => {
    const replayed = told(
      "  - { at: 1m, plug: [rogue:lan, desk:d2] }\n  - { at: 2m, unplug: sw:p2 }\n  - { at: 3m, plug: [sw:p2, pc:nic] }",
    );
    expect(replayed.moments.flatMap(({ changes }) => changes.map(({ part }) => part))).toContain("pc/nic");
  });

  it("tells which of two servers was taken, since another story is possible", () => {
    const two = "  - { at: 1m, plug: [rogue:lan, sw:p3] }\n  - { at: 2m, power-off: pc }\n  - { at: 3m, power-on: pc }";
    const replayed = told(`  - { at: 30s, unplug: sw:p3 }\n${two}`);
    expect(replayed.assumptions.filter((text) => text.startsWith("pc/nic takes"))).toEqual([
      "pc/nic takes the address of gw/dhcp/house, not of rogue/dhcp/lan",
    ]);
    expect(told("  - { at: 1m, wait: 1m }").assumptions.filter((text) => text.startsWith("pc/nic takes"))).toEqual([]);
  });

  it("a device that restarts is away for the time stated", () => {
    const replayed = told("  - { at: 1m, restart: sw, takes: 40s }");
    expect(turnsIn(replayed).filter((line) => line.includes("re"))).toEqual([
      ...["1m restart", "1m pc reaches srv: failed", "1m40s returns", "2m10s pc reaches srv: passed"],
    ]);
  });

  it("a device that saves when told comes back without what it was not told to save", () => {
    const change =
      "  - { at: 1m, change: [{ set: sw.switching.ports.p7, to: seat }] }\n  - { at: 2m, move: { from: sw:p3, to: sw:p7 } }\n";
    const restart = "  - { at: 10m, restart: sw, takes: 1m }\n  - { at: 20m, assert: pc reaches srv }";
    expect(demandsIn(told(change + restart))).toEqual(["assert pc reaches srv: failed"]);
    expect(demandsIn(told(`${change}  - { save: sw }\n${restart}`))).toEqual(["assert pc reaches srv: passed"]);
  });

  it("a change may be the intent of another plan", () => {
    const intent = "devices: { srv: { legs: { nic: { ipv4: 10.9.99.20/24 } } }, pc: { legs: { nic: lease } } }";
    expect(turnsIn(told("  - { at: 1m, change: ./next }", { "./next": intent }))).toContain(
      "1m pc reaches srv: failed",
    );
  });

  it("a server that stops is missed when the lease has run out, and no sooner", () => {
    const replayed = told(
      "saw: [{ at: 1h, within: 10m, broken: pc has a lease }]\nstory:\n  - { at: 1m, server-off: { dhcp: gw/house } }",
    );
    expect(demandsIn(replayed)).toEqual(["saw pc has a lease: passed"]);
    const [outage] = replayed.outages.filter(({ name }) => name === "pc has a lease");
    // The lease was taken before the story began, and lasts an hour at most.
    expect(outage?.times[0]?.fromMs).toBeGreaterThan(29 * 60_000);
    expect(outage?.times[0]?.fromMs).toBeLessThanOrEqual(61 * 60_000);
  });
});

describe("demands", () => {
  const PULL = "  - { at: 1m, unplug: sw:p3 }\n  - { at: 1m20s, plug: [srv:nic, sw:p3] }";

  it("what is asserted is judged at its moment", () => {
    const story = "  - { assert: all }\n  - { at: 1m, unplug: sw:p3 }\n  - { assert: pc reaches srv }";
    expect(demandsIn(told(story))).toEqual([
      "assert pc reaches srv: passed",
      "assert pc has a lease: passed",
      "assert guests stay out: passed",
      "assert pc reaches srv: failed",
    ]);
  });

  it("what must hold meanwhile may be broken for its gap, and no longer", () => {
    const meanwhile = (gap: string): string => `  - { meanwhile: pc reaches srv${gap} }\n${PULL}`;
    expect(demandsIn(told(meanwhile(", gap: 2m")))).toEqual(["meanwhile pc reaches srv: passed"]);
    expect(demandsIn(told(meanwhile("")))).toEqual(["meanwhile pc reaches srv: failed"]);
  });

  it("what is demanded no longer may break", () => {
    const story = `  - { meanwhile: pc reaches srv }\n  - { at: 30s, no-longer: pc reaches srv }\n${PULL}`;
    expect(demandsIn(told(story))).toEqual(["meanwhile pc reaches srv: passed"]);
  });

  it("what people saw is seen where it is broken then, and not seen where it is not", () => {
    const story = `saw:\n  - { at: 1m10s, broken: pc reaches srv }\n  - { at: 30s, broken: pc reaches srv }\n  - { at: 30s, within: 40s, broken: pc reaches srv }\nstory:\n${PULL}`;
    expect(demandsIn(told(story)).map((line) => line.split(": ")[1])).toEqual(["passed", "failed", "passed"]);
  });

  it("a replay that ends before tells nothing of what comes later", () => {
    const request = house(`${PULL}\n  - { at: 1h, assert: pc reaches srv }`);
    expect(demandsIn(replay({ ...request, untilMs: 60_000 }))).toEqual(["assert pc reaches srv: skipped"]);
    const seen = house(`saw: [{ at: 1h, broken: pc reaches srv }]\nstory:\n${PULL}`);
    expect(demandsIn(replay({ ...seen, untilMs: 60_000 }))).toEqual(["saw pc reaches srv: skipped"]);
  });
});

describe("the cast", () => {
  it("is asked what it comes to at a moment, not what it survives or comes back from elsewhere", () => {
    const request = house("  - { at: 1m, assert: pc reaches srv }");
    const elsewhere = "survives: { one-of: cables }, recovers: from-dark";
    const text = `dryrack: assertions/1\nassertions: [{ name: pc reaches srv, from: pc, to: srv, service: tcp/80, expect: connects, ${elsewhere} }]\n`;
    const { document } = loadDocument({ path: "a.yaml", text }, 2);
    if (document?.kind !== "assertions") throw new Error("no assertions");
    const [asserted] = replay({ ...request, assertions: [{ path: "a.yaml", document }] }).demands;
    expect(asserted?.verdict).toMatchObject({ status: "passed", headline: "the exchange works: pc to srv on tcp/80" });
    expect(asserted?.verdict?.recovery).toBeUndefined();
  });
});

describe("causes", () => {
  const stepsBehind = (story: string): readonly string[][] =>
    told(story).demands.map(({ cause }) => (cause?.steps ?? []).map(({ text }) => text));

  it("is the step without which it would not be so, not the last one before", () => {
    const story =
      "saw: [{ at: 5m, broken: pc reaches srv }]\nstory:\n  - { at: 1m, unplug: sw:p3 }\n  - { at: 2m, plug: [desk:d2, spare:s1] }";
    expect(stepsBehind(story)).toEqual([["the cable sw:p3 - srv:nic is pulled"]]);
  });

  it("are not guessed where there are too many to leave each out", () => {
    const flaps = Array.from({ length: 33 }, (_, index) => {
      return `  - { at: ${index + 1}m, port-off: sw:p4 }\n  - { port-on: sw:p4 }`;
    });
    const seen = "saw: [{ at: 35m, broken: pc reaches srv }]\nstory:\n";
    const [demand] = told(`${seen}${flaps.join("\n")}\n  - { at: 34m, unplug: sw:p3 }`).demands;
    expect(demand?.cause).toMatchObject({
      steps: [],
      text: "which of 67 steps is behind it was not tried: at most 64 are",
    });
  });

  it("are all steps that it needs", () => {
    const move = "  - { at: 1m, change: [{ set: sw.switching.ports.p7, to: { untagged: guests } }] }";
    const story = `saw: [{ at: 5m, broken: pc reaches srv }]\nstory:\n${move}\n  - { at: 2m, move: { from: sw:p3, to: sw:p7 } }`;
    // Without the change the port is off, so that only the move is needed.
    expect(stepsBehind(story)).toEqual([["the cable sw:p3 - srv:nic is moved: from sw:p3 to sw:p7"]]);
    const loop =
      "saw: [{ at: 5m, broken: pc reaches srv }]\nstory:\n  - { at: 1m, plug: [desk:d2, spare:s1] }\n  - { at: 2m, change: [{ set: spare.switching.spanning-tree, to: off }] }\n  - { at: 3m, plug: [desk:d3, spare:s2] }";
    expect(stepsBehind(loop).map((steps) => steps.length)).toEqual([3]);
  });

  it("are all that must go where each alone is enough", () => {
    const story =
      "saw: [{ at: 5m, broken: pc reaches srv }]\nstory:\n  - { at: 1m, unplug: sw:p3 }\n  - { at: 2m, unplug: sw:p2 }";
    expect(stepsBehind(story)).toEqual([["the cable sw:p3 - srv:nic is pulled", "the cable sw:p2 - pc:nic is pulled"]]);
  });

  it("say whether it takes all of them or each is enough", () => {
    const seen = "saw: [{ at: 5m, broken: pc reaches srv }]\nstory:\n";
    const causeOf = (steps: string): string => {
      const cause = told(`${seen}${steps}`).demands[0]?.cause;
      return cause === undefined ? "" : tellBlame(cause);
    };
    expect(causeOf("  - { at: 1m, unplug: sw:p3 }")).toBe("it would not be so without");
    expect(causeOf("  - { at: 1m, unplug: sw:p3 }\n  - { at: 2m, unplug: sw:p2 }")).toBe(
      "each of these alone is enough for it",
    );
    expect(
      causeOf(
        "  - { at: 1m, plug: [desk:d2, spare:s1] }\n  - { at: 2m, change: [{ set: spare.switching.spanning-tree, to: off }] }\n  - { at: 3m, plug: [desk:d3, spare:s2] }",
      ),
    ).toBe("it takes all of these together");
  });

  it("is not the step that only makes room for the one that does it", () => {
    const saw = "saw: [{ at: 5m, broken: { name: one socket, segment: { network: guests, ports: [sw:p8] } } }]";
    const story = "story:\n  - { at: 2m, unplug: sw:p2 }\n  - { at: 3m, plug: [sw:p2, sw:p8] }";
    expect(stepsBehind(`${saw}\n${story}`)).toEqual([["a cable joins sw:p2 and sw:p8"]]);
  });

  it("is the site itself where it was so before", () => {
    const replayed = told(
      "saw: [{ at: 1m, broken: { name: x, from: pc, to: srv, service: tcp/81, expect: connects } }]\nstory:\n  - { wait: 1m }",
    );
    expect(replayed.demands[0]?.cause).toMatchObject({ steps: [], text: expect.stringContaining("the site itself") });
    expect(replayed.began).toEqual({ kept: 3, open: [{ name: "x", status: "vacuous" }] });
  });
});

describe("as one device sees it", () => {
  it("only its own changes and what it begins are told, and every step", () => {
    const request = house("  - { at: 1m, unplug: sw:p3 }\n  - { at: 2m, power-off: gw }");
    const { moments } = replay({ ...request, from: "pc" });
    expect(
      moments.flatMap(({ changes }) => changes.map(({ device }) => device)).filter((device) => device !== "pc"),
    ).toEqual([]);
    expect(turnsIn({ moments }).filter((line) => !line.includes("guests"))).toContain("1m pc reaches srv: failed");
    expect(turnsIn({ moments }).filter((line) => line.includes("guests"))).toEqual([]);
    expect(moments.filter(({ step }) => step !== undefined)).toHaveLength(2);
  });
});

describe("the same story", () => {
  it("gives the same timeline", () => {
    const story = "  - { meanwhile: all }\n  - { at: 1m, restart: sw }\n  - { at: 1h, assert: all }";
    expect(told(story)).toEqual(told(story));
  });
});

describe("when a story is over", () => {
  it("waits as its last step says", () => {
    const replayed = told(
      "  - { at: 1m, server-off: { dhcp: gw/house } }\n  - { meanwhile: pc has a lease }\n  - { wait: 3h }",
    );
    expect(demandsIn(replayed)).toEqual(["meanwhile pc has a lease: failed"]);
    expect(replayed.endMs).toBe(3 * 3_600_000 + 120_000);
  });

  it("goes on until a gap is longer than any that is tolerated", () => {
    const story = "  - { meanwhile: pc reaches srv, gap: 5m }\n  - { at: 1m, unplug: sw:p3 }";
    expect(demandsIn(told(story))).toEqual(["meanwhile pc reaches srv: failed"]);
  });

  it("cannot tell of what is still broken, but not for too long yet", () => {
    const request = { ...house("  - { meanwhile: pc reaches srv }\n  - { at: 1m, unplug: sw:p3 }"), untilMs: 80_000 };
    expect(replay(request).demands.map(({ status, text }) => [status, text])).toEqual([
      ["undecided", "still broken when the replay ends, since 1m, and a gap of 30s is tolerated"],
    ]);
  });
});

describe("restarts", () => {
  it("who is given power during a restart does not come back from it a second time", () => {
    const replayed = told(
      "  - { at: 1m, restart: sw }\n  - { at: 70s, power-on: sw }\n  - { at: 2m, power-off: sw }\n  - { at: 10m, assert: pc reaches srv }",
    );
    expect(demandsIn(replayed)).toEqual(["assert pc reaches srv: failed"]);
  });
});

describe("what is there no more", () => {
  const gone =
    "[{ remove: gw.interfaces.guests }, { remove: gw.filter.through.rules }, { set: gw.switching.ports.l1.tagged, to: [house] }, { set: gw.switching.own.tagged, to: [house] }, { set: sw.switching.ports.p1.tagged, to: [house] }, { remove: sw.switching.ports.p8 }, { remove: guests }]";
  it("is not kept", () => {
    const replayed = told(`  - { meanwhile: guests stay out }\n  - { at: 1m, change: ${gone} }`);
    expect(replayed.diagnostics).toEqual([]);
    expect(replayed.demands.map(({ status, text }) => [status, text])).toEqual([
      ["failed", "it names what is not there from 1m on"],
    ]);
  });
});

describe("a lease that was renewed", () => {
  it("is in the account, and nothing came of it", () => {
    const added = "{ add: gw.filter.through.rules, item: { name: in, in: guests, action: accept } }";
    const { demands, moments } = told(`  - { at: 40m, change: [${added}] }\n  - { at: 41m, assert: guests stay out }`);
    const before = moments.filter(({ atMs }) => atMs < 2_400_000).flatMap(({ changes }) => changes);
    expect(before.map(({ part, text, isSame }) => [part, text, isSame])).toEqual([
      ["pc/nic", "keeps 10.9.10.100 for 1 h", true],
    ]);
    expect(demands.map(({ status, cause }) => [status, cause?.steps.length, cause?.changes])).toEqual([
      ["failed", 1, []],
    ]);
  });
});
