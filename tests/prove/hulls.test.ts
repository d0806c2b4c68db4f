/** Hulls against asking every match: none that lets a packet of a flow pass is left out, and some of the others are. */
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { cut, testsOf } from "../../src/prove/flow.ts";
import { hullsOf, meeting } from "../../src/prove/hulls.ts";
import { flowsOn, listsOf } from "./lists.ts";

describe("the matches that a flow can meet", () => {
  it("are all that let any packet of it pass, whatever became of it, and fewer than the list", () => {
    const seen = { met: 0, leftOut: 0, moved: 0 };
    const lists = listsOf({ atLeast: 1, named: 0, most: 60 });
    fc.assert(
      fc.property(
        lists,
        flowsOn(3, true),
        fc.double({ min: 0, max: 1, noNaN: true }),
        (rules, { flow, turns }, part) => {
          const matches = rules.flatMap(({ when }) => when.map(testsOf));
          const most = Math.floor(matches.length * part);
          const found = meeting(hullsOf(matches), flow, most);
          const passing = matches.flatMap((match, at) => (at < most && cut(flow, match).hit !== undefined ? [at] : []));
          expect(passing.filter((at) => !found.includes(at))).toEqual([]);
          expect(found.filter((at) => at < 0 || at >= most)).toEqual([]);
          expect([...found].sort((a, b) => a - b)).toEqual(found);
          seen.met += passing.length;
          seen.leftOut += most - found.length;
          if (turns.length > 0) seen.moved++;
        },
      ),
      { numRuns: 300 },
    );
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(100);
  });

  it("are the same once they are looked for with bits, in long lists that are asked again and again", () => {
    const lists = fc.sample(listsOf({ atLeast: 1, named: 0, most: 60 }), { numRuns: 100, seed: 1 });
    const matches = lists.flat().flatMap(({ when }) => when.map(testsOf));
    const flows = fc.sample(flowsOn(3, true), { numRuns: 300, seed: 2 });
    const [asked, fresh] = [hullsOf(matches), hullsOf(matches)];
    let met = 0;
    for (const [index, { flow }] of flows.entries()) {
      const most = matches.length - (index % 40);
      const found = meeting(asked, flow, most);
      // Of a copy it is not counted how often it was asked.
      expect(found).toEqual(meeting({ ...fresh }, flow, most));
      met += found.length;
    }
    expect(asked.bits).toBeDefined();
    expect(fresh.bits).toBeUndefined();
    expect(met).toBeGreaterThan(1000);
    expect(met).toBeLessThan((flows.length * matches.length) / 2);
  });
});
