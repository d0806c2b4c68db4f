/** The order in which cables are made: what a kernel lists first is what came first. */
import { describe, expect, it } from "vitest";
import { inMakingOrder } from "../../src/kernel/making.ts";
import type { CableEnd, CablePlan } from "../../src/kernel/plan.ts";

/** `one:a two:b`; with one end the cable is loose. */
function cable(text: string): CablePlan {
  const [first, second] = text.split(" ").map(endOf);
  if (first === undefined) throw new Error("a cable without an end");
  return { ends: [first, second] };
}

function endOf(text: string): CableEnd {
  const [device = "", name = ""] = text.split(":");
  return { device, name, hardware: 0n, mtu: 1500 };
}

/** The cables in the order in which they are made, told as they were given. */
function made(cables: readonly string[], wanted: Readonly<Record<string, readonly string[]>>): readonly string[] {
  return inMakingOrder(cables.map(cable), new Map(Object.entries(wanted))).map(({ ends }) =>
    ends.flatMap((end) => (end === undefined ? [] : [`${end.device}:${end.name}`])).join(" "),
  );
}

describe("cables are made", () => {
  it("as given where nobody wants another order", () => {
    const given = ["one:b two:x", "one:a two:y"];
    expect(made(given, {})).toEqual(given);
    expect(made(given, { one: ["b", "a"], two: ["x", "y"] })).toEqual(given);
  });

  it("in the order of a device's interfaces, a loose one between", () => {
    const given = ["one:c three:x", "one:a two:x", "one:b"];
    expect(made(given, { one: ["a", "b", "c"] })).toEqual(["one:a two:x", "one:b", "one:c three:x"]);
  });

  it("in an order that suits both ends, over several devices", () => {
    const given = ["three:a one:b", "two:b three:b", "one:a two:a"];
    const wanted = { one: ["a", "b"], two: ["a", "b"], three: ["a", "b"] };
    expect(made(given, wanted)).toEqual(["one:a two:a", "three:a one:b", "two:b three:b"]);
  });

  it("each once where they cross: the one given first comes first, and then one of the two has another order", () => {
    const given = ["one:b two:a", "one:a two:b"];
    expect(made(given, { one: ["a", "b"], two: ["a", "b"] })).toEqual(given);
    expect(made([...given].reverse(), { one: ["a", "b"], two: ["a", "b"] })).toEqual([...given].reverse());
  });

  it("in order beside some that cross", () => {
    const given = ["one:d two:d", "one:b two:a", "one:a two:b", "one:c two:c"];
    const names = ["a", "b", "c", "d"];
    expect(made(given, { one: names, two: names })).toEqual([
      "one:b two:a",
      "one:a two:b",
      "one:c two:c",
      "one:d two:d",
    ]);
  });

  it("whatever names a device wants that no cable brings", () => {
    expect(made(["one:b two:x", "one:a two:y"], { one: ["bond", "a", "b"] })).toEqual(["one:a two:y", "one:b two:x"]);
  });
});
