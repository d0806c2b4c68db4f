/**
 * Every class of a proof is replayed through the simulator in the same run; where the engines differ, the tool is at
 * fault, and no verdict is given.
 */
import { describe, expect, it } from "vitest";
import { EnginesDisagree, Evaluation } from "../../src/evaluate/index.ts";
import { replay } from "../../src/evaluate/replay.ts";
import type { Network } from "../../src/network/index.ts";
import { createProver, type Proof, type Question } from "../../src/prove/index.ts";
import { onlyRule, rooms } from "../check/rooms.ts";
import { check } from "../check/verdicts.ts";
import { hidesBreaches, inventsBreaches, loopsAfterOthers, mistakesReasons, planting } from "./planted.ts";

const CLOSED = rooms({ to: "{ otherwise: drop }", through: "{ otherwise: drop }" });
const OPEN = rooms();
const UNKNOWN = rooms({
  to: "{ otherwise: drop }",
  router: "    reverse-path: strict",
  through: onlyRule("{ name: legacy, service: tcp/23, action: unknown, note: who knows }"),
});
const BLOCKED = "from: red, to: blue, expect: blocked";

/** Red to blue, from its ports. */
function question(network: Network): Question {
  const [red, blue] = ["red", "blue"].map((id) => network.groups.find((group) => group.id === id));
  if (red === undefined || blue === undefined) throw new Error("no rooms");
  const { addresses, interfaces, segments, upstreams } = blue;
  const target = { addresses, interfaces, segments, upstreams, stacks: [] };
  return { entrances: red.entrances.map(({ at }) => at), senders: [], packets: [[]], target };
}

describe("a proof", () => {
  it.each([
    ["of a wall", CLOSED],
    ["of a breach", OPEN],
    ["with what nobody knows", UNKNOWN],
  ])("%s has each of its classes replayed but those that nobody knows the end of", (_what, { network }) => {
    const evaluation = new Evaluation(network);
    const [world] = evaluation.worlds().worlds;
    if (world === undefined) throw new Error("no world");
    const proof = evaluation.prove(world, question(network));
    const known = [...proof.reached, ...proof.stopped].filter(({ fate }) => fate.end !== "unknown");
    expect(known.length).toBeGreaterThan(0);
    expect(proof.replayed).toBe(known.length);
  });

  it("is made by one prover a world, whatever is asked", () => {
    let made = 0;
    const counting = new Evaluation(CLOSED.network, (network, settled) => {
      made += 1;
      return createProver(network, settled);
    });
    const [world] = counting.worlds().worlds;
    if (world === undefined) throw new Error("no world");
    counting.prove(world, question(CLOSED.network));
    counting.prove(world, question(CLOSED.network));
    expect(made).toBe(1);
  });
});

describe("a wrong proof", () => {
  it.each([
    [
      "hides what gets through",
      OPEN,
      hidesBreaches,
      /proved: dropped at .* \(filter\); simulated: .*(delivered|put on)/,
    ],
    [
      "invents what gets through",
      CLOSED,
      inventsBreaches,
      /proved: delivered at .*; simulated: dropped at r\/stack \(filter\)/,
    ],
    ["mistakes the reason", CLOSED, mistakesReasons, /proved: looped at .*; simulated: dropped at r\/stack \(filter\)/],
  ])("that %s is a fault that names both fates", (_what, site, change: (proof: Proof) => Proof, told) => {
    const judge = () => check(site, [BLOCKED], { proverMaker: planting(change) });
    expect(judge).toThrow(EnginesDisagree);
    expect(judge).toThrow(told);
  });

  it("of packets that need others is a fault after all tries with time between them, and undecided after fewer", () => {
    const { network } = CLOSED;
    const [world] = new Evaluation(network).worlds().worlds;
    if (world === undefined) throw new Error("no world");
    const { target, ...rest } = question(network);
    const [first] = createProver(network, world.settled).prove({ ...rest, target }).stopped;
    if (first === undefined) throw new Error("nothing is stopped");
    const { sentAt, witness, origin } = { ...first, origin: first.fate.origin };
    const claimed = {
      ...first,
      fate: { at: first.fate.at, origin, end: "delivered" as const },
      before: [{ sentAt, witness }],
    };
    const looked = network.stacks.map(({ id }) => id);
    const proof: Proof = { reached: [claimed], permitted: [], stopped: [], looked, steps: 0 };
    const told = (...most: readonly number[]) => replay(network, world, proof, target, () => proof, undefined, ...most);
    expect(told()).toMatchObject({ disagreements: [{ claimed }], unknown: [] });
    const cut = told(5);
    expect(cut).toMatchObject({ disagreements: [], unknown: [claimed] });
    expect(cut.proof).toMatchObject({
      reached: [],
      undecided: { note: expect.stringMatching(/forgotten: more than 5 ways to send them$/), origin },
    });
  });

  it("of what is stopped after others is left out after all tries, and told apart after fewer", () => {
    const { network } = CLOSED;
    const [world] = new Evaluation(network).worlds().worlds;
    if (world === undefined) throw new Error("no world");
    const { target, ...rest } = question(network);
    const proof = loopsAfterOthers(createProver(network, world.settled).prove({ ...rest, target }), 1);
    const claimed = proof.stopped.at(-1);
    const told = (...most: readonly number[]) => replay(network, world, proof, target, () => proof, undefined, ...most);
    expect(told()).toMatchObject({ disagreements: [], leftOut: [claimed], untried: [] });
    expect(told(5)).toMatchObject({ disagreements: [], leftOut: [claimed], untried: [claimed] });
  });

  it("is told with the packet that shows it", () => {
    expect(() => check(CLOSED, [BLOCKED], { proverMaker: planting(inventsBreaches) })).toThrow(
      /^\w+\/\S+ from \S+ port \d+ to \S+, sent at r:p\d.*: proved/,
    );
  });

  it("that would take too many tries to be shown is told with what the verdict rests on", () => {
    const rests = (others: number): readonly string[] => {
      const proverMaker = planting((proof) => loopsAfterOthers(proof, others));
      const { restsOn = [] } = check(CLOSED, [BLOCKED], { proverMaker }).told[0] ?? {};
      return restsOn.map(({ text }) => text).filter((text) => text.includes("loop"));
    };
    expect(rests(1)).toEqual([]);
    expect(rests(10)).toEqual([expect.stringMatching(/loop at r \(taken from the proof, .* more than 2000 tries\)$/)]);
  });

  it("that says nothing of anything passes unseen: what is missed is held by other tests", () => {
    const silent = planting((proof) => ({ ...proof, reached: [], stopped: [] }));
    expect(check(CLOSED, [BLOCKED], { proverMaker: silent }).told[0]?.status).toBe("passed");
  });
});
