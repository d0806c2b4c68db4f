/**
 * Both engines on random sites where rare settings are common, so that every kind of fate, step and rule decides now and
 * then: what decides seldom on the other random sites is tested here. The batch is fixed, and so are its counts.
 */
import { describe, expect, it } from "vitest";
import { judged } from "./two-engines-random.ts";
import { Shares } from "./two-engines-shares.ts";

const SITES = 80;
/** Site 27 takes minutes where others take a second: its questions are walked to near the step limit. */
const PATIENCE_MS = 900_000;
const tally = new Shares();

describe("both engines on odd random sites", () => {
  for (let seed = 1; seed <= SITES; seed++) {
    it(`agree on odd site ${seed}`, { timeout: PATIENCE_MS }, () => {
      expect(judged("odd", seed, tally).slice(0, 3)).toEqual([]);
    });
  }

  it("have each kind of fate, step and rule decide one sample of a hundred", () => {
    console.log(tally.told());
    expect(tally.rare).toEqual([]);
  });
});
