/**
 * What devices remember decides what connects at a moment: an address table that still points to where a host was, and how long that
 * lasts. Whoever asks finds out when the neighbour's entry has run out and everyone is asked, whom the host answers from where it is
 * now. REACHABLE_TIME 30 s (the middle of what section 6.3.2 draws ReachableTime from), DELAY_FIRST_PROBE_TIME 5 s and three probes
 * of RETRANS_TIMER 1 s: RFC 4861 section 10. A port without a link forgets at once (seen of a kernel); ageing of 300 s: IEEE 802.1Q, table 8-6, from memory.
 */
import { describe, expect, it } from "vitest";
import { type Replayed, replay } from "../../src/rehearse/index.ts";
import { renderTimelineMarkdown } from "../../src/report/index.ts";
import { demandsIn, house, told, turnsIn } from "./stories.ts";

const FOUND_OUT_MS = 30_000 + 5000 + 3 * 1000;
const HOUR_MS = 3_600_000;

/** Without a tree, which would be slower than any cache, and with the server behind the switch on the desk. */
const AT_THE_DESK =
  "  - { at: 1s, change: [{ set: sw.switching.spanning-tree, to: off }] }\n  - { at: 2s, move: { from: sw:p3, to: desk:d2 } }\n";
const MOVED = `${AT_THE_DESK}  - { at: 1h, move: { from: desk:d2, to: sw:p3 } }`;

const timesOf = ({ outages }: Replayed, name: string) => outages.find((outage) => outage.name === name)?.times;

describe("a host that moved and says nothing", () => {
  it("is not reached where it was, until its neighbour asks everyone", () => {
    expect(timesOf(told(MOVED), "pc reaches srv")).toEqual([{ fromMs: HOUR_MS, toMs: HOUR_MS + FOUND_OUT_MS }]);
  });

  it("is told with who remembers what", () => {
    const [turn] = told(MOVED).moments.flatMap(({ turns }) => turns);
    expect(turn?.verdict).toMatchObject({
      headline: "pc to srv on tcp/80: sw still sends what is for srv/nic to sw:p4, for 5 min at most",
      remembered: "sw still sends what is for srv/nic to sw:p4, for 5 min at most",
      help: "it passes; a packet from there ends it at once",
    });
  });

  it("is broken for longer than a gap that is shorter, and for less than one that is longer", () => {
    const kept = (gap: string): string =>
      `  - { meanwhile: pc reaches srv, gap: ${gap} }\n${AT_THE_DESK}  - { at: 1h, move: { from: desk:d2, to: sw:p3 } }`;
    expect(demandsIn(told(kept("37s")))).toEqual(["meanwhile pc reaches srv: failed"]);
    expect(demandsIn(told(kept("38s")))).toEqual(["meanwhile pc reaches srv: passed"]);
  });

  it("is so whatever else is asked: nobody's exchange mends another's", () => {
    const asks = "{ name: srv speaks, from: srv, to: pc, service: icmp/echo-request, expect: connects }";
    const replayed = told(`  - { at: 0s, meanwhile: ${asks} }\n${MOVED}`);
    expect(timesOf(replayed, "pc reaches srv")).toEqual([{ fromMs: HOUR_MS, toMs: HOUR_MS + FOUND_OUT_MS }]);
    expect(timesOf(replayed, "srv speaks")).toBeUndefined();
  });

  it("is known where it is when nobody has got through to it for long", () => {
    const story = `${AT_THE_DESK}  - { at: 1h, unplug: desk:d2 }\n  - { at: 1h20m, plug: [srv:nic, sw:p3] }`;
    expect(timesOf(told(story), "pc reaches srv")).toEqual([{ fromMs: HOUR_MS, toMs: HOUR_MS + 20 * 60_000 }]);
  });

  it("is told again when nothing else is in the way any more", () => {
    const story = `${AT_THE_DESK}  - { at: 1h, unplug: desk:d2 }\n  - { at: 1h20s, plug: [srv:nic, sw:p3] }`;
    expect(turnsIn(told(story)).slice(-5)).toEqual([
      ...["1h unplug", "1h pc reaches srv: failed", "1h20s plug", "1h20s pc reaches srv: failed"],
      "1h38s pc reaches srv: passed",
    ]);
  });

  it("is found by the steps that moved it: there and back", () => {
    const [demand] = told(`saw: [{ at: 1h10s, broken: pc reaches srv }]\nstory:\n${MOVED}`).demands;
    expect(demand?.cause?.steps.map(({ text }) => text)).toEqual([
      "the cable sw:p3 - srv:nic is moved: from sw:p3 to desk:d2",
      "the cable desk:d2 - srv:nic is moved: from desk:d2 to sw:p3",
    ]);
  });
});

describe("a host that moved and that a rule shuts off as well", () => {
  it.each(["1h", "1h5s"])("is told with the rule, not with who remembers what (rule at %s)", (at) => {
    const rule = "  - { at: AT, change: [{ set: srv.filter, to: { to: { otherwise: drop, rules: [] } } }] }".replace(
      "AT",
      at,
    );
    const [demand] = told(`${MOVED}\n${rule}\n  - { at: 2h, assert: pc reaches srv }`).demands;
    expect(demand?.text).toBe("pc to srv on tcp/80: dropped by the end of the `to` list of srv");
    expect(demand?.verdict?.remembered).toBeUndefined();
  });
});

describe("a host that moved and speaks", () => {
  it("is known at once where it is now: it asks for its lease again when its link comes up", () => {
    const story = `${AT_THE_DESK}  - { at: 1h, move: { from: sw:p2, to: desk:d3 } }\n  - { at: 2h, move: { from: desk:d3, to: sw:p2 } }`;
    expect(told(story).outages).toEqual([]);
  });
});

describe("a host that moved off a port of the switch itself", () => {
  it("is forgotten with the link of its port", () => {
    const story = `${AT_THE_DESK}  - { at: 1h, move: { from: desk:d2, to: desk:d3 } }\n  - { at: 2h, move: { from: sw:p2, to: desk:d2 } }`;
    expect(told(story).outages).toEqual([]);
  });
});

describe("what must be kept apart", () => {
  it("is proved of the site as it is, whatever devices remember", () => {
    expect(timesOf(told(MOVED), "guests stay out")).toBeUndefined();
  });
});

describe("the account", () => {
  it("tells who remembers what below what turned", () => {
    const request = house(MOVED);
    const timeline = { ...replay(request), version: "0", sources: request.plan.sources };
    expect(renderTimelineMarkdown(timeline)).toContain(
      "broken: pc reaches srv (sw still sends what is for srv/nic to sw:p4, for 5 min at most)",
    );
  });
});
