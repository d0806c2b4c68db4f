/**
 * Published values of bridging and of the spanning tree. Standards whose text was not at hand are marked "from memory" or
 * with the page that repeats them; `[D]` is worked out from a rule. Numbers are those of the project's catalogue.
 */
import { describe, expect, test } from "vitest";
import type { Network } from "../../src/network/index.ts";
import { defaultPathCost } from "../../src/protocol/index.ts";
import { settle } from "../../src/settle/index.ts";
import { device, load } from "../document/support.ts";
import { type Plan, plan } from "../settle/plan.ts";
import { siteOf } from "../support/site.ts";

const RFC = { profile: "rfc" } as const;

describe("L8: reserved group addresses are not forwarded, IEEE 802.1Q section 8.6.3 (802.1AX types YANG module)", () => {
  const through = (tree: boolean): Network => {
    const ports = { p1: { untagged: 1 }, p2: { untagged: 1 } };
    const net = plan().device("a", ["p1", "p2"], RFC).device("mid", ["p1", "p2"], RFC).device("b", ["p1", "p2"], RFC);
    net.bridge("mid", { ports, ...(tree ? { tree: 32768 } : { spanningTree: "eat" }) });
    return net
      .bond("a", "one", ["p1"])
      .bond("b", "one", ["p1"])
      .cable("a:p1", "mid:p1")
      .cable("mid:p2", "b:p1")
      .build();
  };

  test("-02: LACP finds no partner behind a bridge", () => {
    for (const tree of [true, false]) {
      const wanted = settle(through(tree)).bonds.map(({ origin }) => origin);
      expect(wanted).toMatchObject([{ by: "absent" }, { by: "absent" }]);
    }
  });

  test("-00: a bridge with a tree takes part in it and passes no frame of it on", () => {
    // Three bridges in a row and no ring: were the middle one transparent, its neighbours would hear one another.
    const net = plan();
    for (const id of ["a", "mid", "b"]) {
      const guard = id !== "mid";
      net
        .device(id, ["p1", "p2"], RFC)
        .bridge(id, { ports: { p1: { untagged: 1, guard }, p2: { untagged: 1 } }, tree: 32768 });
    }
    const settled = settle(net.cable("a:p1", "mid:p1").cable("mid:p2", "b:p1").build());
    expect(settled.blocked.map(({ port }) => port)).toEqual(["a/bridge/p1", "b/bridge/p1"]);
  });
});

describe("L9: settings, RFC 4188", () => {
  const told = (settings: string) => {
    const text = device(`switching: { ports: { p1: off }, spanning-tree: { ${settings} } }`);
    return load(text)
      .diagnostics.map(({ labels }) => labels[0]?.span)
      .map((span) => span && text.slice(span.start, span.end));
  };

  test("dot1dStpPriority: 0 to 61440 in steps of 4096", () => {
    for (const good of ["0", "4096", "32768", "61440"]) expect(told(`priority: ${good}`)).toEqual([]);
    for (const bad of ["1", "4097", "65536"]) expect(told(`priority: ${bad}`)).toEqual([bad]);
  });

  test("dot1dStpPortPriority: 0 to 240 in steps of 16", () => {
    for (const good of ["0", "16", "240"]) expect(told(`port-priorities: { p1: ${good} }`)).toEqual([]);
    for (const bad of ["8", "241", "256"]) expect(told(`port-priorities: { p1: ${bad} }`)).toEqual([bad]);
  });

  test("dot1dStpPortPathCost32: 1 to 200 000 000", () => {
    for (const good of ["1", "200000000"]) expect(told(`costs: { p1: ${good} }`)).toEqual([]);
    for (const bad of ["0", "200000001"]) expect(told(`costs: { p1: ${bad} }`)).toEqual([bad]);
  });
});

describe("L10: timers, RFC 4188 for the ranges; IEEE 802.1D for the defaults (from memory)", () => {
  const isGood = (settings: string) =>
    load(device(`switching: { ports: { p1: off }, spanning-tree: { ${settings} } }`)).diagnostics.length === 0;

  test.each([
    ["hello", 1, 10],
    ["max-age", 6, 40],
    ["forward-delay", 4, 30],
  ])("%s is %d to %d seconds", (key, low, high) => {
    expect([low - 1, low, high, high + 1].map((seconds) => isGood(`${key}: ${seconds}s`))).toEqual([
      false,
      true,
      true,
      false,
    ]);
  });

  test("are 2, 20 and 15 seconds by default, and fit: 2 x (15 - 1) >= 20 >= 2 x (2 + 1)", () => {
    const site = siteOf("devices: { core: { is: switch, ports: { p1: 1G } } }", device("").replace("edge", "core"));
    const tree = site.devices[0]?.bridge?.tree;
    const [hello, age, delay] = [tree?.helloSeconds, tree?.maxAgeSeconds, tree?.forwardDelaySeconds].map(
      (one) => one?.value ?? 0,
    );
    expect([hello, age, delay]).toEqual([2, 20, 15]);
    expect(2 * ((delay ?? 0) - 1)).toBeGreaterThanOrEqual(age ?? 0);
    expect(age).toBeGreaterThanOrEqual(2 * ((hello ?? 0) + 1));
  });
});

describe("L11: path cost 20 Tb/s / rate, IEEE 802.1D-2004 table 17-3 (from memory; several pages agree)", () => {
  test.each([
    [10, 2_000_000],
    [100, 200_000],
    [1_000, 20_000],
    [2_000, 10_000],
    [10_000, 2_000],
    [100_000, 200],
    [1_000_000, 20],
    [10_000_000, 2],
  ])("%d Mb/s costs %d", (rateMbps, cost) => {
    expect(defaultPathCost(rateMbps)).toBe(cost);
  });
});

describe("L12: the costs of IEEE 802.1D-1998 (from memory; several pages agree), stated", () => {
  // 100 at 10 Mb/s, 19 at 100 Mb/s, 4 at 1 Gb/s, 2 at 10 Gb/s: four hops of 1 Gb/s cost less than one of 100 Mb/s, five more.
  test.each([
    [4, "d/bridge/far"],
    [5, "d/bridge/near"],
  ])("over %d hops of cost 4 against one of 19, the port blocked is %s [D]", (hops, blocked) => {
    const net = plan();
    const names = ["a", ...["b", "c", "e", "f"].slice(0, hops - 1), "d"];
    for (const [index, id] of names.entries()) {
      const port = (cost: number) => ({ untagged: 1, cost });
      net.device(id, ["near", "far", "slow"], RFC);
      net.bridge(id, { ports: { near: port(4), far: port(id === "d" ? 19 : 4) }, tree: index === 0 ? 4096 : 32768 });
    }
    for (const [index, id] of names.slice(1).entries())
      net.cable(`${names[index]}:${index === 0 ? "near" : "far"}`, `${id}:near`);
    const [block] = settle(net.cable("a:far", "d:far").build()).blocked;
    expect(block?.port).toBe(blocked);
  });
});

describe("L13: the election, IEEE 802.1D (rule from memory, values derived)", () => {
  /** B1 and B2 of priority 32768, B3 of 4096, addresses 00-00-5E-00-53-01 to -03, each joined to each at 1 Gb/s. */
  function triangle(priorities: readonly number[], only?: readonly string[]): Plan {
    const net = plan();
    for (const [index, priority] of priorities.entries()) {
      const ports = { p1: { untagged: 1 }, p2: { untagged: 1 } };
      net.device(`b${index + 1}`, ["p1", "p2"], RFC).bridge(`b${index + 1}`, { ports, tree: priority });
    }
    const cables = [
      ["b1:p1", "b2:p1"],
      ["b2:p2", "b3:p1"],
      ["b3:p2", "b1:p2"],
    ] as const;
    for (const [a, b] of cables) if (!only || only.includes(a)) net.cable(a, b);
    return net;
  }

  function withAddresses(network: Network): Network {
    const bridges = network.bridges.map((bridge, index) => ({ ...bridge, hardware: 0x00005e005301n + BigInt(index) }));
    return { ...network, bridges };
  }

  test("the root is the lowest priority, then the lowest address; B2 blocks its port towards B1, whose id is lower", () => {
    const settled = settle(withAddresses(triangle([32768, 32768, 4096]).build()));
    expect(settled.blocked.map(({ port }) => port)).toEqual(["b2/bridge/p1"]);
  });

  test("of equal priorities the lowest address is the root: B3 blocks its port towards B2", () => {
    const settled = settle(withAddresses(triangle([32768, 32768, 32768]).build()));
    expect(settled.blocked.map(({ port }) => port)).toEqual(["b3/bridge/p1"]);
  });

  test("a chain blocks nothing", () => {
    expect(settle(withAddresses(triangle([32768, 32768, 4096], ["b1:p1", "b2:p2"]).build())).blocked).toEqual([]);
  });
});
