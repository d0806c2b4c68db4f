import { describe, expect, test } from "vitest";
import { settle } from "../../src/settle/index.ts";
import { type Plan, plan } from "./plan.ts";

const TWO = ["p1", "p2"];
const STATIC = { mode: { kind: "static" } } as const;
const BACKUP = { mode: { kind: "active-backup" } } as const;
const passive = (passiveMayPair: boolean) =>
  ({ mode: { kind: "lacp", active: false, fast: false, passiveMayPair } }) as const;

function twoDevices(): Plan {
  return plan().device("a", TWO).device("b", TWO).cable("a:p1", "b:p1").cable("a:p2", "b:p2");
}

function carries(net: Plan, down: readonly string[] = []): Record<string, readonly string[]> {
  return Object.fromEntries(settle(net.build(), { down }).bonds.map(({ bond, sends }) => [bond, sends]));
}

describe("bonds", () => {
  test("LACP on both ends carries on all members, and on the rest when one fails", () => {
    const net = twoDevices().bond("a", "pair", TWO).bond("b", "pair", TWO);
    expect(carries(net)).toEqual({ "a:pair": ["a:p1", "a:p2"], "b:pair": ["b:p1", "b:p2"] });
    expect(carries(net, ["a:p1"])).toEqual({ "a:pair": ["a:p2"], "b:pair": ["b:p2"] });
    expect(settle(net.build()).choices).toEqual([]);
  });

  test("what took over for a lost member goes on when it comes back (kernel facts 40 and 43)", () => {
    const backup = twoDevices().bond("a", "pair", TWO, BACKUP).bond("b", "pair", TWO, BACKUP).build();
    const alone = twoDevices().bond("a", "pair", TWO).build();
    for (const network of [backup, alone]) {
      const lost = settle(network, { down: ["a:p1"] });
      expect(lost.bonds[0]?.sends).toEqual(["a:p2"]);
      expect(settle(network, { before: lost }).bonds[0]?.sends).toEqual(["a:p2"]);
      expect(settle(network).bonds[0]?.sends).toEqual(["a:p1"]);
      expect(settle(network, { before: lost, down: ["a:p2"] }).bonds[0]?.sends).toEqual(["a:p1"]);
    }
  });

  test("a group with a partner that carried stays while any of it lives, a greater one beside it or not", () => {
    const between = plan().device("a", ["p1", "p2", "p3"]).device("b", ["p1"]).device("c", TWO);
    const network = between
      .cable("a:p1", "b:p1")
      .cable("a:p2", "c:p1")
      .cable("a:p3", "c:p2")
      .bond("a", "all", ["p1", "p2", "p3"])
      .bond("b", "pair", ["p1"])
      .bond("c", "pair", TWO)
      .build();
    const lost = settle(network, { down: ["a:p2", "a:p3"] });
    expect(settle(network).bonds[0]?.sends).toEqual(["a:p2", "a:p3"]);
    expect(lost.bonds[0]?.sends).toEqual(["a:p1"]);
    expect(settle(network, { before: lost }).bonds[0]?.sends).toEqual(["a:p1"]);
  });

  test("LACP against a static bond: one member against two (kernel fact 41)", () => {
    const settled = settle(twoDevices().bond("a", "pair", TWO).bond("b", "pair", TWO, STATIC).build());
    expect(settled.bonds).toMatchObject([
      { bond: "a:pair", sends: ["a:p1"], takes: ["a:p1"] },
      { bond: "b:pair", sends: ["b:p1", "b:p2"], takes: ["b:p1", "b:p2"] },
    ]);
    const options = ["b:p1", "b:p2"];
    expect(settled.choices).toMatchObject([{ kind: "bond-member", id: "b:pair/member", options }]);
  });

  test("a bond with too few members for its minimum carries on none, and the minimum is named", () => {
    const minimum = { members: 2, origin: { by: "written", span: { file: 0, start: 7, end: 8 } } } as const;
    const net = twoDevices().bond("a", "pair", TWO, { minimum }).bond("b", "pair", TWO);
    expect(carries(net)).toEqual({ "a:pair": ["a:p1", "a:p2"], "b:pair": ["b:p1", "b:p2"] });
    expect(carries(net, ["b:p2"])).toMatchObject({ "a:pair": [] });
    const settled = settle(net.build(), { down: ["b:p2"] });
    expect(settled.bonds[0]?.origin).toEqual(minimum.origin);
    expect(settled.down).toContain("a:pair");
    const backup = twoDevices().bond("a", "pair", TWO, { ...BACKUP, minimum });
    expect(carries(backup)).toEqual({ "a:pair": ["a:p1"] });
    expect(carries(backup, ["b:p1"])).toEqual({ "a:pair": [] });
  });

  test("the static end is named as the reason", () => {
    const network = twoDevices().bond("a", "pair", TWO).bond("b", "pair", TWO, STATIC).build();
    expect(settle(network).bonds[0]?.origin).toEqual(network.bonds[1]?.origin);
  });

  test("LACP without any partner: the first live member, or none, as it is set (kernel fact 40)", () => {
    expect(carries(twoDevices().bond("a", "pair", TWO))).toEqual({ "a:pair": ["a:p1"] });
    expect(carries(twoDevices().bond("a", "pair", TWO), ["b:p1"])).toEqual({ "a:pair": ["a:p2"] });
    const none = twoDevices().bond("a", "pair", TWO, { alone: "none" });
    expect(carries(none)).toEqual({ "a:pair": [] });
    expect(settle(none.build()).down).toEqual(["a:pair"]);
  });

  test("plain ports where a partner should be are named as absent", () => {
    const origin = settle(twoDevices().bond("a", "pair", TWO).build()).bonds[0]?.origin;
    expect(origin).toMatchObject({ by: "absent", wanted: "a bond by LACP that holds `b:p1`" });
  });

  test("two partner systems: one group carries, the other's bond keeps carrier (kernel fact 40)", () => {
    const net = plan()
      .device("a", ["p1", "p2", "p3"])
      .device("b", ["p1"])
      .device("c", TWO)
      .cable("a:p1", "b:p1")
      .cable("a:p2", "c:p1")
      .cable("a:p3", "c:p2")
      .bond("a", "all", ["p1", "p2", "p3"])
      .bond("b", "one", ["p1"])
      .bond("c", "two", TWO);
    const expected = { "a:all": ["a:p2", "a:p3"], "b:one": ["b:p1"], "c:two": ["c:p1", "c:p2"] };
    expect(carries(net)).toEqual(expected);
  });

  test("members of unequal rates do not aggregate: the greater sum carries", () => {
    const net = plan()
      .device("a", ["p1", "p2@10000"])
      .device("b", ["p1", "p2@10000"])
      .cable("a:p1", "b:p1")
      .cable("a:p2", "b:p2")
      .bond("a", "pair", TWO)
      .bond("b", "pair", TWO);
    expect(carries(net)).toEqual({ "a:pair": ["a:p2"], "b:pair": ["b:p2"] });
  });

  test("LACP never passes a switch", () => {
    const all = { p1: {}, p2: {}, p3: {}, p4: {} };
    const net = plan()
      .device("a", TWO)
      .device("mid", Object.keys(all), { is: "unmanaged-switch" })
      .device("b", TWO)
      .bridge("mid", { ports: all, unmanaged: true })
      .cable("a:p1", "mid:p1")
      .cable("a:p2", "mid:p2")
      .cable("mid:p3", "b:p1")
      .cable("mid:p4", "b:p2")
      .bond("a", "pair", TWO)
      .bond("b", "pair", TWO);
    expect(carries(net)).toEqual({ "a:pair": ["a:p1"], "b:pair": ["b:p1"] });
  });

  test("a bond whose members are joined to one another has no partner", () => {
    const net = plan().device("a", TWO).cable("a:p1", "a:p2").bond("a", "pair", TWO, { alone: "none" });
    expect(carries(net)).toEqual({ "a:pair": [] });
  });

  test("two passive ends pair only where the kernel's do (kernel fact 42)", () => {
    const both = (may: boolean) =>
      twoDevices().bond("a", "pair", TWO, passive(may)).bond("b", "pair", TWO, passive(may));
    expect(carries(both(true))["a:pair"]).toHaveLength(2);
    expect(carries(both(false))["a:pair"]).toHaveLength(1);
  });

  test("active-backup sends and takes on its first live member (kernel fact 43)", () => {
    const net = twoDevices().bond("a", "pair", TWO, BACKUP);
    expect(carries(net)).toEqual({ "a:pair": ["a:p1"] });
    expect(carries(net, ["b:p1"])).toEqual({ "a:pair": ["a:p2"] });
  });

  test("a static bond against two plain ports of one switch may use either (kernel fact 44)", () => {
    const net = twoDevices()
      .bond("a", "pair", TWO, STATIC)
      .bridge("b", { ports: { p1: { untagged: 1 }, p2: { untagged: 1 } } });
    expect(settle(net.build()).choices).toMatchObject([{ id: "a:pair/member", options: ["a:p1", "a:p2"] }]);
    expect(settle(net.build()).storms).toEqual([]);
  });
});
