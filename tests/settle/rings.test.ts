import fc from "fast-check";
import { expect, test } from "vitest";
import { cyclicParts, type Edge, ringEdges } from "../../src/settle/rings.ts";

const SIZE = 6;
const edges = fc.array(fc.record({ a: fc.nat(SIZE - 1), b: fc.nat(SIZE - 1) }), { maxLength: 10 });

/** Whether there is a way from one vertex to another, each edge taken as its ends say. */
function leads(list: readonly Edge[], from: number, to: number, directed: boolean): boolean {
  const seen = new Set([from]);
  for (const vertex of seen) {
    for (const { a, b } of list) {
      if (a === vertex) seen.add(b);
      if (!directed && b === vertex) seen.add(a);
    }
  }
  return seen.has(to);
}

/** Whether a way along an edge, in either direction, that never turns back on the edge it came by leads along it again. */
function comesBack(list: readonly Edge[], edge: number): boolean {
  const arcs = list.flatMap(({ a, b }, index) => [
    { from: a, to: b, index, isBack: false },
    { from: b, to: a, index, isBack: true },
  ]);
  const onward = arcs.flatMap((one, at) =>
    arcs.flatMap((next, to) =>
      next.from === one.to && (next.index !== one.index || next.isBack === one.isBack) ? [{ a: at, b: to }] : [],
    ),
  );
  const begins = onward.filter(({ a }) => arcs[a]?.index === edge);
  return begins.some(({ a, b }) => leads(onward, b, a, true));
}

test("an edge lies on a ring, or between two, when a way that never turns back leads along it again", () => {
  fc.assert(
    fc.property(edges, (list) => {
      const naive = list.flatMap((_, index) => (comesBack(list, index) ? [index] : []));
      expect([...ringEdges(SIZE, list)].sort((a, b) => a - b)).toEqual(naive);
    }),
    { seed: 71, numRuns: 400 },
  );
});

test("a vertex is on a closed way when a successor leads back to it", () => {
  fc.assert(
    fc.property(edges, (list) => {
      const successors = Array.from({ length: SIZE }, (_, vertex) =>
        list.filter(({ a }) => a === vertex).map(({ b }) => b),
      );
      const naive = successors.flatMap((next, vertex) =>
        next.some((far) => leads(list, far, vertex, true)) ? [vertex] : [],
      );
      expect(
        cyclicParts(successors)
          .flat()
          .sort((a, b) => a - b),
      ).toEqual(naive);
    }),
    { seed: 71, numRuns: 400 },
  );
});
