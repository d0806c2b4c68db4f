import fc from "fast-check";
import { describe, expect, test } from "vitest";
import type { Bridge, Network } from "../../src/network/index.ts";
import {
  defaultPathCost,
  newTree,
  stepTree,
  type TreeMachineAction,
  type TreeMachineEvent,
  type TreeMachineSettings,
  type TreeMachineState,
  treePortNumber,
  treeWakeMs,
} from "../../src/protocol/index.ts";
import { settle } from "../../src/settle/index.ts";
import { plan } from "../settle/plan.ts";
import { runUntil, type Station } from "./event-loop.ts";

const TIMES = { helloSeconds: 2, maxAgeSeconds: 20, forwardDelaySeconds: 15 };

function settingsOf(bridge: Bridge): TreeMachineSettings {
  const ports = bridge.ports.map((port, index) => {
    const stated = bridge.tree?.ports.find((candidate) => candidate.port === port.id);
    const number = treePortNumber(stated?.priority ?? 128, index + 1);
    return {
      port: port.on,
      number,
      cost: stated?.cost ?? defaultPathCost(1000),
      edge: stated?.edge ?? false,
      guard: false,
    };
  });
  return { self: { priority: bridge.tree?.priority ?? 32768, hardware: bridge.hardware }, ports, ...TIMES };
}

/** Runs the bridges of a network over its cables and answers their states at the end. */
function run(network: Network, endSeconds: number, cut?: { readonly link: string; readonly atSeconds: number }) {
  const states = new Map<string, TreeMachineState>();
  const stations = new Map<string, Station<TreeMachineEvent, TreeMachineAction>>();
  for (const bridge of network.bridges) {
    const settings = settingsOf(bridge);
    states.set(bridge.device, newTree(settings));
    const state = () => states.get(bridge.device) ?? newTree(settings);
    stations.set(bridge.device, {
      step: (event, nowMs) => {
        const result = stepTree(settings, state(), event, nowMs);
        states.set(bridge.device, result.state);
        return result.actions;
      },
      wakeMs: () => treeWakeMs(state()),
    });
  }
  const far = new Map(network.links.flatMap(({ ends: [a, b] }) => [[a, b] as const, [b, a] as const]));
  const device = (port: string) => port.split(":")[0] ?? "";
  const up = [...far.keys()].map((port) => [device(port), { kind: "link", port, up: true }] as const);
  let isCut = false;
  const isDead = (port: string) =>
    isCut && network.links.some(({ id, ends }) => id === cut?.link && ends.includes(port));
  const downs = network.links
    .filter(({ id }) => id === cut?.link)
    .flatMap(({ ends }) => ends.map((port) => [device(port), { kind: "link", port, up: false }] as const));
  if (cut) {
    stations.set("cutter", {
      step: () => {
        isCut = true;
        return [{ do: "age", fast: false, seconds: 15 }];
      },
      wakeMs: () => (isCut ? undefined : cut.atSeconds * 1000),
    });
  }
  const carry = (station: string, action: TreeMachineAction): [string, TreeMachineEvent][] => {
    if (station === "cutter") return downs.map(([name, event]) => [name, event]);
    const port = action.do === "send" && !isDead(action.port) ? far.get(action.port) : undefined;
    return action.do === "send" && port ? [[device(port), { kind: "received", port, bpdu: action.bpdu }]] : [];
  };
  runUntil(stations, { kind: "timer" }, up, carry, endSeconds * 1000);
  return states;
}

function inPhase(states: ReadonlyMap<string, TreeMachineState>, phase: string): string[] {
  return [...states.values()]
    .flatMap(({ ports }) => ports.filter((port) => port.phase === phase).map(({ port }) => port))
    .sort();
}

function ring(): Network {
  const net = plan();
  for (const id of ["a", "b", "c"]) {
    net.device(id, ["p1", "p2"]).bridge(id, { ports: { p1: { untagged: 1 }, p2: { untagged: 1 } }, tree: 32768 });
  }
  return net.cable("a:p1", "b:p1").cable("b:p2", "c:p1").cable("c:p2", "a:p2").build();
}

describe("a spanning tree over time", () => {
  test("forwards after twice the forward delay, not before (kernel fact 46)", () => {
    expect(inPhase(run(ring(), 29.9), "forwarding")).toEqual([]);
    expect(inPhase(run(ring(), 31), "forwarding")).toHaveLength(5);
  });

  test("an edge port forwards at once", () => {
    const net = plan()
      .device("a", ["p1"])
      .bridge("a", { ports: { p1: { untagged: 1, edge: true } }, tree: 32768 });
    expect(inPhase(run(net.host("x").cable("a:p1", "x:nic").build(), 1), "forwarding")).toEqual(["a:p1"]);
  });

  test("after carrier loss on the root link the blocked port takes over within twice the forward delay", () => {
    const states = run(ring(), 60 + 32, { link: "c:p2--a:p2", atSeconds: 60 });
    expect(inPhase(states, "forwarding")).toEqual(["a:p1", "b:p1", "b:p2", "c:p1"]);
  });

  test("a change is told to everyone, and forgotten after max age and forward delay", () => {
    const flagged = (seconds: number) =>
      [...run(ring(), 60 + seconds, { link: "c:p2--a:p2", atSeconds: 60 }).values()].map(({ agesFast }) => agesFast);
    expect(flagged(36)).toEqual([true, true, true]);
    expect(flagged(36 + 35 + 5)).toEqual([false, false, false]);
  });

  test("a bridge that has lost the root is not believed before its former word is old, and times are the root's", () => {
    const port = { port: "a:p1", number: 1, cost: 4, edge: false, guard: false };
    const settings = { self: { priority: 32768, hardware: 3n }, ports: [port], ...TIMES };
    const word = (root: bigint, maxAge: number): TreeMachineEvent => {
      const [first, second] = [root, 2n].map((hardware) => ({ priority: 32768, hardware }));
      if (first === undefined || second === undefined) throw new Error("there are two");
      const times = { messageAge: 0, maxAge: maxAge * 256, helloTime: 512, forwardDelay: 6 * 256 };
      const bpdu = {
        kind: "config",
        flags: 0,
        root: first,
        rootPathCost: 4,
        bridge: second,
        port: 1,
        ...times,
      } as const;
      return { kind: "received", port: "a:p1", bpdu };
    };
    const up = stepTree(settings, newTree(settings), { kind: "link", port: "a:p1", up: true }, 0).state;
    const heard = stepTree(settings, up, word(1n, 10), 0).state;
    expect(heard.rootTimes).toEqual({ helloSeconds: 2, maxAgeSeconds: 10, forwardDelaySeconds: 6 });
    const lost = stepTree(settings, heard, word(2n, 10), 1000).state;
    expect(lost).toEqual(heard);
    expect(stepTree(settings, heard, word(1n, 10), 1000).state.ports).not.toEqual(heard.ports);
  });

  test("a guard shuts its port at the first frame of a tree", () => {
    const port = { port: "a:p1", number: 1, cost: 4, edge: true, guard: true };
    const settings = { self: { priority: 32768, hardware: 1n }, ports: [port], ...TIMES };
    const up = stepTree(settings, newTree(settings), { kind: "link", port: "a:p1", up: true }, 0).state;
    const told = stepTree(settings, up, { kind: "received", port: "a:p1", bpdu: { kind: "topology-change" } }, 1);
    expect(told.actions).toContainEqual({ do: "shut", port: "a:p1" });
    expect(told.state.ports).toEqual([{ port: "a:p1", phase: "disabled" }]);
  });
});

test("law: started cold, bridges arrive at settle's tree", () => {
  const PORTS = 5;
  const net = fc.record({
    bridges: fc.array(fc.record({ tree: fc.constantFrom(4096, 32768), cost: fc.constantFrom(undefined, 5, 20_000) }), {
      minLength: 2,
      maxLength: 5,
    }),
    cables: fc.array(fc.tuple(fc.nat(4), fc.nat(4)), { maxLength: 8 }),
  });
  fc.assert(
    fc.property(net, ({ bridges, cables }) => {
      const built = plan();
      const names = Array.from({ length: PORTS }, (_, index) => `p${index}`);
      for (const [index, { tree, cost }] of bridges.entries()) {
        const list = { untagged: 1, ...(cost === undefined ? {} : { cost }) };
        built
          .device(`b${index}`, names)
          .bridge(`b${index}`, { ports: Object.fromEntries(names.map((name) => [name, list])), tree });
      }
      const free = bridges.map(() => [...names]);
      for (const [a, b] of cables) {
        const [from, to] = [a % bridges.length, b % bridges.length];
        const left = from === to ? undefined : free[from]?.shift();
        const right = left === undefined ? undefined : free[to]?.shift();
        if (left !== undefined && right !== undefined) built.cable(`b${from}:${left}`, `b${to}:${right}`);
      }
      const network = built.build();
      const settled = settle(network);
      const blocked = settled.blocked.map(({ port }) => port.replace("/bridge/", ":")).sort();
      expect(inPhase(run(network, 90), "blocking")).toEqual(blocked);
      expect(settled.storms).toEqual([]);
    }),
    { seed: 71, numRuns: 60 },
  );
});
