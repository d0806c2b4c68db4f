import { describe, expect, test } from "vitest";
import { rangeOf } from "../../src/address/index.ts";
import type { Network } from "../../src/network/index.ts";
import { domainMapOf, endId, plantOf, reachOf, settle, takerOf } from "../../src/settle/index.ts";
import { type Membership, plan } from "./plan.ts";

const access = (untagged: number): Membership => ({ untagged });
const trunk = (...tagged: number[]): Membership => ({ tagged });

/** Interfaces that hear a broadcast of an interface. */
function heard(network: Network, from: string, picks: { choice: string; option: string }[] = []): string[] {
  const settled = settle(network, { picks });
  const stack = plantOf(network).legs.get(from)?.stack.id ?? "";
  const start = { at: { kind: "interface", stack, interface: from } as const, domain: 0 };
  const { points } = reachOf(domainMapOf(network, settled), start);
  return points.slice(1).flatMap(({ at }) => (at.kind === "interface" ? [at.interface] : []));
}

function twoSwitches(left: Membership, right: Membership) {
  return plan()
    .device("a", ["h", "up"])
    .device("b", ["up", "h"])
    .bridge("a", { ports: { h: access(10), up: left } })
    .bridge("b", { ports: { up: right, h: access(10) } })
    .host("x")
    .host("y")
    .cable("x:nic", "a:h")
    .cable("a:up", "b:up")
    .cable("b:h", "y:nic");
}

describe("broadcast domains", () => {
  test("reach across a trunk that carries the VLAN on both ends", () => {
    expect(heard(twoSwitches(trunk(10), trunk(10)).build(), "x/nic")).toEqual(["y/nic"]);
  });

  test("end at the trunk that lacks it, and blame the list that lacks it", () => {
    for (const [left, right, end] of [
      [trunk(20), trunk(10), "a/bridge/up"],
      [trunk(10), trunk(20), "b/bridge/up"],
    ] as const) {
      const network = twoSwitches(left, right).build();
      expect(heard(network, "x/nic")).toEqual([]);
      const settled = settle(network);
      const start = { at: { kind: "interface", stack: "x", interface: "x/nic" } as const, domain: 0 };
      const { stopped } = reachOf(domainMapOf(network, settled), start);
      const blamed = plantOf(network).places.get(end)?.port.otherwise;
      expect(stopped.map(({ origin }) => origin)).toEqual([blamed]);
    }
  });

  test("change number where an untagged link joins different port VLANs", () => {
    expect(heard(twoSwitches(access(10), access(10)).build(), "x/nic")).toEqual(["y/nic"]);
    const crossed = plan()
      .device("a", ["h", "up"])
      .device("b", ["up", "h"])
      .bridge("a", { ports: { h: access(10), up: access(10) } })
      .bridge("b", { ports: { up: access(20), h: access(20) } })
      .host("x")
      .host("y")
      .cable("x:nic", "a:h")
      .cable("a:up", "b:up")
      .cable("b:h", "y:nic");
    expect(heard(crossed.build(), "x/nic")).toEqual(["y/nic"]);
  });

  test("of many VLANs that leave untagged all become the far port VLAN", () => {
    const network = plan()
      .device("a", ["up"])
      .device("b", ["up"])
      .bridge("a", { ports: { up: access(10) } })
      .bridge("b", { ports: { up: access(10) } })
      .cable("a:up", "b:up")
      .build();
    const [port] = network.bridges[0]?.ports ?? [];
    const wide = { ...port, members: [{ ...port?.members[0], vlans: rangeOf(10n, 20n) }] };
    const changed = { ...network, bridges: [{ ...network.bridges[0], ports: [wide] }, network.bridges[1]] } as Network;
    const crossings = [...domainMapOf(changed, settle(changed)).from.values()].flat();
    const out = crossings.find(({ from }) => endId(from) === "a/bridge/up");
    expect(out?.passes).toMatchObject([{ domains: rangeOf(10n, 20n), wire: "untagged", becomes: 10 }]);
    expect(out?.stops).toMatchObject([
      {
        domains: [
          [1n, 9n],
          [21n, 4094n],
        ],
        reason: "not-member",
      },
    ]);
  });

  test("pass an unmanaged switch with their tags", () => {
    const network = plan()
      .device("a", ["h", "up"])
      .device("mid", ["p1", "p2"])
      .device("b", ["up", "h"])
      .bridge("a", { ports: { h: access(10), up: trunk(10) } })
      .bridge("mid", { ports: { p1: {}, p2: {} }, unmanaged: true })
      .bridge("b", { ports: { up: trunk(10), h: access(10) } })
      .host("x")
      .host("y")
      .cable("x:nic", "a:h")
      .cable("a:up", "mid:p1")
      .cable("mid:p2", "b:up")
      .cable("b:h", "y:nic");
    expect(heard(network.build(), "x/nic")).toEqual(["y/nic"]);
  });

  test("reach the device itself only over its own membership", () => {
    const router = (own: Membership) =>
      plan()
        .device("r", ["h"])
        .bridge("r", { ports: { h: access(10) }, own })
        .stack("r", { lan: { on: "r/bridge/own", vlan: 10, address: "10.0.0.1/24" } })
        .host("x")
        .cable("x:nic", "r:h")
        .build();
    expect(heard(router(trunk(10)), "x/nic")).toEqual(["r/lan"]);
    expect(heard(router(trunk(20)), "x/nic")).toEqual([]);
    expect(heard(router(trunk(10)), "r/lan")).toEqual(["x/nic"]);
  });

  test("keep isolated ports apart but lead them to the others", () => {
    const alone = { untagged: 1, isolation: "guests" };
    const network = plan()
      .device("s", ["p1", "p2", "p3"])
      .bridge("s", { ports: { p1: alone, p2: alone, p3: access(1) } })
      .host("x")
      .host("y")
      .host("z")
      .cable("x:nic", "s:p1")
      .cable("y:nic", "s:p2")
      .cable("z:nic", "s:p3")
      .build();
    expect(heard(network, "x/nic")).toEqual(["z/nic"]);
    expect(heard(network, "z/nic")).toEqual(["x/nic", "y/nic"]);
  });

  test("let a tag in that the port is no member of, where the port does not filter", () => {
    const open = plan()
      .device("a", ["h", "up"])
      .device("b", ["up", "h"])
      .bridge("a", { ports: { h: access(10), up: trunk(10) } })
      .bridge("b", { ports: { up: { filter: false }, h: access(10) } })
      .host("x")
      .host("y")
      .cable("x:nic", "a:h")
      .cable("a:up", "b:up")
      .cable("b:h", "y:nic")
      .build();
    expect(heard(open, "x/nic")).toEqual(["y/nic"]);
    expect(heard(open, "y/nic")).toEqual([]);
  });

  test("stations whose links meet in one radio port hear one another", () => {
    const radio = { kind: "radio" } as const;
    const network = plan()
      .device("loft", ["air"], { is: "access-point" })
      .bridge("loft", { ports: { air: access(1) } })
      .host("x")
      .host("y")
      .cable("x:nic", "loft:air", radio)
      .cable("y:nic", "loft:air", radio)
      .build();
    expect(heard(network, "x/nic")).toEqual(["y/nic"]);
  });

  test("follow the member that a pick holds a bond to", () => {
    const network = plan()
      .device("a", ["p1", "p2"], { is: "host" })
      .bond("a", "pair", ["p1", "p2"], { mode: { kind: "static" } })
      .stack("a", { pair: { on: "a:pair" } })
      .host("x")
      .host("y")
      .cable("a:p1", "x:nic")
      .cable("a:p2", "y:nic")
      .build();
    const pick = (option: string) => [{ choice: "a:pair/member", option }];
    expect(heard(network, "a/pair", pick("a:p1"))).toEqual(["x/nic"]);
    expect(heard(network, "a/pair", pick("a:p2"))).toEqual(["y/nic"]);
  });
});

describe("who takes a frame on an attachment", () => {
  const network = plan()
    .device("r", ["p1", "p2", "p3"])
    .bond("r", "pair", ["p2", "p3"])
    .bridge("r", { ports: { p1: access(1) } })
    .stack("r", { ten: { on: "r:p1", vlan: 10 }, plain: { on: "r:p1" }, pair: { on: "r:pair" } })
    .build();
  const taker = (attachment: string, tag: number) => {
    const found = takerOf(plantOf(network), attachment, tag);
    return found.kind === "interface" ? found.interface.id : found.kind;
  };

  test("the bond of a member, an interface with the tag, then the bridge, then an untagged interface (kernel fact 36)", () => {
    expect(taker("r:p2", 0)).toBe("bond");
    expect(taker("r:p1", 10)).toBe("r/ten");
    expect(taker("r:p1", 20)).toBe("bridge");
    expect(taker("r:p1", 0)).toBe("bridge");
    expect(taker("r:pair", 0)).toBe("r/pair");
    expect(taker("r:pair", 5)).toBe("nobody");
  });
});
