/**
 * Loops that nothing cuts, as the prover sees them: whatever comes into the domain is lost there, whoever sent it.
 */
import { expect, it } from "vitest";
import { ask, Sketch, told } from "./build.ts";

/** Two switches joined by two cables, a router that stands on a switch of its own, a host behind each. */
function looped(): Sketch {
  const ports = { p1: { untagged: 10 }, p2: { untagged: 10 }, h: { untagged: 10 } };
  return new Sketch()
    .switch("left", ports, { own: { untagged: 10 } })
    .switch("right", ports)
    .router("left", { legs: { lan: "10.0.1.1/24" }, on: { lan: "own" } })
    .host("a", "10.0.1.10/24")
    .host("b", "10.0.1.11/24")
    .cable("a:nic", "left:h")
    .cable("b:nic", "right:h")
    .cable("left:p1", "right:p1")
    .cable("left:p2", "right:p2");
}

it("an interface that stands on a stormed bridge finds nobody", () => {
  const sketch = looped();
  const proof = ask(sketch, { from: "left", legs: ["b/nic"], stacks: ["b"] });
  expect(proof.reached).toEqual([]);
  expect(proof.stopped.map((each) => told(sketch, each))).toEqual(["refused no-neighbour at left: left neighbour"]);
});

it("frames that enter a stormed domain go no further", () => {
  const sketch = looped();
  const proof = ask(sketch, { from: "right:h", to: "10.0.1.1", legs: ["left/lan"], stacks: ["left"] });
  expect(proof.reached).toEqual([]);
  expect(proof.stopped.map((each) => told(sketch, each))).toContain(
    "dropped storm at right/bridge: cable left:p2--right:p2",
  );
});

it("frames that enter a stormed domain of a trunk bear its tag", () => {
  const ports = { p1: { tagged: [10] }, p2: { tagged: [10] }, h: { tagged: [10] } };
  const sketch = new Sketch()
    .switch("left", ports)
    .switch("right", ports)
    .host("a", "10.0.1.10/24")
    .host("b", "10.0.1.11/24")
    .cable("a:nic", "left:h")
    .cable("b:nic", "right:h")
    .cable("left:p1", "right:p1")
    .cable("left:p2", "right:p2");
  const { stopped } = ask(sketch, { from: "left:h", to: "10.0.1.11", legs: ["b/nic"], stacks: ["b"] });
  const stormed = stopped.find(({ fate }) => fate.end === "dropped" && fate.reason === "storm");
  expect(new Map(stormed?.witness.numbers).get("vlan")).toBe(4096n + 10n);
});
