/**
 * Lists of rules against a naive first match, packet by packet, and against the sizes of sets: the pieces of a flow are disjoint and
 * together the flow, whether a list is short, long, or parted by names.
 */
import * as fc from "fast-check";
import { describe, expect, it, vi } from "vitest";
import { single } from "../../src/address/index.ts";
import { Diagram } from "../../src/prove/diagram.ts";
import { type Flow, mayPass } from "../../src/prove/flow.ts";
import { Meter } from "../../src/prove/meter.ts";
import { RuleList } from "../../src/prove/rules.ts";
import { flowsOn, holds, isParted, isSame, type Line, listsOf, naive, type Point, pointsOf, TURNS } from "./lists.ts";

const LISTS = fc.oneof(
  listsOf({ atLeast: 0, named: 3, most: 60 }),
  listsOf({ atLeast: 1, named: 0, most: 60 }),
  listsOf({ atLeast: 1, named: 2, most: 60 }),
  listsOf({ atLeast: 2, named: 1, most: 12 }),
);
const RUNS = 150;

/** One packet of a flow, at these of its names. */
function alone(flow: Flow, { values }: Point, names: Flow["names"]): Flow {
  return { ...flow, sets: values.map(single), names };
}

type Piece = { readonly flow: Flow; readonly rule?: Line };

/** What is wrong with the piece that a packet lies in; undefined: nothing. */
function wrongAt(list: RuleList<Line>, rules: readonly Line[], pieces: readonly Piece[], flow: Flow, point: Point) {
  const expected = naive(rules, flow, point);
  const [piece, ...others] = pieces.filter((each) => holds(each.flow, point));
  if (piece === undefined || others.length > 0) return `in ${others.length + (piece ? 1 : 0)} pieces`;
  const isIt = piece.rule === expected || (piece.rule?.word !== undefined && piece.rule.word === expected?.word);
  if (!isIt) return `cut by rule ${piece.rule?.id}, decided by ${expected?.id}`;
  const one = list.ruleOf(
    alone(
      flow,
      point,
      point.names.map((name) => [name]),
    ),
  );
  if (one !== expected) return `alone it is said to be decided by ${one?.id}, and is by ${expected?.id}`;
  // As a path asks: the names are all those of the piece.
  const shown = list.ruleOf(alone(flow, point, piece.flow.names));
  return shown === expected ? undefined : `shown as decided by ${shown?.id}, and is by ${expected?.id}`;
}

describe("a list of rules", () => {
  const seen = {
    short: 0,
    diagram: 0,
    named: 0,
    several: 0,
    none: 0,
    turns: new Set<string>(),
    kinds: new Set<string>(),
  };

  it("cuts a flow into disjoint pieces by first match, and tells of each packet the rule", () => {
    const diagrams = vi.spyOn(Diagram.prototype, "all");
    const splits = vi.spyOn(RuleList.prototype, "split");
    fc.assert(
      fc.property(LISTS, flowsOn(3, true), fc.nat(), (rules, { flow, turns }, seed) => {
        diagrams.mockClear();
        splits.mockClear();
        const list = new RuleList(rules, ({ word }) => word);
        const { decided, left } = list.split(flow, new Meter(Number.POSITIVE_INFINITY));
        const pieces: readonly Piece[] = [...decided, ...left.map((each) => ({ flow: each }))];
        const [built, asked] = [diagrams.mock.calls.length, splits.mock.calls.length];
        expect(
          isParted(
            flow,
            pieces.map((piece) => piece.flow),
          ),
        ).toBe(true);
        for (const point of pointsOf(flow, rules, 40, seed)) {
          const wrong = wrongAt(list, rules, pieces, flow, point);
          if (wrong !== undefined) expect(`${wrong}: ${point.values.join()} ${point.names}`).toBe("right");
        }
        seen[built > 0 ? "diagram" : "short"]++;
        if (asked > 1) seen.named++;
        if (flow.names.some((names) => names.length > 1)) seen.several++;
        if (left.length > 0) seen.none++;
        for (const turn of turns) seen.turns.add(turn);
        seen.kinds.add(flow.sets.slice(0, 1).join());
      }),
      { numRuns: RUNS },
    );
    vi.restoreAllMocks();
  });

  it("was asked short, long and parted by names, of both families and of whatever becomes of a packet", () => {
    const { kinds, turns, ...counts } = seen;
    expect(Math.min(...Object.values(counts))).toBeGreaterThan(RUNS / 10);
    expect([...kinds].sort()).toEqual(["4,4", "6,6"]);
    expect([...turns].sort()).toEqual(Object.keys(TURNS).sort());
  });

  it("names the match that fits, where each rule is told from all others", () => {
    let matched = 0;
    fc.assert(
      fc.property(LISTS, flowsOn(2, true), fc.nat(), (rules, { flow }, seed) => {
        const { decided } = new RuleList<Line>(rules).split(flow, new Meter(Number.POSITIVE_INFINITY));
        for (const point of pointsOf(flow, rules, 10, seed)) {
          const piece = decided.find((each) => holds(each.flow, point));
          if (piece === undefined) continue;
          const here = alone(
            flow,
            point,
            point.names.map((name) => [name]),
          );
          expect(piece.rule).toBe(naive(rules, flow, point));
          expect(piece.match.every((test) => mayPass(here, test))).toBe(true);
          matched++;
        }
      }),
      { numRuns: 60 },
    );
    expect(matched).toBeGreaterThan(1000);
  });

  it("decides the same packets whether or not rules that do the same are told apart", () => {
    fc.assert(
      fc.property(LISTS, flowsOn(2, true), (rules, { flow }) => {
        const meter = new Meter(Number.POSITIVE_INFINITY);
        const apart = new RuleList(rules).split(flow, meter);
        const alike = new RuleList(rules, ({ word }) => word).split(flow, meter);
        expect(isSame(apart.left, alike.left)).toBe(true);
        for (const word of [undefined, "accept", "other"]) {
          const by = ({ decided }: typeof apart): readonly Flow[] =>
            decided.flatMap((each) => (each.rule.word === word ? [each.flow] : []));
          expect(isSame(by(apart), by(alike))).toBe(true);
        }
      }),
      { numRuns: 60 },
    );
  });
});
