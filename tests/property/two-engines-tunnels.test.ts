/**
 * Both engines on random tunnels: every answer of the prover is judged by the simulator, witness by witness and with
 * samples on both sides of every boundary. `npm run engines:fuzz -- --kind tunnels` judges others.
 */
import { describe, expect, it } from "vitest";
import { Evaluation } from "../../src/evaluate/index.ts";
import { networkOf } from "../support/site.ts";
import { SCALE } from "./two-engines.ts";
import { judged } from "./two-engines-random.ts";
import { Shares } from "./two-engines-shares.ts";
import { tunnelTexts } from "./two-engines-tunnels.ts";

const SITES = 30 * SCALE;

const tally = new Shares();
const tunnels = { up: 0, down: 0 };

describe("both engines on random tunnels", () => {
  for (let seed = 1; seed <= SITES; seed++) {
    it(`agree on tunnels ${seed}`, () => {
      const network = networkOf(...tunnelTexts(seed));
      const down = new Evaluation(network).worlds().worlds[0]?.tunnels.length ?? 0;
      tunnels.down += down;
      tunnels.up += network.links.filter(({ outer }) => outer !== undefined).length - down;
      expect(judged("tunnels", seed, tally).slice(0, 3)).toEqual([]);
    });
  }

  it("have met tunnels that are up and such that are not, and sources that a peer is not allowed", () => {
    expect(Math.min(tunnels.up, tunnels.down)).toBeGreaterThan(SITES / 4);
    expect(tally.told()).toContain("foreign-source");
    expect(tally.told()).toContain("tunnel-down");
  });
});
