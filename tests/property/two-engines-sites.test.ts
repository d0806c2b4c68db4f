/**
 * Both engines on random sites, through documents: every answer of the prover is judged by the simulator, witness by
 * witness and with samples on both sides of every boundary. `DRYRACK_SEEDS=121-2000` judges other sites than the first 120.
 */
import { afterAll, describe, expect, it } from "vitest";
import { Evaluation } from "../../src/evaluate/index.ts";
import { networkOf } from "../support/site.ts";
import { stream, Tally } from "./two-engines.ts";
import { disagreements, isSomething, startsOf, targetOf } from "./two-engines-judge.ts";
import { textsOf } from "./two-engines-sites.ts";

const [FIRST = 1, LAST = FIRST] = (process.env.DRYRACK_SEEDS ?? "1-120").split("-").map(Number);
const QUESTIONS = 4;
const PER_CLASS = 3;

const tally = { fates: new Tally(), steps: new Tally(), reach: new Tally() };

/** Disagreements about a few questions on one site, told in lines. */
function judged(seed: number): readonly string[] {
  const network = networkOf(...textsOf(seed));
  const random = stream(seed);
  const { worlds } = new Evaluation(network).worlds();
  const groups = network.groups.filter((group) => group.kind !== "set" && isSomething(group));
  return Array.from({ length: QUESTIONS }, (_, index) => index).flatMap((index) => {
    const world = worlds[random(worlds.length)];
    const [from, to] = [groups[random(groups.length)], groups[random(groups.length)]];
    if (world === undefined || from === undefined || to === undefined) return [];
    const starts = startsOf(from, network);
    const start = starts[random(Math.max(1, starts.length))];
    if (start === undefined) return [];
    const question = { ...start, packets: [[]], target: targetOf(to, network) };
    return disagreements({ network, world, question, seed: seed * 10 + index, perClass: PER_CLASS, tally });
  });
}

describe("both engines on random sites", () => {
  for (let seed = FIRST; seed <= LAST; seed++) {
    it(`agree on site ${seed}`, () => {
      expect(judged(seed).slice(0, 3)).toEqual([]);
    });
  }

  afterAll(() => {
    console.log(`classes: ${tally.reach.told()}\nfates: ${tally.fates.told()}\nsteps: ${tally.steps.told()}`);
  });
});
