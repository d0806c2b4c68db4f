import { describe, expect, test } from "vitest";
import type { Bond, Network } from "../../src/network/index.ts";
import {
  DISABLED_LACP,
  type LacpAction,
  type LacpEvent,
  type LacpSettings,
  type LacpState,
  lacpCarriers,
  lacpCarries,
  lacpPartnerOf,
  lacpWakeMs,
  stepLacp,
} from "../../src/protocol/index.ts";
import { settle } from "../../src/settle/index.ts";
import { type Plan, plan } from "../settle/plan.ts";
import { runUntil, type Station } from "./event-loop.ts";

function settingsOf(bond: Bond, index: number): LacpSettings {
  const { mode } = bond;
  if (mode.kind !== "lacp") throw new Error("only LACP here");
  const self = { systemPriority: 0x8000, system: bond.hardware, key: 1, portPriority: 0x8000, port: index + 1 };
  return { self, active: mode.active, fast: mode.fast, passiveMayPair: mode.passiveMayPair };
}

/** Runs the bonds of a network; answers the members that carry at the end, and each port's state. */
function run(network: Network, endSeconds: number, silentFromSeconds = Infinity) {
  const states = new Map<string, LacpState>();
  const stations = new Map<string, Station<LacpEvent, LacpAction>>();
  const far = new Map(network.links.flatMap(({ ends: [a, b] }) => [[a, b] as const, [b, a] as const]));
  const chosen = (bond: Bond) => {
    const members = bond.members.flatMap((port) => {
      const state = states.get(port);
      if (!state || state.state === "disabled") return [];
      const heard = lacpPartnerOf(state);
      const rateMbps = network.ports.find(({ id }) => id === port)?.rateMbps ?? 0;
      return [{ port, rateMbps, ...(heard ? { partner: { system: heard.system, key: heard.key } } : {}) }];
    });
    return lacpCarriers(members, bond.alone);
  };
  for (const bond of network.bonds) {
    for (const [index, port] of bond.members.entries()) {
      const settings = settingsOf(bond, index);
      states.set(port, DISABLED_LACP);
      stations.set(port, {
        step: (event, nowMs) => {
          const result = stepLacp(settings, states.get(port) ?? DISABLED_LACP, event, nowMs);
          states.set(port, result.state);
          return result.actions;
        },
        wakeMs: () => lacpWakeMs(states.get(port) ?? DISABLED_LACP),
      });
    }
    // The bond looks at its members every tenth of a second.
    let nextMs = 50;
    stations.set(bond.id, {
      step: () => {
        nextMs += 100;
        return [{ do: "send", lacpdu: undefined as never }]; // its own turn: `carry` never looks at the frame
      },
      wakeMs: () => nextMs,
    });
  }
  const carry = (station: string, action: LacpAction, nowMs: number): [string, LacpEvent][] => {
    const bond = network.bonds.find(({ id }) => id === station);
    if (bond) {
      const selected = new Set(chosen(bond));
      return bond.members.map((port) => [port, { kind: "select", selected: selected.has(port) }]);
    }
    const to = far.get(station);
    const isSilent = nowMs >= silentFromSeconds * 1000 && station.startsWith("b:");
    return to !== undefined && stations.has(to) && !isSilent ? [[to, { kind: "received", lacpdu: action.lacpdu }]] : [];
  };
  const up = [...states.keys()]
    .filter((port) => far.has(port))
    .map((port) => [port, { kind: "link", up: true }] as const);
  runUntil(stations, { kind: "timer" }, up, carry, endSeconds * 1000);
  return {
    states,
    carriers: Object.fromEntries(
      network.bonds.map((bond) => {
        const hasPartner = bond.members.some((port) => lacpPartnerOf(states.get(port) ?? DISABLED_LACP));
        const members = hasPartner
          ? bond.members.filter((port) => lacpCarries(states.get(port) ?? DISABLED_LACP))
          : chosen(bond);
        return [bond.id, members];
      }),
    ),
  };
}

const TWO = ["p1", "p2"];
const lacp = (active: boolean, passiveMayPair: boolean, fast = false) =>
  ({ mode: { kind: "lacp", active, fast, passiveMayPair } }) as const;

function pair(a: ReturnType<typeof lacp>, b: ReturnType<typeof lacp>): Plan {
  const net = plan().device("a", TWO).device("b", TWO).cable("a:p1", "b:p1").cable("a:p2", "b:p2");
  return net.bond("a", "pair", TWO, a).bond("b", "pair", TWO, b);
}

describe("LACP over time", () => {
  const threeSystems = plan()
    .device("a", ["p1", "p2", "p3"])
    .device("b", ["p1"])
    .device("c", TWO)
    .cable("a:p1", "b:p1")
    .cable("a:p2", "c:p1")
    .cable("a:p3", "c:p2")
    .bond("a", "all", ["p1", "p2", "p3"])
    .bond("b", "one", ["p1"])
    .bond("c", "two", TWO);

  test.each([
    ["active on both ends", pair(lacp(true, true), lacp(true, true))],
    ["active on one", pair(lacp(true, false), lacp(false, false))],
    ["passive on both, as the standard says", pair(lacp(false, false), lacp(false, false))],
    ["passive on both, as the kernel does", pair(lacp(false, true), lacp(false, true))],
    ["fast against slow", pair(lacp(true, true, true), lacp(true, true, false))],
    ["two partner systems", threeSystems],
    [
      "no partner",
      plan().device("a", TWO).host("x").host("y").cable("a:p1", "x:nic").cable("a:p2", "y:nic").bond("a", "pair", TWO),
    ],
  ])("law: started cold, bonds arrive at settle's members: %s", (_, net) => {
    const network = net.build();
    const settled = Object.fromEntries(settle(network).bonds.map(({ bond, sends }) => [bond, sends]));
    expect(run(network, 20).carriers).toEqual(settled);
  });

  test("a member carries two seconds after it has found its partner", () => {
    const network = pair(lacp(true, true), lacp(true, true)).build();
    const carrying = (seconds: number) => [...run(network, seconds).states.values()].filter(lacpCarries).length;
    expect([carrying(1.9), carrying(2.2)]).toEqual([0, 4]);
  });

  test("a partner that goes silent is given up after 3 s (fast) or 90 s (slow)", () => {
    const carries = (fast: boolean, seconds: number) =>
      run(pair(lacp(true, true, fast), lacp(true, true)).build(), seconds, 100).states;
    const members = (fast: boolean, seconds: number) =>
      ["a:p1", "a:p2"].filter((port) => lacpCarries(carries(fast, seconds).get(port) ?? DISABLED_LACP)).length;
    expect([members(true, 101.9), members(true, 103.1)]).toEqual([2, 0]);
    expect([members(false, 159), members(false, 190.1)]).toEqual([2, 0]);
  });

  test("says so by its state: current, expired for three seconds, then defaulted", () => {
    const network = pair(lacp(true, true, true), lacp(true, true)).build();
    const state = (seconds: number) => run(network, seconds, 100).states.get("a:p1")?.state;
    expect([state(101), state(104), state(107)]).toEqual(["current", "expired", "defaulted"]);
  });

  test("a link that goes down forgets its partner", () => {
    const settings: LacpSettings = {
      self: { systemPriority: 1, system: 1n, key: 1, portPriority: 1, port: 1 },
      active: true,
      fast: false,
      passiveMayPair: false,
    };
    const up = stepLacp(settings, DISABLED_LACP, { kind: "link", up: true }, 0).state;
    expect(stepLacp(settings, up, { kind: "link", up: false }, 1)).toEqual({ state: DISABLED_LACP, actions: [] });
  });
});
