/**
 * Equal hops: a way takes one of them, however often it comes to the route, as the simulator does under the same picks. Where its
 * packets are others by then, nobody knows which one they take.
 */
import { describe, expect, it } from "vitest";
import { replay } from "../../src/evaluate/replay.ts";
import { createProver, type Proof } from "../../src/prove/index.ts";
import { settle } from "../../src/settle/index.ts";
import { questionOf, Sketch } from "./build.ts";

/** The first hop leads back to the router, which lets on to the second hop only what came back. */
function site(isRewritten = false): Sketch {
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
    .router("two", {
      legs: { c: "10.0.8.2/24" },
      routes: ["10.0.23.0/24 via 10.0.8.1 out c"],
      ...(isRewritten ? { source: [{ out: "two/c", to: "egress-address" as const }] } : {}),
    })
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

  it("leaves open which hop it takes once its source was rewritten", () => {
    const proof = proved(site(true), { from: "left", to: "10.0.23.9", stacks: ["right"] });
    expect(proof.undecided).toMatchObject({ note: expect.stringMatching(/^which of several equal hops/) });
  });
});

describe("other choices that a way comes to again", () => {
  it("leave open which member of a bond it takes then", () => {
    const sketch = new Sketch()
      .host("left", "10.0.1.10/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"] })
      .device("sw", "switch", ["p1", "p2", "m1", "m2"])
      .bond("sw", "b", ["m1", "m2"], { mode: { kind: "static" } })
      .switch("sw", { p1: { untagged: 10 }, p2: { untagged: 20 }, b: { untagged: 10, tagged: [20] } }, { bonds: ["b"] })
      .device("r2", "router", ["y", "e"])
      .router("r1", { legs: { x: "10.0.1.1/24", z: "10.0.2.1/24" }, routes: ["10.0.23.0/24 via 10.0.2.2 out z"] })
      .router("r2", { legs: { "y@20": "10.0.2.2/24", e: "10.0.23.1/24" }, on: { "y@20": "r2:y" } })
      .host("right", "10.0.23.9/24")
      .cable("left:nic", "sw:p1")
      .cable("sw:m1", "r1:x")
      .cable("sw:m2", "r2:y")
      .cable("r1:z", "sw:p2")
      .cable("r2:e", "right:nic");
    const proof = proved(sketch, { from: "left", to: "10.0.23.9", stacks: ["right"] });
    expect(proof.undecided).toMatchObject({ note: expect.stringMatching(/^which member of a bond/) });
  });

  it("are of one address: who answers for another one is open still", () => {
    const sketch = new Sketch()
      .host("left", "10.0.1.10/24", { routes: ["0.0.0.0/0 via 10.0.1.1 out nic"] })
      .router("r", {
        legs: { a: "10.0.1.1/24", l: ["10.0.5.1/24", "10.0.6.1/24"] },
        routes: ["10.0.9.0/24 via 10.0.5.9 out l"],
      })
      .router("A", {
        legs: { x: "10.0.5.9/24" },
        routes: ["0.0.0.0/0 via 10.0.5.1 out x"],
        destination: [{ dest: "10.0.9.9", to: "10.0.6.9" }],
      })
      .host("B", "10.0.5.9/24")
      .host("C", "10.0.6.9/24", { routes: ["0.0.0.0/0 via 10.0.6.1 out nic"] })
      .host("D", "10.0.6.9/24")
      .switch("sw", {
        p1: { untagged: 1 },
        p2: { untagged: 1 },
        p3: { untagged: 1 },
        p4: { untagged: 1 },
        p5: { untagged: 1 },
      })
      .cable("left:nic", "r:a")
      .cable("r:l", "sw:p1")
      .cable("A:x", "sw:p2")
      .cable("B:nic", "sw:p3")
      .cable("C:nic", "sw:p4")
      .cable("D:nic", "sw:p5");
    const proof = proved(sketch, { from: "left", legs: ["C/nic", "D/nic"], when: { dest: "10.0.9.9" } });
    expect(proof.reached.map(({ fate }) => fate.at).toSorted()).toEqual(["C", "D"]);
  });
});

function proved(sketch: Sketch, asked: Parameters<typeof questionOf>[2]): Proof {
  const network = sketch.network();
  return createProver(network, settle(network)).prove(questionOf(sketch, network, asked));
}
