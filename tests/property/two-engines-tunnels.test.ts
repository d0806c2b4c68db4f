/**
 * Both engines on random tunnels: every answer of the prover is judged by the simulator, witness by witness and with
 * samples on both sides of every boundary.
 */
import { describe, expect, it } from "vitest";
import { Evaluation } from "../../src/evaluate/index.ts";
import { networkOf } from "../support/site.ts";
import { SCALE, stream, Tally } from "./two-engines.ts";
import { disagreements, isSomething, startsOf, targetOf } from "./two-engines-judge.ts";
import { tunnelTexts } from "./two-engines-tunnels.ts";

const SITES = 30 * SCALE;
const QUESTIONS = 4;
const PER_CLASS = 3;

const tally = { fates: new Tally(), steps: new Tally(), reach: new Tally() };
const tunnels = { up: 0, down: 0 };

/** Disagreements about a few questions on one site, told in lines. */
function judged(seed: number): readonly string[] {
  const network = networkOf(...tunnelTexts(seed));
  const random = stream(seed);
  const [world] = new Evaluation(network).worlds().worlds;
  if (world === undefined) throw new Error("no world");
  tunnels.down += world.tunnels.length;
  tunnels.up += network.links.filter(({ outer }) => outer !== undefined).length - world.tunnels.length;
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

describe("both engines on random tunnels", () => {
  for (let seed = 1; seed <= SITES; seed++) {
    it(`agree on tunnels ${seed}`, () => {
      expect(judged(seed).slice(0, 3)).toEqual([]);
    });
  }

  it("have met tunnels that are up and such that are not, and sources that a peer is not allowed", () => {
    expect(Math.min(tunnels.up, tunnels.down)).toBeGreaterThan(SITES / 4);
    expect(tally.fates.told()).toContain("foreign-source");
    expect(tally.fates.told()).toContain("tunnel-down");
  });
});
