/** Equal hops: a way takes one of them, however often it comes to the route, as the simulator does under the same picks. */
import { describe, expect, it } from "vitest";
import { replay } from "../../src/evaluate/replay.ts";
import { createProver } from "../../src/prove/index.ts";
import { settle } from "../../src/settle/index.ts";
import { questionOf, Sketch } from "./build.ts";

/** The first hop leads back to the router, which lets on to the second hop only what came back. */
function site(): Sketch {
  return new Sketch()
    .host("left", "10.0.1.10/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"] })
    .router("one", {
      legs: { a: "10.0.1.1/24", c: "10.0.8.1/24", d: "10.0.9.1/24" },
      routes: ["10.0.23.0/24 via 10.0.8.2 out c and via 10.0.9.2 out d"],
      through: [
        { do: "accept", in: "one/a", out: "one/c" },
        { do: "accept", in: "one/c", out: "one/d" },
      ],
      throughElse: "drop",
    })
    .router("two", { legs: { c: "10.0.8.2/24" }, routes: ["10.0.23.0/24 via 10.0.8.1 out c"] })
    .router("three", { legs: { d: "10.0.9.2/24", e: "10.0.23.1/24" } })
    .host("right", "10.0.23.9/24")
    .cable("left:nic", "one:a")
    .cable("one:c", "two:c")
    .cable("one:d", "three:d")
    .cable("three:e", "right:nic");
}

describe("a way that comes to the same equal hops again", () => {
  it("takes the hop that it took before", () => {
    const sketch = site();
    const network = sketch.network();
    const settled = settle(network);
    const question = questionOf(sketch, network, { from: "left", to: "10.0.23.9", stacks: ["right"] });
    const proof = createProver(network, settled).prove(question);
    const world = { settled, picks: [], failures: [], tunnels: [] };
    expect(replay(network, world, proof, question.target).disagreements).toEqual([]);
    expect(proof.reached).toEqual([]);
    const twice = [...proof.reached, ...proof.stopped].filter(
      ({ picks }) => new Set(picks.map(({ choice }) => choice)).size < picks.length,
    );
    expect(twice).toEqual([]);
  });
});
