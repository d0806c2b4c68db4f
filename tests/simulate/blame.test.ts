/**
 * Which line is blamed when nobody answers: the first of `decidedBy`.
 */
import { describe, expect, it } from "vitest";
import { ask, told } from "./ask.ts";
import { type PortSketch, type Sketch, type StackSketch, sketch } from "./build.ts";

type Change = {
  readonly a?: PortSketch;
  readonly b?: PortSketch;
  readonly s?: PortSketch;
  readonly t?: PortSketch;
  readonly others?: Partial<StackSketch>;
};

/** a, c --- s === t --- b, d: all of one network, VLAN 10 over a trunk. */
function office({ a, b, s, t }: Change = {}): Sketch {
  const seat = { untagged: 10 };
  const trunk = { tagged: [10, 20] };
  return sketch()
    .host("a", "10.0.10.1/24", { network: "crew" })
    .host("c", "10.0.10.3/24", { network: "crew" })
    .host("b", "10.0.10.2/24", { network: "crew" })
    .host("d", "10.0.10.4/24", { network: "crew" })
    .switch("s", { p1: a ?? seat, p2: seat, x: s ?? trunk })
    .switch("t", { p1: b ?? seat, p2: seat, x: t ?? trunk })
    .cable("a:nic", "s:p1")
    .cable("c:nic", "s:p2")
    .cable("s:x", "t:x")
    .cable("b:nic", "t:p1")
    .cable("d:nic", "t:p2");
}

function blamed(net: Sketch, from = "a", to = "10.0.10.2"): string {
  const result = ask(net.simulate(), from, to);
  return result.outcome.end === "answered" ? "nothing" : net.says(result.decidedBy[0]);
}

describe("the line that is blamed", () => {
  it("is none where everything is right", () => {
    expect(told(ask(office().simulate(), "a", "10.0.10.2"))).toBe("answered");
  });

  it.each([
    ["the near end of a trunk that lacks the network", { s: { tagged: [20] } }, "networks of s:x"],
    ["the far end of a trunk that lacks the network", { t: { tagged: [20] } }, "networks of t:x"],
    ["a far end that lacks it and does not filter", { t: { tagged: [20], filter: false } }, "networks of t:x"],
    ["the asker's port with the port VLAN left at 1", { a: { untagged: 10, portVlan: 1 } }, "port VLAN of s:p1"],
    [
      "the same where the port does not filter",
      { a: { untagged: 10, portVlan: 1, filter: false } },
      "port VLAN of s:p1",
    ],
    ["the owner's port with the port VLAN left at 1", { b: { untagged: 10, portVlan: 1 } }, "port VLAN of t:p1"],
    ["the asker's port in another network", { a: { untagged: 20 } }, "port VLAN of s:p1"],
    ["the owner's port in another network", { b: { untagged: 20 } }, "port VLAN of t:p1"],
    ["a port that refuses untagged frames", { a: { untagged: 10, admit: "tagged" } }, "admit of s:p1"],
    ["a port without a port VLAN", { a: { tagged: [10] } }, "port VLAN of s:p1"],
  ] as const)("is %s", (_name, change: Change, line) => {
    expect(blamed(office(change))).toBe(line);
  });

  it("is none of these where nobody owns the address: it is the asking itself", () => {
    expect(blamed(office(), "a", "10.0.10.99")).toBe("a neighbour");
  });

  it("is the list that lacks the device's own membership (fact 35)", () => {
    const net = (own: PortSketch) =>
      sketch()
        .host("a", "10.0.10.1/24", { network: "m" })
        .device("s", "switch", ["p1"])
        .switch("s", { p1: { untagged: 10 } }, { own })
        .stack("s", "switch", { legs: { "m@10": "10.0.10.9/24" }, on: { "m@10": "own" }, network: "m" })
        .cable("a:nic", "s:p1");
    expect(blamed(net({ tagged: [10] }), "a", "10.0.10.9")).toBe("nothing");
    expect(blamed(net({ tagged: [20] }), "a", "10.0.10.9")).toBe("networks of s:own");
  });

  it("is the rule, the route or the listener further up", () => {
    const net = (more: Partial<StackSketch>) =>
      sketch()
        .host("a", "10.0.1.1/24", { routes: ["0.0.0.0/0 via 10.0.1.9 out nic"] })
        .router("r", { legs: { one: "10.0.1.9/24", two: "10.0.2.9/24" }, ...more })
        .host("b", "10.0.2.1/24", { routes: ["0.0.0.0/0 via 10.0.2.9 out nic"] })
        .cable("a:nic", "r:one")
        .cable("r:two", "b:nic");
    expect(blamed(net({ throughElse: "drop" }), "a", "10.0.2.1")).toBe("r/through otherwise");
    expect(blamed(net({}), "a", "10.9.9.9")).toBe("r no route");
    expect(blamed(net({ routes: ["10.9.0.0/16 blackhole"] }), "a", "10.9.9.9")).toBe("r route 10.9.0.0/16 blackhole");
  });

  it("is what an interface waits for, where a stack has no address", () => {
    const net = sketch()
      .host("a", "", { awaits: { nic: "lease" } })
      .host("b", "10.0.0.2/24")
      .cable("a:nic", "b:nic");
    const result = ask(net.simulate(), "a", "10.0.0.2");
    expect([told(result), net.says(result.decidedBy[0])]).toEqual(["local-error", "a/nic awaits"]);
  });
});
