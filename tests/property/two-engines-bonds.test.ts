/**
 * Both engines on random sites whose routers hang by bonds, most of them moved to another switch half-way: every answer of the
 * prover is judged by the simulator, witness by witness and with samples on both sides of every boundary.
 */
import { describe, expect, it } from "vitest";
import { SCALE } from "./two-engines.ts";
import { judged } from "./two-engines-random.ts";
import { Shares } from "./two-engines-shares.ts";
import { textsOf } from "./two-engines-sites.ts";

const SITES = 12 * SCALE;

const tally = new Shares();
let halfMoved = 0;

/** The switches that the members of each router's bond lead to. */
function switchesOf(topology: string): readonly (readonly string[])[] {
  return ["r1", "r2", "r3"].flatMap((router) => {
    const found = [...topology.matchAll(new RegExp(`\\[${router}:t\\d, (s\\d):`, "g"))].flatMap(
      ([, name]) => name ?? [],
    );
    return found.length === 0 ? [] : [found];
  });
}

describe("both engines on bonds that were moved half-way", () => {
  for (let seed = 1; seed <= SITES; seed++) {
    it(`agree on site ${seed}`, () => {
      const bonds = switchesOf(textsOf(seed, "bonds")[0]);
      expect(bonds.map((members) => members.length)).toEqual(bonds.map(() => 2));
      if (bonds.some((members) => new Set(members).size === 2)) halfMoved++;
      expect(judged("bonds", seed, tally).slice(0, 3)).toEqual([]);
    });
  }

  it("have met such bonds on most sites", () => {
    expect(halfMoved).toBeGreaterThan(SITES / 2);
  });
});
