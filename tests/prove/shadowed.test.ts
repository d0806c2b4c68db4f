/**
 * Rules that never decide anything: held to every packet of a tiny universe, which has a packet for each way to pass or fail the
 * conditions of a list, and to a solver on lists of 10 to 1,000 rules.
 */
import * as fc from "fast-check";
import { afterAll, beforeAll, describe, expect, it, vi } from "vitest";
import { intersectRanges, single } from "../../src/address/index.ts";
import type { Condition } from "../../src/network/index.ts";
import { Diagram } from "../../src/prove/diagram.ts";
import { NAME_FIELDS, NUMBER_FIELDS, UNIVERSES } from "../../src/prove/fields.ts";
import { type Flow, flowOf } from "../../src/prove/flow.ts";
import { shadowedIn } from "../../src/prove/shadowed.ts";
import { type ListKind, listOf } from "../bench/speed-lists.ts";
import { formulasIn, type Solving, startSolver } from "../support/solver.ts";
import { type Line, listsOf, naive, type Point } from "./lists.ts";
import { stream } from "./sites.ts";

const origin = { by: "written", span: { file: 0, start: 0, end: 1 } } as const;
const UNLIMITED = Number.POSITIVE_INFINITY;

// -- every packet --------------------------------------------------------------------------------------------------------

/** The conditions of all rules on one field. */
function conditionsOn(rules: readonly Line[], field: Condition["field"]): readonly Condition[] {
  return rules.flatMap(({ when }) => when.flat()).filter((condition) => condition.field === field);
}

/** One value for each way to pass or fail the conditions on a field. */
function cellsOf(universe: Flow, rules: readonly Line[], place: number): readonly bigint[] {
  const field = NUMBER_FIELDS[place];
  const set = universe.sets[place] ?? [];
  const edges = new Set(set.map(([low]) => low));
  for (const condition of field === undefined ? [] : conditionsOn(rules, field)) {
    for (const [low, high] of "within" in condition ? condition.within : []) edges.add(low).add(high + 1n);
  }
  return [...edges].filter((edge) => intersectRanges(set, single(edge)).length > 0);
}

/** Names that conditions look at, and one that none does; of translated ends both are a word of its own. */
function namesOn(rules: readonly Line[], place: number): readonly string[] {
  const field = NAME_FIELDS[place];
  const asked = field === undefined ? [] : conditionsOn(rules, field);
  const names = asked.flatMap((condition) => ("oneOf" in condition ? condition.oneOf : []));
  return [...new Set(["", ...names, ...(field === "translated" && names.length > 0 ? ["both"] : [])])];
}

function combined<Value>(choices: readonly (readonly Value[])[]): readonly (readonly Value[])[] {
  return choices.reduce<readonly (readonly Value[])[]>(
    (all, values) => all.flatMap((some) => values.map((value) => [...some, value])),
    [[]],
  );
}

/** Places of rules that no packet is decided by; undefined: there are too many packets to try. */
function neverDeciding(rules: readonly Line[], most: number): readonly number[] | undefined {
  const names = combined(NAME_FIELDS.map((_, place) => namesOn(rules, place)));
  const left = new Set(rules);
  let tried = 0;
  for (const universe of UNIVERSES.map((sets) => flowOf(sets))) {
    const cells = NUMBER_FIELDS.map((_, place) => cellsOf(universe, rules, place));
    tried += names.length * cells.reduce((count, each) => count * each.length, 1);
    if (tried > most) return undefined;
    for (const values of combined(cells)) {
      for (const words of names) {
        const point: Point = { values, names: words };
        const decides = naive(rules, universe, point);
        if (decides !== undefined) left.delete(decides);
      }
    }
  }
  return rules.flatMap((rule, place) => (left.has(rule) ? [place] : []));
}

/** Low and high of a cube of addresses and ports, in this order of fields. */
type Cube = readonly (readonly [low: number, high: number])[];
const CUBE_FIELDS = ["source", "destination", "destinationPort"] as const;

/** A cube in shreds, each parted at random where it is longest. */
function shreds(cube: Cube, count: number, next: (below: number) => number): readonly Cube[] {
  const all = [cube];
  while (all.length < count) {
    const [shred = []] = all.splice(next(all.length), 1);
    const lengths = shred.map(([low, high]) => high - low);
    const place = lengths.indexOf(Math.max(...lengths));
    const [low, high] = shred[place] ?? [0, 0];
    if (low === high) all.push(shred);
    else {
      const end = low + next(high - low);
      all.push(shred.with(place, [low, end]), shred.with(place, [end + 1, high]));
    }
  }
  return all.sort(() => next(3) - 1);
}

/** Shreds of a cube, without some of them, and at last the cube. */
function shreddedList(seed: number, missing: number): readonly Line[] {
  const cube: Cube = CUBE_FIELDS.map(() => [10, 99]);
  return [...shreds(cube, 900, stream(seed)).slice(missing), cube].map((each, id) => ({
    id,
    when: [
      CUBE_FIELDS.map((field, place): Condition => {
        const [low, high] = each[place] ?? [0, 0];
        return { field, within: [[BigInt(low), BigInt(high)]], origin };
      }),
    ],
  }));
}

describe("rules that never decide anything", () => {
  const LISTS = fc.oneof(
    listsOf({ atLeast: 0, named: 0, most: 8 }),
    listsOf({ atLeast: 1, named: 0, most: 8 }),
    listsOf({ atLeast: 1, named: 5, most: 8 }),
    listsOf({ atLeast: 1, named: 9, most: 12 }),
  );
  const MOST = 30_000;

  it("are just those that decide no packet of a tiny universe", () => {
    const seen = { lists: 0, shadowed: 0, deciding: 0 };
    fc.assert(
      fc.property(LISTS, (rules) => {
        const expected = neverDeciding(rules, MOST);
        fc.pre(expected !== undefined);
        const { places, undecided } = shadowedIn(rules, UNLIMITED);
        expect({ places, undecided }).toEqual({ places: expected, undecided: [] });
        seen.lists++;
        seen.shadowed += places.length;
        seen.deciding += rules.length - places.length;
      }),
      { numRuns: 150 },
    );
    expect(seen.lists).toBeGreaterThan(100);
    expect(Math.min(seen.shadowed, seen.deciding)).toBeGreaterThan(100);
  });

  it("are never more with a limit: what is not known within it is told", () => {
    const seen = { undecided: 0, places: 0 };
    const all = fc.oneof(listsOf({ atLeast: 0, named: 2, most: 40 }), listsOf({ atLeast: 1, named: 2, most: 40 }));
    fc.assert(
      fc.property(all, fc.nat({ max: 80 }), (rules, limit) => {
        const whole = shadowedIn(rules, UNLIMITED);
        const { places, undecided } = shadowedIn(rules, limit);
        expect(whole.undecided).toEqual([]);
        expect(places.filter((place) => !whole.places.includes(place))).toEqual([]);
        expect(whole.places.filter((place) => !places.includes(place) && !undecided.includes(place))).toEqual([]);
        expect(places.filter((place) => undecided.includes(place))).toEqual([]);
        seen.undecided += undecided.length;
        seen.places += places.length;
      }),
      { numRuns: 80 },
    );
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(100);
  });

  it("are the same where what is left of a rule is in too many pieces to follow", () => {
    const asked = vi.spyOn(Diagram.prototype, "anyLeft");
    const lists = [
      [0, 0],
      [1, 0],
      [2, 0],
      // A piece is found before a diagram is built, and three of which it is not.
      [3, 1],
      [4, 1],
      [10, 1],
      [12, 1],
    ] as const;
    for (const [seed, missing] of lists) {
      const rules = shreddedList(seed, missing);
      const { places, undecided } = shadowedIn(rules, UNLIMITED);
      // Shreds are disjoint, so each of them decides something.
      expect({ places, undecided }).toEqual({ places: missing === 0 ? [rules.length - 1] : [], undecided: [] });
    }
    const found = asked.mock.results.map(({ value }) => value === undefined);
    expect(found.filter((isNone) => isNone).length).toBeGreaterThan(2);
    expect(found.filter((isNone) => !isNone).length).toBeGreaterThan(2);
    vi.restoreAllMocks();
  });

  it("are not made up where a diagram runs out of steps", () => {
    const seen = { undecided: 0, decided: 0 };
    for (const missing of [0, 1]) {
      const rules = shreddedList(5 + missing, missing);
      const last = rules.length - 1;
      for (const limit of [1000, 10_000, 40_000, 1_000_000, 2_000_000]) {
        const { places, undecided } = shadowedIn(rules, limit);
        const isOpen = undecided.length > 0;
        expect({ places, undecided }).toEqual({
          places: isOpen || missing > 0 ? [] : [last],
          undecided: isOpen ? [last] : [],
        });
        seen[isOpen ? "undecided" : "decided"]++;
      }
    }
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(1);
  });
});

// -- a solver --------------------------------------------------------------------------------------------------------------

let z3: Solving;
let stop: () => void = () => {};

beforeAll(async () => {
  ({ z3, stop } = await startSolver());
});

afterAll(() => stop());

describe("rules that never decide anything, asked of a solver", () => {
  /** Kind, length, seed, and of how many rules that decide something the solver is asked. */
  const LISTS: readonly (readonly [ListKind, number, number, number])[] = [
    ["specific", 10, 1, 10],
    ["wildcard", 30, 2, 30],
    ["wildcard", 100, 2, 100],
    ["specific", 300, 5, 40],
    ["wildcard", 300, 8, 40],
    ["specific", 1000, 3, 15],
    ["wildcard", 1000, 7, 15],
  ];
  const answers = { shadowed: 0, deciding: 0 };

  it.each(LISTS)(
    "are the same on a %s list of %i rules (seed %i, %i others asked)",
    async (kind, length, seed, others) => {
      const rules = listOf(kind, length, seed);
      const { places, undecided } = shadowedIn(rules, UNLIMITED);
      expect(undecided).toEqual([]);
      const shadowed = new Set(places);
      const every = Math.ceil(length / others);
      const solver = new z3.Solver();
      const { fits: fitting } = formulasIn(z3);
      for (const [place, rule] of rules.entries()) {
        const fits = fitting(rule);
        if (shadowed.has(place) || place % every === every - 1) {
          const isDeciding = (await solver.check(fits)) === "sat";
          expect([place, isDeciding]).toEqual([place, !shadowed.has(place)]);
          answers[isDeciding ? "deciding" : "shadowed"]++;
        }
        solver.add(fits.not());
      }
    },
    60_000,
  );

  it("are some, and are not all", () => {
    expect(Math.min(...Object.values(answers))).toBeGreaterThan(30);
  });
});
