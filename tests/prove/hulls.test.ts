/** Hulls against asking every match: none that lets a packet of a flow pass is left out, and some of the others are. */
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { cut, testsOf } from "../../src/prove/flow.ts";
import { forget, hullsOf, meeting, meetingTests } from "../../src/prove/hulls.ts";
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

  it("come without the tests that all packets pass, up to the first that all of them pass", () => {
    const seen = { without: 0, with: 0, covering: 0, met: 0 };
    const lists = fc.oneof(
      listsOf({ atLeast: 1, named: 0, most: 60 }),
      listsOf({ atLeast: 1, named: 3, most: 60 }),
      listsOf({ atLeast: 1, named: 0, most: 400 }),
    );
    fc.assert(
      fc.property(lists, fc.array(flowsOn(2, true), { minLength: 1, maxLength: 40 }), (rules, flows) => {
        const matches = rules.flatMap(({ when }) => when.map(testsOf));
        const hulls = hullsOf(matches);
        for (const { flow } of flows) {
          const found = meetingTests(hulls, flow, matches.length);
          const end = found.findIndex(({ tests }) => tests.length === 0);
          const places = meeting(hulls, flow, matches.length);
          expect(found.map(({ at }) => at)).toEqual(end < 0 ? places : places.slice(0, end + 1));
          for (const { at, tests } of found) {
            const open = (matches[at] ?? []).filter((test) => cut(flow, [test]).rest.length > 0);
            const numbers = (matches[at] ?? []).filter(({ kind }) => kind === "number");
            expect(numbers.filter((test) => tests.includes(test))).toEqual(
              numbers.filter((test) => open.includes(test)),
            );
            expect(open.filter((test) => !tests.includes(test))).toEqual([]);
            seen.with += tests.length;
            seen.without += (matches[at] ?? []).length - tests.length;
          }
          seen.met += found.length;
          if (end >= 0) seen.covering++;
        }
      }),
      { numRuns: 100 },
    );
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(100);
  });

  it("are without those that were forgotten, with bits and before", () => {
    const lists = fc.sample(listsOf({ atLeast: 1, named: 0, most: 60 }), { numRuns: 30, seed: 3 });
    const matches = lists
      .flat()
      .flatMap(({ when }) => when.map(testsOf))
      .filter(({ length }) => length > 0);
    const flows = fc.sample(flowsOn(3, true), { numRuns: 120, seed: 4 });
    const [asked, whole] = [hullsOf(matches), hullsOf(matches)];
    const forgotten = new Set<number>();
    let missing = 0;
    for (const [index, { flow }] of flows.entries()) {
      const found = meeting(asked, flow, matches.length);
      const all = meeting({ ...whole, passed: 0, bits: undefined }, flow, matches.length);
      expect(found).toEqual(all.filter((at) => !forgotten.has(at)));
      missing += all.length - found.length;
      for (const at of found.slice(0, index % 3)) {
        forget(asked, at);
        forgotten.add(at);
        expect(meeting(asked, flow, matches.length)).toEqual(all.filter((each) => !forgotten.has(each)));
      }
    }
    expect(asked.bits).toBeDefined();
    expect(missing).toBeGreaterThan(100);
  });
});
