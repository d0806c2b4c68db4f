/**
 * Routes as ways: every address leads where its route leads, and only routes to one and the same next hop are ever one.
 */
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { FAMILY_KEYS, keyAddress, prefixContains } from "../../src/address/index.ts";
import type { Route, RouteAction } from "../../src/network/index.ts";
import { stretchesOf, waysOf } from "../../src/prove/routes.ts";
import { type Stretch, valueAt } from "../../src/prove/stretches.ts";

const origin = { by: "written", span: { file: 0, start: 0, end: 1 } } as const;
const refusal = { answer: { kind: "silent" }, from: "towards-sender" } as const;

const hop = fc.record({
  egress: fc.constantFrom("r/a", "r/b"),
  via: fc.option(fc.constantFrom(1n, 2n), { nil: undefined }),
});
const hops = (minLength: number, maxLength: number): fc.Arbitrary<RouteAction> =>
  fc.array(hop, { minLength, maxLength }).map((all) => ({
    do: "forward",
    hops: all.map(({ egress, via }) => ({ egress, ...(via === undefined ? {} : { via }) })),
  }));
const action: fc.Arbitrary<RouteAction> = fc.oneof(
  { weight: 6, arbitrary: hops(1, 1) },
  { weight: 1, arbitrary: hops(2, 3) },
  { weight: 1, arbitrary: fc.constant<RouteAction>({ do: "local" }) },
  {
    weight: 1,
    arbitrary: fc
      .constantFrom("blackhole" as const, "unreachable" as const)
      .map((reason): RouteAction => ({ do: "refuse", reason, with: refusal })),
  },
);

/** Prefixes near one another, so that they nest, touch and are alike. */
const routes: fc.Arbitrary<readonly Route[]> = fc
  .array(
    fc.record({
      family: fc.constantFrom(4 as const, 4 as const, 6 as const),
      number: fc.nat({ max: 31 }),
      drop: fc.nat({ max: 6 }),
      isDefault: fc.nat({ max: 9 }).map((draw) => draw === 0),
      metric: fc.nat({ max: 2 }),
      action,
    }),
    { maxLength: 50, size: "max" },
  )
  .map((all) =>
    all.map(({ family, number, drop, isDefault, metric, action }, index): Route => {
      const width = family === 4 ? 32 : 128;
      const length = isDefault ? 0 : width - drop;
      const low = (10n << BigInt(width - 8)) + BigInt(number);
      const prefix = length === 0 ? 0n : (low >> BigInt(drop)) << BigInt(drop);
      return { id: `${index}`, origin, family, prefix, length, metric, action };
    }),
  );

/** Both ends of every stretch, and the addresses beside them. */
function keysBeside(...all: readonly (readonly Stretch<Route>[])[]): readonly bigint[] {
  const ends = all.flat().flatMap(({ low, high }) => [low - 1n, low, low + 1n, high - 1n, high, high + 1n]);
  return [...new Set(ends)];
}

const inFamilies = (key: bigint): boolean =>
  ([4, 6] as const).some((family) => FAMILY_KEYS[family][0] <= key && key <= FAMILY_KEYS[family][1]);

/** The longest prefix, then the lowest metric, then the first. */
function naive(all: readonly Route[], key: bigint): Route | undefined {
  const address = keyAddress(key);
  const fitting = all.filter(({ family, prefix, length }) =>
    prefixContains({ family, value: prefix, length }, address),
  );
  return fitting.reduce<Route | undefined>((best, each) => {
    if (best === undefined || each.length > best.length) return each;
    return each.length === best.length && each.metric < best.metric ? each : best;
  }, undefined);
}

/** Where a route with one next hop leads; undefined: it is a choice, or leads nowhere. */
function onlyHop(route: Route | undefined): unknown {
  if (route?.action.do !== "forward" || route.action.hops.length !== 1) return undefined;
  return { family: route.family, hop: route.action.hops[0] };
}

describe("ways", () => {
  it("lead every address where its route leads, and only routes to one next hop are one", () => {
    const seen = { merged: 0, kept: 0, fewer: 0 };
    fc.assert(
      fc.property(routes, (all) => {
        const stretches = stretchesOf(all);
        const ways = waysOf(stretches);
        for (const key of keysBeside(stretches, ways).filter(inFamilies)) {
          const route = valueAt(stretches, key);
          const way = valueAt(ways, key);
          expect(route).toBe(naive(all, key));
          if (onlyHop(route) === undefined) {
            expect(way).toBe(route);
            seen.kept++;
          } else {
            expect(onlyHop(way)).toEqual(onlyHop(route));
            if (way !== route) seen.merged++;
          }
        }
        if (ways.length < stretches.length) seen.fewer++;
      }),
      { numRuns: 150 },
    );
    expect(Math.min(...Object.values(seen))).toBeGreaterThan(50);
  });

  it("are one route for one next hop, and no longer than they have to be", () => {
    fc.assert(
      fc.property(routes, (all) => {
        const ways = waysOf(stretchesOf(all));
        const words = ways.flatMap(({ value }) => {
          const only = onlyHop(value);
          return only === undefined || value === undefined ? [] : [[JSON.stringify(only, inWords), value.id] as const];
        });
        expect(new Map(words).size).toBe(new Set(words.map(([, id]) => id)).size);
        for (const [at, { low, value }] of ways.entries()) {
          const before = ways[at - 1];
          if (before !== undefined && before.high + 1n === low) expect(before.value).not.toBe(value);
        }
      }),
      { numRuns: 100 },
    );
  });

  it("fill both families without a gap, in order", () => {
    fc.assert(
      fc.property(routes, (all) => {
        for (const stretches of [stretchesOf(all), waysOf(stretchesOf(all))]) {
          let next = FAMILY_KEYS[4][0];
          for (const { low, high } of stretches) {
            expect(low).toBe(next);
            expect(high).toBeGreaterThanOrEqual(low);
            next = high === FAMILY_KEYS[4][1] ? FAMILY_KEYS[6][0] : high + 1n;
          }
          expect(next).toBe(FAMILY_KEYS[6][1] + 1n);
        }
      }),
      { numRuns: 60 },
    );
  });
});

function inWords(_key: string, value: unknown): unknown {
  return typeof value === "bigint" ? `${value}` : value;
}
