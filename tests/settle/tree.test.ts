import { describe, expect, test } from "vitest";
import type { Network } from "../../src/network/index.ts";
import { type SettleConditions, settle } from "../../src/settle/index.ts";
import { type BridgePlan, type Membership, type Plan, plan } from "./plan.ts";

const all: Membership = { untagged: 1 };

function bridge(
  net: Plan,
  id: string,
  ports: readonly string[],
  more: Omit<BridgePlan, "ports"> & { lists?: Record<string, Membership> } = {},
): Plan {
  const { lists, ...rest } = more;
  const plans = Object.fromEntries(ports.map((port) => [port.split("@")[0] ?? "", lists?.[port] ?? all]));
  return net.device(id, ports).bridge(id, { ports: plans, ...rest });
}

function triangle(more: (id: string) => Parameters<typeof bridge>[3] = () => ({ tree: 32768 })): Plan {
  const net = plan();
  for (const id of ["a", "b", "c"]) bridge(net, id, ["p1", "p2"], more(id));
  return net.cable("a:p1", "b:p1").cable("b:p2", "c:p1").cable("c:p2", "a:p2");
}

function blocked(network: Network, conditions: SettleConditions = {}): string[] {
  return settle(network, conditions).blocked.map(({ port }) => port);
}

describe("a spanning tree", () => {
  test("cuts a triangle where the two ways to the root meet, at the higher bridge", () => {
    const settled = settle(triangle().build());
    expect(settled.blocked.map(({ port }) => port)).toEqual(["c/bridge/p1"]);
    expect(settled.storms).toEqual([]);
  });

  test("lets the blocked port forward when another link fails", () => {
    expect(blocked(triangle().build(), { down: ["a:p1--b:p1"] })).toEqual([]);
  });

  test("puts the root where the priority is lowest", () => {
    const network = triangle((id) => ({ tree: id === "c" ? 4096 : 32768 })).build();
    expect(blocked(network)).toEqual(["b/bridge/p1"]);
  });

  test("obeys costs: a dear direct link is blocked for a cheap way round", () => {
    const dear = (id: string) =>
      id === "c" ? { tree: 32768, lists: { p2: { ...all, cost: 100_000 } } } : { tree: 32768 };
    expect(blocked(triangle(dear).build())).toEqual(["c/bridge/p2"]);
  });

  test("hears a static bond on one member only: the one that hardware address and length pick (kernel fact 45)", () => {
    const twin = (hardware: bigint) => {
      const net = plan().device("a", ["p1", "p2", "p3"]).device("b", ["p1", "p2", "p3"]);
      net.cable("a:p1", "b:p1").cable("a:p2", "b:p2").cable("a:p3", "b:p3");
      net.bond("a", "pair", ["p1", "p2"], { mode: { kind: "static" }, hardware }).bond("b", "pair", ["p1", "p2"]);
      for (const id of ["a", "b"]) {
        net.bridge(id, { ports: { pair: all, p3: all }, tree: id === "a" ? 4096 : 32768 });
      }
      return blocked(net.build());
    };
    // 38 exclusive or 0: the first of two, where LACP listens without a partner; or 1: the second, where it does not.
    expect(twin(0x02_00_00_00_00_00n)).toEqual(["b/bridge/p3"]);
    expect(twin(0x02_00_00_00_00_01n)).toEqual([]);
  });

  test("counts a bond with the sum of its live members", () => {
    const net = plan();
    bridge(net, "a", ["p1", "p2", "p3@1500"], { tree: 4096 });
    bridge(net, "b", ["p1", "p2", "p3@1500"], { tree: 32768 });
    const pair = (id: string) => ({ ports: { pair: all, p3: all }, tree: id === "a" ? 4096 : 32768 });
    const bonded = plan().device("a", ["p1", "p2", "p3@1500"]).device("b", ["p1", "p2", "p3@1500"]);
    bonded.cable("a:p1", "b:p1").cable("a:p2", "b:p2").cable("a:p3", "b:p3");
    for (const id of ["a", "b"]) bonded.bond(id, "pair", ["p1", "p2"]).bridge(id, pair(id));
    expect(blocked(bonded.build())).toEqual(["b/bridge/p3"]);
    expect(blocked(bonded.build(), { down: ["a:p1"] })).toEqual(["b/bridge/pair"]);
  });

  test("of two equal links keeps the one with the lower far port", () => {
    const net = plan();
    bridge(net, "a", ["p1", "p2"], { tree: 4096 });
    bridge(net, "b", ["p1", "p2"], { tree: 32768 });
    expect(blocked(net.cable("a:p1", "b:p2").cable("a:p2", "b:p1").build())).toEqual(["b/bridge/p1"]);
  });

  test("is blind to VLANs: it may block the only cable that carries one", () => {
    const net = plan();
    bridge(net, "a", ["p1", "p2"], { tree: 4096, lists: { p1: { tagged: [10] }, p2: { tagged: [20] } } });
    bridge(net, "b", ["p1", "p2"], { tree: 32768, lists: { p1: { tagged: [10] }, p2: { tagged: [20] } } });
    expect(blocked(net.cable("a:p1", "b:p1").cable("a:p2", "b:p2").build())).toEqual(["b/bridge/p2"]);
  });

  test("a guard that hears a bridge shuts its port, and the link with it", () => {
    const net = plan();
    bridge(net, "a", ["p1"], { tree: 4096 });
    bridge(net, "b", ["p1"], { tree: 32768, lists: { p1: { ...all, guard: true } } });
    const settled = settle(net.cable("a:p1", "b:p1").build());
    expect(settled.down).toEqual(["a:p1", "a:p1--b:p1", "b:p1"]);
    expect(settled.blocked).toMatchObject([{ port: "b/bridge/p1", origin: { by: "learned", from: "spanning-tree" } }]);
  });

  test("a guard towards a host stays open", () => {
    const net = bridge(plan(), "a", ["p1"], { tree: 4096, lists: { p1: { ...all, guard: true } } });
    expect(settle(net.host("h").cable("a:p1", "h:nic").build()).down).toEqual([]);
  });
});

describe("spanning-tree frames through a bridge without a tree", () => {
  function through(more: Parameters<typeof bridge>[3]): Plan {
    const net = plan();
    bridge(net, "a", ["p1", "p2"], { tree: 4096 });
    bridge(net, "b", ["p1", "p2"], { tree: 32768 });
    bridge(net, "mid", ["p1", "p2"], more);
    return net.cable("a:p1", "mid:p1").cable("b:p1", "mid:p2").cable("a:p2", "b:p2");
  }

  test("pass where it passes them, so that the ring is cut", () => {
    const settled = settle(through({ unmanaged: true, spanningTree: "pass" }).build());
    expect(settled.blocked.map(({ port }) => port)).toEqual(["b/bridge/p2"]);
    expect(settled.choices).toEqual([]);
  });

  test("are lost where it eats them: the ring storms", () => {
    const settled = settle(through({ unmanaged: true, spanningTree: "eat" }).build());
    expect(settled.blocked).toEqual([]);
    expect(settled.storms).toHaveLength(1);
  });

  test("stay open where nobody knows, both outcomes reachable by a pick", () => {
    const network = through({ unmanaged: true, spanningTree: "unknown" }).build();
    const [choice] = settle(network).choices;
    expect(choice).toMatchObject({ id: "mid/bridge/spanning-tree", options: ["pass", "eat"] });
    expect(settle(network).storms).toEqual([]);
    const picks = [{ choice: "mid/bridge/spanning-tree", option: "eat" }];
    expect(settle(network, { picks }).storms).toHaveLength(1);
  });

  test("an unknown habit that leads to one bridge only is no choice", () => {
    const net = plan();
    bridge(net, "a", ["p1"], { tree: 4096 });
    bridge(net, "mid", ["p1", "p2"], { unmanaged: true, spanningTree: "unknown" });
    expect(settle(net.host("h").cable("a:p1", "mid:p1").cable("mid:p2", "h:nic").build()).choices).toEqual([]);
  });

  test("are dropped where it has no port VLAN for them", () => {
    const trunk: Membership = { tagged: [10] };
    const settled = settle(through({ lists: { p1: trunk, p2: trunk } }).build());
    expect(settled.blocked).toEqual([]);
  });
});
