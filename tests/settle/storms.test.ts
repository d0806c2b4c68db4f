import { describe, expect, test } from "vitest";
import { settle } from "../../src/settle/index.ts";
import { type Membership, type Plan, plan } from "./plan.ts";

function two(left: readonly [Membership, Membership], right: readonly [Membership, Membership]): Plan {
  const net = plan().device("a", ["p1", "p2"]).device("b", ["p1", "p2"]);
  for (const [id, [p1, p2]] of Object.entries({ a: left, b: right })) net.bridge(id, { ports: { p1, p2 } });
  return net.cable("a:p1", "b:p1").cable("a:p2", "b:p2");
}

const access = (untagged: number): Membership => ({ untagged });
const trunk = (...tagged: number[]): Membership => ({ tagged });

describe("a loop that nothing cuts", () => {
  test("is a storm in the VLANs that both cables carry, and in no other", () => {
    const { storms } = settle(two([trunk(10, 20), trunk(20, 30)], [trunk(10, 20), trunk(20, 30)]).build());
    expect(storms).toHaveLength(1);
    expect(storms[0]?.domains).toEqual([
      { bridge: "a/bridge", vlan: 20 },
      { bridge: "b/bridge", vlan: 20 },
    ]);
  });

  test("names its ports, and the cable written last", () => {
    const network = two([access(1), access(1)], [access(1), access(1)]).build();
    const [storm] = settle(network).storms;
    expect(storm?.ports).toEqual(["a/bridge/p1", "a/bridge/p2", "b/bridge/p1", "b/bridge/p2"]);
    expect(storm?.origin).toEqual({ ...network.links[1]?.origin, through: [network.links[0]?.origin.span] });
  });

  test("two cables between different VLANs are no loop", () => {
    expect(settle(two([access(10), access(20)], [access(10), access(20)]).build()).storms).toEqual([]);
  });

  test("a ring on which the VLAN changes so that nothing comes back is none", () => {
    expect(settle(two([access(10), access(20)], [access(30), access(30)]).build()).storms).toEqual([]);
  });

  test("two ports of one device joined are a storm when they share a domain", () => {
    const joined = (a: Membership, b: Membership) =>
      plan()
        .device("a", ["p1", "p2"])
        .bridge("a", { ports: { p1: a, p2: b } })
        .cable("a:p1", "a:p2")
        .build();
    expect(settle(joined(access(10), access(10))).storms).toHaveLength(1);
    expect(settle(joined(access(10), access(20))).storms).toEqual([]);
  });

  test("two devices that each join the same two VLANs storm over one cable between them", () => {
    const joining = (...devices: readonly string[]): Plan => {
      const net = plan();
      for (const id of devices) {
        net.device(id, ["p1", "p2", "up"]);
        net.bridge(id, { ports: { p1: access(10), p2: access(20), up: trunk(10, 20) } }).cable(`${id}:p1`, `${id}:p2`);
      }
      return net;
    };
    const [storm] = settle(joining("a", "b").cable("a:up", "b:up").build()).storms;
    expect(storm?.ports).toEqual(["a", "b"].flatMap((id) => ["p1", "p2", "up"].map((port) => `${id}/bridge/${port}`)));
    expect(settle(joining("a", "b").build()).storms).toEqual([]);
  });

  test("two ports joined with different VLANs storm once another way back exists", () => {
    const net = plan()
      .device("a", ["p1", "p2", "p3", "p4"])
      .bridge("a", { ports: { p1: access(10), p2: access(20), p3: access(10), p4: access(20) } })
      .cable("a:p1", "a:p2")
      .cable("a:p3", "a:p4");
    expect(settle(net.build()).storms[0]?.domains).toEqual([
      { bridge: "a/bridge", vlan: 10 },
      { bridge: "a/bridge", vlan: 20 },
    ]);
  });

  test("an unmanaged switch on a loop drowns whole, and everything that its frames reach drowns too", () => {
    const ports = { p1: {}, p2: {}, p3: {} };
    const net = plan()
      .device("desk", Object.keys(ports), { is: "unmanaged-switch" })
      .bridge("desk", { ports, unmanaged: true })
      .device("core", ["p1", "p2"])
      .bridge("core", { ports: { p1: access(30), p2: access(30) } })
      .cable("desk:p1", "desk:p2")
      .cable("desk:p3", "core:p1");
    expect(settle(net.build()).storms[0]?.domains).toEqual([
      { bridge: "core/bridge", vlan: 30 },
      { bridge: "desk/bridge" },
    ]);
  });

  test("isolated ports close no loop", () => {
    const alone = { untagged: 1, isolation: "guests" };
    expect(settle(two([alone, alone], [access(1), access(1)]).build()).storms).toEqual([]);
  });

  test("a broken ring is none", () => {
    const network = two([access(1), access(1)], [access(1), access(1)]).build();
    expect(settle(network, { down: ["a:p2"] }).storms).toEqual([]);
  });
});
