/**
 * Loops that nothing cuts, as the prover sees them: whatever comes into the domain is lost there, whoever sent it.
 */
import { expect, it } from "vitest";
import { ask, Sketch, told } from "./build.ts";

/** Two switches joined by two cables, a host behind each; every port is a member alike. */
function looped(member: { readonly untagged: number } | { readonly tagged: readonly number[] }): Sketch {
  const ports = { p1: member, p2: member, h: member };
  return new Sketch()
    .switch("left", ports, { own: { untagged: 10 } })
    .switch("right", ports)
    .host("a", "10.0.1.10/24")
    .host("b", "10.0.1.11/24")
    .cable("a:nic", "left:h")
    .cable("b:nic", "right:h")
    .cable("left:p1", "right:p1")
    .cable("left:p2", "right:p2");
}

/** The same with a router that stands on a switch of its own. */
function routed(): Sketch {
  return looped({ untagged: 10 }).router("left", { legs: { lan: "10.0.1.1/24" }, on: { lan: "own" } });
}

it("an interface that stands on a stormed bridge finds nobody", () => {
  const sketch = routed();
  const proof = ask(sketch, { from: "left", legs: ["b/nic"], stacks: ["b"] });
  expect(proof.reached).toEqual([]);
  expect(proof.stopped.map((each) => told(sketch, each))).toEqual(["refused no-neighbour at left: left neighbour"]);
});

it("frames that enter a stormed domain go no further", () => {
  const sketch = routed();
  const proof = ask(sketch, { from: "right:h", to: "10.0.1.1", legs: ["left/lan"], stacks: ["left"] });
  expect(proof.reached).toEqual([]);
  expect(proof.stopped.map((each) => told(sketch, each))).toContain(
    "dropped storm at right/bridge: cable left:p2--right:p2",
  );
});

it("frames that enter a stormed domain of a trunk bear its tag", () => {
  const sketch = looped({ tagged: [10] });
  const { stopped } = ask(sketch, { from: "left:h", to: "10.0.1.11", legs: ["b/nic"], stacks: ["b"] });
  const stormed = stopped.find(({ fate }) => fate.end === "dropped" && fate.reason === "storm");
  expect(new Map(stormed?.witness.numbers).get("vlan")).toBe(4096n + 10n);
});
