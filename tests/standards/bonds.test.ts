/**
 * Published values of link aggregation: IEEE 802.1AX by its YANG module where named, else from memory. Numbers are those of
 * the project's catalogue. B5 (conversations by link number) and B9 (import) have no counterpart here.
 */
import { describe, expect, test } from "vitest";
import type { Bond } from "../../src/network/index.ts";
import {
  DISABLED_LACP,
  LACP_DEFAULT_PRIORITY,
  LACP_TIMERS,
  type LacpSettings,
  type LacpState,
  lacpCarries,
  lacpPartnerOf,
  lacpWakeMs,
  stepLacp,
} from "../../src/protocol/index.ts";
import { settle } from "../../src/settle/index.ts";
import {
  LACP_ACTIVITY,
  LACP_AGGREGATION,
  LACP_SYNCHRONIZATION,
  LACP_TIMEOUT,
  type LacpPort,
} from "../../src/wire/index.ts";
import { plan } from "../settle/plan.ts";
import { resolvedOf } from "../support/site.ts";

const TWO = ["p1", "p2"];

/** LACP as the standard has it: passive ends stay silent until spoken to. */
const mode = (active: boolean) => ({ kind: "lacp", active, fast: false, passiveMayPair: false }) as const;

function members(a: boolean, b: boolean, more: Partial<Bond> = {}): number {
  const net = plan().device("a", TWO, { profile: "rfc" }).device("b", TWO, { profile: "rfc" });
  net
    .bond("a", "pair", TWO, { mode: mode(a), alone: "none", ...more })
    .bond("b", "pair", TWO, { mode: mode(b), alone: "none" });
  return settle(net.cable("a:p1", "b:p1").cable("a:p2", "b:p2").build()).bonds[0]?.sends.length ?? 0;
}

describe("B1: LACP_Activity, 802.1AX YANG module", () => {
  test("passive on both ends never aggregates; active on one or both does", () => {
    expect([members(false, false), members(true, false), members(false, true), members(true, true)]).toEqual([
      0, 2, 2, 2,
    ]);
  });
});

const SELF = { systemPriority: 0x8000, system: 0xan, key: 1, portPriority: LACP_DEFAULT_PRIORITY, port: 1 };
const settings = (active: boolean, fast: boolean): LacpSettings => ({
  self: SELF,
  active,
  fast,
  passiveMayPair: false,
});

/** A partner that knows this port, with the state bits given besides being in step. */
function heard(bits: number, nowMs: number, told: LacpSettings): LacpState {
  const actor: LacpPort = { ...SELF, system: 0xbn, state: bits | LACP_SYNCHRONIZATION | LACP_AGGREGATION };
  const lacpdu = { version: 1, actor, partner: { ...told.self, state: 0 }, collectorMaxDelay: 0 };
  const up = stepLacp(told, DISABLED_LACP, { kind: "link", up: true }, 0).state;
  const current = stepLacp(told, up, { kind: "received", lacpdu }, nowMs).state;
  return stepLacp(told, current, { kind: "select", selected: true }, nowMs).state;
}

describe("B2 and B3: how often, and how long, 802.1AX (periods: secondary pages; module for the bit)", () => {
  test("1 s and 30 s between messages, 3 s and 90 s until a partner is given up", () => {
    expect(LACP_TIMERS).toEqual({
      fastPeriodicSeconds: 1,
      slowPeriodicSeconds: 30,
      shortTimeoutSeconds: 3,
      longTimeoutSeconds: 90,
      // Aggregate_Wait_Time, from memory; the kernel waits as long (tests/kernel/machine-course.test.ts).
      aggregateWaitSeconds: 2,
    });
  });

  test("a partner that sets LACP_Timeout hears each second, one that does not each 30 s", () => {
    const next = (bits: number) => {
      const state = heard(bits, 1000, settings(true, false));
      return state.state === "disabled" ? undefined : (state.sendAtMs ?? 0) - 1000;
    };
    expect([next(LACP_TIMEOUT), next(0)]).toEqual([1000, 30_000]);
  });

  test.each([
    [true, 3],
    [false, 90],
  ])("a silent partner leaves (asked for fast: %s) after %d s", (fast, seconds) => {
    const told = settings(true, fast);
    const found = heard(LACP_ACTIVITY, 0, told);
    // It carries when it has waited for others.
    const state = stepLacp(told, found, { kind: "timer" }, 2000).state;
    const later = (ms: number) => lacpCarries(stepLacp(told, state, { kind: "timer" }, ms).state);
    expect([found, state].map(lacpCarries)).toEqual([false, true]);
    expect([later(seconds * 1000 - 1), later(seconds * 1000)]).toEqual([true, false]);
  });

  test("a passive port that hears nobody says nothing and has nothing to wait for but the end of its patience", () => {
    const up = stepLacp(settings(false, false), DISABLED_LACP, { kind: "link", up: true }, 0);
    expect([up.actions, lacpWakeMs(up.state)]).toEqual([[], 3000]);
    const defaulted = stepLacp(settings(false, false), up.state, { kind: "timer" }, 3000);
    expect([defaulted.actions, defaulted.state.state, lacpWakeMs(defaulted.state)]).toEqual([
      [],
      "defaulted",
      undefined,
    ]);
  });
});

describe("B4: ports, 802.1AX YANG module", () => {
  test("actor-port-priority is 0x8000 by default", () => {
    expect(LACP_DEFAULT_PRIORITY).toBe(0x8000);
  });

  test("a port that knows no partner is individual: it never carries with others", () => {
    const up = stepLacp(settings(true, false), DISABLED_LACP, { kind: "link", up: true }, 0).state;
    const defaulted = stepLacp(settings(true, false), up, { kind: "timer" }, 3000).state;
    expect([defaulted.state, lacpPartnerOf(defaulted), lacpCarries(defaulted)]).toEqual([
      "defaulted",
      undefined,
      false,
    ]);
    const alone = plan()
      .device("a", TWO, { profile: "rfc" })
      .host("x")
      .host("y")
      .bond("a", "pair", TWO, { mode: mode(true) });
    expect(settle(alone.cable("a:p1", "x:nic").cable("a:p2", "y:nic").build()).bonds[0]?.sends).toEqual(["a:p1"]);
  });
});

describe("B6: one partner system and key for all members, 802.1AX (from memory)", () => {
  test("members that lead to two systems do not carry together", () => {
    const net = plan().device("a", TWO, { profile: "rfc" }).device("b", ["p1"]).device("c", ["p1"]);
    net
      .bond("a", "pair", TWO, { mode: mode(true) })
      .bond("b", "one", ["p1"])
      .bond("c", "one", ["p1"]);
    expect(settle(net.cable("a:p1", "b:p1").cable("a:p2", "c:p1").build()).bonds[0]?.sends).toEqual(["a:p1"]);
  });
});

describe("B8: members carry nothing of their own, RFC 8343 appendix B", () => {
  const topology = "devices: { edge: { is: router, ports: { lan1..3: 1G } } }";
  const codes = (settingsOfEdge: string) =>
    resolvedOf(
      topology,
      `networks: { crew: { vlan: 30, ipv4: 10.71.30.0/24 } }\ndevices: { edge: { bonds: { pair: { members: [lan1, lan2], mode: lacp } }, ${settingsOfEdge} } }`,
    )
      .diagnostics.filter(({ severity }) => severity === "error")
      .map(({ code }) => code);

  test("a member with a tag or an address of its own is an error", () => {
    expect(codes("switching: { ports: { lan1: { tagged: [crew] } } }")).toEqual(["setting-on-member"]);
    expect(codes("interfaces: { crew: { network: crew, port: lan1, host: 1 } }")).toEqual(["setting-on-member"]);
    expect(codes("switching: { ports: { pair: { tagged: [crew] } } }")).toEqual([]);
  });
});
