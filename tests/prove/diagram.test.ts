/**
 * Diagrams against cutting one match after the other: the same packets for each match, the same packets left, and what a meter
 * that ran out leaves open is said to be open.
 */
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { Diagram } from "../../src/prove/diagram.ts";
import { cut, type Flow, mayPass, type Test, testsOf } from "../../src/prove/flow.ts";
import { Meter } from "../../src/prove/meter.ts";
import { RuleList } from "../../src/prove/rules.ts";
import { flowsOn, isSame, listsOf, sizeOf, sizeOfBoth } from "./lists.ts";

const UNLIMITED = Number.POSITIVE_INFINITY;
const LISTS = fc.oneof(
  listsOf({ atLeast: 0, named: 0, most: 12 }),
  listsOf({ atLeast: 1, named: 0, most: 40 }),
  listsOf({ atLeast: 1, named: 3, most: 40 }),
);
const FLOWS = flowsOn(3, false);

type Matching = { readonly match: readonly Test[]; readonly alike?: string };

/** The matches of a list that the names of a flow let pass, as they are given to a diagram. */
function matchesFor(flow: Flow, rules: Rules, alike: boolean): readonly Matching[] {
  return rules.flatMap(({ when, word }) =>
    when.map(testsOf).flatMap((match): readonly Matching[] => {
      if (!match.every((test) => test.kind === "number" || mayPass(flow, test))) return [];
      return [{ match, ...(alike && word !== undefined ? { alike: word } : {}) }];
    }),
  );
}

type Rules = typeof LISTS extends fc.Arbitrary<infer List> ? List : never;
type Cut = { readonly hits: readonly (readonly Flow[])[]; readonly left: readonly Flow[] };

/** Each match takes what those before it left. */
function cutOneByOne(flow: Flow, list: readonly Matching[]): Cut {
  let left: readonly Flow[] = [flow];
  const hits = list.map(({ match }): readonly Flow[] => {
    const pieces = left.map((piece) => cut(piece, match));
    left = pieces.flatMap(({ rest }) => rest);
    return pieces.flatMap(({ hit }) => hit ?? []);
  });
  return { hits, left };
}

/** Places of a list by what they do. */
function groups(list: readonly Matching[]): readonly (readonly number[])[] {
  const byWord = new Map<string | number, number[]>();
  for (const [at, { alike }] of list.entries()) byWord.set(alike ?? at, [...(byWord.get(alike ?? at) ?? []), at]);
  return [...byWord.values()];
}

describe("a diagram", () => {
  it.each([
    ["that are all told from each other", false],
    ["some of which do the same", true],
  ])("holds the packets that cutting one by one finds, for matches %s", (_, alike) => {
    let nothingLeft = 0;
    fc.assert(
      fc.property(LISTS, FLOWS, (rules, { flow }) => {
        const list = matchesFor(flow, rules, alike);
        const { hits, left } = cutOneByOne(flow, list);
        const found = new Diagram(flow, list, new Meter(UNLIMITED)).all();
        const by = (places: readonly number[]): readonly Flow[] =>
          found.flatMap((each) => (places.includes(each.match) ? [each.flow] : []));
        for (const places of groups(list))
          expect(
            isSame(
              by(places),
              places.flatMap((at) => hits[at] ?? []),
            ),
          ).toBe(true);
        expect(isSame(by([-1]), left)).toBe(true);
        expect(found.every(({ match }) => match < list.length)).toBe(true);
        if (left.length === 0) nothingLeft++;
      }),
      { numRuns: 200 },
    );
    expect(nothingLeft).toBeGreaterThan(10);
  });

  it("gives some of what is left, and nothing just where nothing is left", () => {
    const seen = { some: 0, none: 0 };
    fc.assert(
      fc.property(LISTS, FLOWS, fc.boolean(), (rules, { flow }, alike) => {
        const list = matchesFor(flow, rules, alike);
        const { left } = cutOneByOne(flow, list);
        const any = new Diagram(flow, list, new Meter(UNLIMITED)).anyLeft();
        expect(any === undefined).toBe(left.length === 0);
        if (any !== undefined) {
          expect(sizeOf(any)).toBeGreaterThan(0n);
          expect(left.reduce((sum, each) => sum + sizeOfBoth(each, any), 0n)).toBe(sizeOf(any));
        }
        seen[any === undefined ? "none" : "some"]++;
      }),
      { numRuns: 300 },
    );
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(20);
  });

  it("keeps the order of the list, what is left last", () => {
    fc.assert(
      fc.property(LISTS, FLOWS, (rules, { flow }) => {
        const places = new Diagram(flow, matchesFor(flow, rules, false), new Meter(UNLIMITED)).all();
        const order = places.map(({ match }) => (match < 0 ? UNLIMITED : match));
        expect(order).toEqual([...order].sort((a, b) => a - b));
      }),
      { numRuns: 60 },
    );
  });
});

describe("a meter that runs out", () => {
  const limits = fc.double({ min: 0, max: 1, noNaN: true });

  /** Runs with less than it takes, with one step less, and with all of it. */
  function heldTo(part: number, run: (meter: Meter) => unknown, seen: { within: number; beyond: number }): void {
    const whole = new Meter(UNLIMITED);
    const found = run(whole);
    for (const limit of [Math.floor(whole.spent * part), whole.spent - 1, whole.spent]) {
      const meter = new Meter(limit);
      const again = run(meter);
      expect(meter.exceeded).toBe(limit < whole.spent);
      if (meter.exceeded) seen.beyond++;
      else {
        seen.within++;
        expect(again).toEqual(found);
      }
    }
  }

  it("is told of a diagram, and one that does not changes nothing", () => {
    const seen = { within: 0, beyond: 0 };
    fc.assert(
      fc.property(LISTS, FLOWS, limits, (rules, { flow }, part) => {
        const list = matchesFor(flow, rules, false);
        heldTo(part, (meter) => new Diagram(flow, list, meter).all(), seen);
      }),
      { numRuns: 60 },
    );
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(20);
  });

  it("is told of a list of rules, and one that does not changes nothing", () => {
    const seen = { within: 0, beyond: 0 };
    fc.assert(
      fc.property(LISTS, flowsOn(2, true), limits, (rules, { flow }, part) => {
        heldTo(part, (meter) => new RuleList(rules, ({ word }) => word).split(flow, meter), seen);
      }),
      { numRuns: 60 },
    );
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(20);
  });
});
