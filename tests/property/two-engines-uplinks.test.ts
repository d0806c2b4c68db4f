/**
 * Both engines on random uplinks, PPPoE sessions and delegated prefixes among them: every answer of the prover is judged by
 * the simulator, witness by witness and with samples on both sides of every boundary.
 */
import { describe, expect, it } from "vitest";
import { Evaluation } from "../../src/evaluate/index.ts";
import { networkOf } from "../support/site.ts";
import { SCALE } from "./two-engines.ts";
import { judged } from "./two-engines-random.ts";
import { Shares } from "./two-engines-shares.ts";
import { uplinkTexts } from "./two-engines-uplinks.ts";

const SITES = 40 * SCALE;

const tally = new Shares();
const sessions = { up: 0, down: 0 };

function countSessions(seed: number): void {
  const [world] = new Evaluation(networkOf(...uplinkTexts(seed))).worlds().worlds;
  for (const { up, peers } of (world?.settled.stacks ?? []).flatMap(({ interfaces }) => interfaces))
    if (peers !== undefined) sessions[up ? "up" : "down"]++;
}

describe("both engines on random uplinks", () => {
  for (let seed = 1; seed <= SITES; seed++) {
    it(`agree on uplink ${seed}`, () => {
      countSessions(seed);
      expect(judged("uplinks", seed, tally).slice(0, 3)).toEqual([]);
    });
  }

  it("have sent packets from one provider's customers to another's", () => {
    expect(tally.of("crosses the internet")).toBeGreaterThan(1);
    expect(tally.of("end dropped not-public")).toBeGreaterThan(0);
  });

  it("have met sessions that are up and such that are not", () => {
    expect(Math.min(sessions.up, sessions.down)).toBeGreaterThan(SITES / 8);
  });
});
