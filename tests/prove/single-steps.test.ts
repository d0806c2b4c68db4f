/**
 * Filters and routes over boxes against an oracle that reads the conditions for each packet of a tiny universe.
 */
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { keyAddress, prefixContains, type Ranges, ranges, rangesContain } from "../../src/address/index.ts";
import type { Condition, FilterTable, Match, Route, Witness } from "../../src/network/index.ts";
import { type Box, boxesOf, boxHolds, splitFilter, splitRoutes } from "../../src/prove/index.ts";
import { keysOf, packet, tinyUniverse } from "./build.ts";

const origin = { by: "written", span: { file: 0, start: 0, end: 1 } } as const;
const ADDRESSES = ["10.0.0.1", "10.0.0.2", "10.0.1.1", "192.0.2.9", "2001:db8::1"];
const PORTS = [0n, 22n, 80n, 65_535n];
const UNIVERSE = tinyUniverse(ADDRESSES, PORTS);

/** Reads a match as the description says it. */
function fits(match: Match, { numbers, names }: Witness): boolean {
  const values = new Map<string, bigint>(numbers);
  const words = new Map<string, string>(names);
  return match.every((condition) => {
    if ("oneOf" in condition) return condition.oneOf.includes(words.get(condition.field) ?? "");
    const value = values.get(condition.field);
    return value !== undefined && rangesContain(condition.within, value);
  });
}

const keyRanges: fc.Arbitrary<Ranges> = fc
  .subarray(["10.0.0.0/24", "10.0.0.2", "10.0.1.0/24", "192.0.2.0/24", "2001:db8::/32", "0.0.0.0/0"], { minLength: 1 })
  .map(keysOf);
const portRanges: fc.Arbitrary<Ranges> = fc
  .uniqueArray(fc.tuple(fc.constantFrom(...PORTS), fc.constantFrom(0n, 30n, 70_000n)), { minLength: 1, maxLength: 2 })
  .map((pairs) => ranges(...pairs.map(([low, more]) => [low, low + more] as const)));
const condition: fc.Arbitrary<Condition> = fc.oneof(
  fc
    .tuple(fc.constantFrom("source" as const, "destination" as const), keyRanges)
    .map(([field, within]) => ({ field, within, origin })),
  fc
    .tuple(fc.constantFrom("sourcePort" as const, "destinationPort" as const), portRanges)
    .map(([field, within]) => ({ field, within, origin })),
  fc.subarray([1n, 6n, 17n, 47n, 58n], { minLength: 1 }).map((list) => ({
    field: "protocol" as const,
    within: ranges(...list.map((each) => [each, each] as const)),
    origin,
  })),
  fc.constantFrom(0n, 8n).map((type) => ({ field: "icmpType" as const, within: ranges([type, type]), origin })),
  fc.constantFrom(2n, 16n).map((flags) => ({ field: "tcpFlags" as const, within: ranges([flags, flags]), origin })),
  fc.constantFrom(["new"], ["established", "related"]).map((oneOf) => ({ field: "state" as const, oneOf, origin })),
  fc.constantFrom(["a"], ["a", "b"]).map((oneOf) => ({ field: "ingress" as const, oneOf, origin })),
);
const table: fc.Arbitrary<FilterTable> = fc
  .array(fc.array(fc.array(condition, { maxLength: 3 }), { minLength: 1, maxLength: 2 }), { maxLength: 6 })
  .map((rules) => ({
    id: "t",
    origin,
    digest: "",
    kind: "filter",
    rules: rules.map((when, index) => ({ id: `${index}`, origin, when, action: { do: "accept" } })),
    otherwise: { action: { do: "drop" }, origin },
  }));

const STATES = [["", "new"], ["established"]] as const;
const NAMES: Box["names"] = [["a", "b"], [""], [...STATES[0]], [""]];
const situated = (words: readonly [string, string]): readonly Witness[] =>
  UNIVERSE.map(({ numbers }) => packet(Object.fromEntries(numbers), { ingress: words[0], state: words[1] }));
const SITUATED = [...situated(["a", "new"]), ...situated(["b", ""])];

describe("splitFilter", () => {
  it("gives each packet to the first rule that fits, and to no other", () => {
    fc.assert(
      fc.property(table, (filter) => {
        const pieces = boxesOf([[]], NAMES).flatMap((box) => splitFilter(filter, box));
        for (const each of SITUATED) {
          const holding = pieces.filter((piece) => boxHolds(piece.box, each));
          const expected = filter.rules.find((rule) => rule.when.some((match) => fits(match, each)))?.id;
          if (holding.length !== 1 || holding[0]?.rule !== expected) {
            expect({ pieces: holding.length, rule: holding[0]?.rule }).toEqual({ pieces: 1, rule: expected });
          }
        }
      }),
      { numRuns: 60 },
    );
  });

  it("leaves out nothing of the box", () => {
    const filter: FilterTable = {
      id: "t",
      origin,
      digest: "",
      kind: "filter",
      rules: [],
      otherwise: { action: { do: "drop" }, origin },
    };
    const [box] = boxesOf([[]]);
    if (box === undefined) throw new Error("no box");
    expect(splitFilter(filter, box)).toEqual([{ box, ...filter.otherwise }]);
  });
});

describe("boxesOf", () => {
  it("holds a packet exactly once when one of the matches fits", () => {
    fc.assert(
      fc.property(fc.array(fc.array(condition, { maxLength: 3 }), { maxLength: 3 }), (packets) => {
        const boxes = boxesOf(packets, NAMES);
        for (const each of SITUATED) {
          const count = boxes.filter((box) => boxHolds(box, each)).length;
          const expected = packets.some((match) => fits(match, each)) ? 1 : 0;
          if (count !== expected) expect(count).toBe(expected);
        }
      }),
      { numRuns: 60 },
    );
  });

  it("fails a condition on a field that the packet does not have", () => {
    const ports = boxesOf([[{ field: "destinationPort", within: ranges([0n, 65_535n]), origin }]]);
    const protocols = new Set(
      UNIVERSE.filter((each) => ports.some((box) => boxHolds(box, { ...each, names: [] }))).map(({ numbers }) =>
        new Map(numbers).get("protocol"),
      ),
    );
    expect([...protocols].sort()).toEqual([17n, 6n]);
  });
});

const route: fc.Arbitrary<Route> = fc
  .tuple(
    fc.constantFrom("0.0.0.0/0", "10.0.0.0/8", "10.0.0.0/24", "10.0.0.2/32", "10.0.1.0/24", "2001:db8::/32"),
    fc.nat({ max: 2 }),
  )
  .map(([prefix, metric]) => {
    const low = keysOf(prefix)[0]?.[0] ?? 0n;
    const { family, value } = keyAddress(low);
    const length = Number(prefix.split("/")[1]);
    return { id: `${prefix} ${metric}`, origin, family, prefix: value, length, metric, action: { do: "local" } };
  });

/** The longest prefix, then the lowest metric, then the first. */
function naive(routes: readonly Route[], key: bigint): Route | undefined {
  let best: Route | undefined;
  for (const each of routes) {
    const prefix = { family: each.family, value: each.prefix, length: each.length };
    if (!prefixContains(prefix, keyAddress(key))) continue;
    const isBetter =
      best === undefined || each.length > best.length || (each.length === best.length && each.metric < best.metric);
    if (isBetter) best = each;
  }
  return best;
}

describe("splitRoutes", () => {
  it("agrees with a naive longest match on every destination", () => {
    fc.assert(
      fc.property(fc.array(route, { maxLength: 8 }), (routes) => {
        const pieces = boxesOf([[]]).flatMap((box) => splitRoutes(routes, box));
        for (const each of UNIVERSE) {
          const holding = pieces.filter((piece) => boxHolds(piece.box, each));
          const destination = new Map(each.numbers).get("destination") ?? 0n;
          expect(holding.map((piece) => piece.route)).toEqual([naive(routes, destination)]);
        }
      }),
      { numRuns: 20 },
    );
  });
});
