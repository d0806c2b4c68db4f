/**
 * Both engines on random uplinks, PPPoE sessions and delegated prefixes among them: every answer of the prover is judged by
 * the simulator, witness by witness and with samples on both sides of every boundary.
 */
import { describe, expect, it } from "vitest";
import { Evaluation } from "../../src/evaluate/index.ts";
import { networkOf } from "../support/site.ts";
import { SCALE, stream, Tally } from "./two-engines.ts";
import { disagreements, isSomething, startsOf, targetOf } from "./two-engines-judge.ts";
import { uplinkTexts } from "./two-engines-uplinks.ts";

const SITES = 40 * SCALE;
const QUESTIONS = 4;
const PER_CLASS = 3;

const tally = { fates: new Tally(), steps: new Tally(), reach: new Tally() };
const sessions = { up: 0, down: 0 };

/** Disagreements about a few questions on one site, told in lines. */
function judged(seed: number): readonly string[] {
  const network = networkOf(...uplinkTexts(seed));
  const random = stream(seed);
  const [world] = new Evaluation(network).worlds().worlds;
  if (world === undefined) throw new Error("no world");
  for (const { up, peers } of world.settled.stacks.flatMap(({ interfaces }) => interfaces))
    if (peers !== undefined) sessions[up ? "up" : "down"]++;
  const groups = network.groups.filter((group) => group.kind !== "set" && isSomething(group));
  return Array.from({ length: QUESTIONS }, (_, index) => index).flatMap((index) => {
    const [from, to] = [groups[random(groups.length)], groups[random(groups.length)]];
    if (from === undefined || to === undefined) return [];
    const starts = startsOf(from, network);
    const start = starts[random(Math.max(1, starts.length))];
    if (start === undefined) return [];
    const question = { ...start, packets: [[]], target: targetOf(to, network) };
    return disagreements({ network, world, question, seed: seed * 10 + index, perClass: PER_CLASS, tally });
  });
}

describe("both engines on random uplinks", () => {
  for (let seed = 1; seed <= SITES; seed++) {
    it(`agree on uplink ${seed}`, () => {
      expect(judged(seed).slice(0, 3)).toEqual([]);
    });
  }

  it("have met sessions that are up and such that are not", () => {
    expect(Math.min(sessions.up, sessions.down)).toBeGreaterThan(SITES / 8);
  });
});
