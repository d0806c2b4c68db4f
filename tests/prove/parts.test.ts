/**
 * Flows of several products against sets of packets told one by one: whatever is done to such a flow does the same to each of
 * its packets, and to no other.
 */
import * as fc from "fast-check";
import { describe, expect, it } from "vitest";
import { normalizeRanges, type Ranges, rangesContain } from "../../src/address/index.ts";
import { Diagram } from "../../src/prove/diagram.ts";
import { DESTINATION, DESTINATION_PORT, NUMBER_FIELDS, SOURCE, UNIVERSES } from "../../src/prove/fields.ts";
import {
  covers,
  cut,
  type Flow,
  flowOf,
  hasPacket,
  moved,
  type NumberTest,
  narrowed,
  productsOf,
  rewritten,
  valuesOf,
  withSet,
} from "../../src/prove/flow.ts";
import { gathered } from "../../src/prove/gathered.ts";
import { Meter } from "../../src/prove/meter.ts";
import { RuleList } from "../../src/prove/rules.ts";

const FIELDS = [SOURCE, DESTINATION, DESTINATION_PORT];
const VALUES = [1n, 2n, 3n, 4n];
const RUNS = 300;
type Packet = readonly bigint[];
const PACKETS: readonly Packet[] = VALUES.flatMap((a) => VALUES.flatMap((b) => VALUES.map((c) => [a, b, c])));

const sets = fc
  .subarray(VALUES, { minLength: 1 })
  .map((values): Ranges => normalizeRanges(values.map((one) => [one, one])));
const products = fc.array(fc.tuple(sets, sets, sets), { minLength: 1, maxLength: 6 });
const tests = fc
  .tuple(fc.constantFrom(...FIELDS), sets)
  .map(([field, within]): NumberTest => ({ kind: "number", field, within }));
const matches = fc.array(tests, { maxLength: 3 });

function productOf(three: readonly Ranges[]): Flow {
  return three.reduce((flow, set, place) => withSet(flow, FIELDS[place] ?? -1, set), flowOf(UNIVERSES[0] ?? []));
}

/** Products as one flow. */
function oneOf(list: readonly (readonly Ranges[])[]): Flow {
  const [flow, ...others] = gathered(list.map(productOf), 2);
  if (flow === undefined || others.length > 0) throw new Error(`${others.length + 1} flows`);
  return flow;
}

function isIn(flow: Flow, packet: Packet): boolean {
  return productsOf(flow).some((product) =>
    packet.every((value, place) => rangesContain(valuesOf(product, FIELDS[place] ?? -1), value)),
  );
}

function packetsOf(...flows: readonly (Flow | undefined)[]): readonly Packet[] {
  return PACKETS.filter((packet) => flows.some((flow) => flow !== undefined && isIn(flow, packet)));
}

function passes(packet: Packet, match: readonly NumberTest[]): boolean {
  return match.every(({ field, within }) => rangesContain(within, packet[FIELDS.indexOf(field)] ?? 0n));
}

describe("flows of several products", () => {
  it("hold the packets of each, and tell every value of a field that one of them has", () => {
    fc.assert(
      fc.property(products, (list) => {
        const flow = oneOf(list);
        expect(packetsOf(flow)).toEqual(packetsOf(...list.map(productOf)));
        for (const [place, field] of FIELDS.entries()) {
          const there = VALUES.filter((value) => packetsOf(flow).some((packet) => packet[place] === value));
          expect(VALUES.filter((value) => rangesContain(valuesOf(flow, field), value))).toEqual(there);
        }
        const first = flow.sets.map(([pair]) => pair?.[0] ?? -1n);
        for (const packet of PACKETS) {
          const values = NUMBER_FIELDS.map((_, field) => packet[FIELDS.indexOf(field)] ?? first[field] ?? -1n);
          expect(hasPacket(flow, values)).toBe(isIn(flow, packet));
        }
      }),
      { numRuns: RUNS },
    );
  });

  it("are narrowed and cut packet by packet", () => {
    let parted = 0;
    fc.assert(
      fc.property(products, matches, (list, match) => {
        const flow = oneOf(list);
        const { hit, rest } = cut(flow, match);
        expect(packetsOf(hit)).toEqual(packetsOf(flow).filter((packet) => passes(packet, match)));
        expect(packetsOf(...rest)).toEqual(packetsOf(flow).filter((packet) => !passes(packet, match)));
        for (const packet of packetsOf(...rest)) expect(rest.filter((each) => isIn(each, packet))).toHaveLength(1);
        const [test] = match;
        if (test !== undefined)
          expect(packetsOf(narrowed(flow, test.field, test.within))).toEqual(
            packetsOf(flow).filter((packet) => passes(packet, [test])),
          );
        if (hit?.parts !== undefined) parted++;
      }),
      { numRuns: RUNS },
    );
    expect(parted).toBeGreaterThan(RUNS / 10);
  });

  it("cover what they hold all of, and nothing else", () => {
    let [held, apart] = [0, 0];
    fc.assert(
      fc.property(products, products, (list, other) => {
        const [outer, inner] = [oneOf([...list, ...other.slice(1)]), oneOf(other)];
        const left = packetsOf(inner).filter((packet) => !isIn(outer, packet));
        if (covers(outer, inner)) expect(left).toEqual([]);
        for (const product of list) expect(covers(outer, productOf(product))).toBe(true);
        if (covers(outer, inner)) held++;
        else apart++;
      }),
      { numRuns: RUNS },
    );
    expect(Math.min(held, apart)).toBeGreaterThan(RUNS / 20);
  });

  it("cover by what a field was rewritten to only where that is one and the same", () => {
    const two: readonly (readonly Ranges[])[] = [
      [[[1n, 1n]], [[1n, 1n]], [[1n, 4n]]],
      [[[2n, 2n]], [[2n, 2n]], [[1n, 4n]]],
    ];
    const flow = oneOf(two);
    const shown = rewritten(flow, SOURCE, [[9n, 9n]]);
    expect(covers(shown, rewritten(flow, SOURCE, [[9n, 9n]]))).toBe(true);
    expect(covers(shown, rewritten(productOf([[[1n, 1n]], [[2n, 2n]], [[1n, 1n]]]), SOURCE, [[9n, 9n]]))).toBe(false);
    expect(packetsOf(narrowed(moved(flow, DESTINATION, 1n), DESTINATION, [[2n, 2n]]))).toHaveLength(4);
  });

  it("are decided by lists, short and long, as each of their packets is", () => {
    const rules = fc.array(matches, { minLength: 1, maxLength: 30 });
    fc.assert(
      fc.property(products, rules, (list, lines) => {
        const flow = oneOf(list);
        const all = lines.map((match, at) => ({
          id: at,
          when: [
            match.map(({ field, within }) => ({ field: NUMBER_FIELDS[field] ?? "source", within, origin: ORIGIN })),
          ],
        }));
        const { decided, left } = new RuleList(all).split(flow, new Meter(Infinity));
        for (const packet of PACKETS) {
          const expected = isIn(flow, packet) ? lines.findIndex((match) => passes(packet, match)) : undefined;
          const found = decided.filter((piece) => isIn(piece.flow, packet)).map(({ rule }) => rule.id);
          const unmet = left.filter((piece) => isIn(piece, packet)).map(() => -1);
          expect([...found, ...unmet]).toEqual(expected === undefined ? [] : [expected]);
        }
      }),
      { numRuns: RUNS },
    );
  });

  it("are parted by a diagram as each of their packets is, whatever was parted before", () => {
    const isLeft = (lines: readonly (readonly NumberTest[])[], packet: Packet): boolean =>
      !lines.some((match) => passes(packet, match));
    let several = 0;
    fc.assert(
      fc.property(products, fc.array(matches, { minLength: 1, maxLength: 8 }), (list, lines) => {
        const flow = oneOf(list);
        const diagram = new Diagram(
          flow,
          lines.map((match) => ({ match })),
          new Meter(Infinity),
        );
        const found = diagram.all();
        for (const packet of PACKETS) {
          const expected = isIn(flow, packet) ? [lines.findIndex((match) => passes(packet, match))] : [];
          expect(found.filter((piece) => isIn(piece.flow, packet)).map(({ match }) => match)).toEqual(expected);
        }
        const left = packetsOf(diagram.anyLeft());
        expect(left.filter((packet) => !isIn(flow, packet) || !isLeft(lines, packet))).toEqual([]);
        expect(left.length > 0).toBe(packetsOf(flow).some((packet) => isLeft(lines, packet)));
        if (flow.parts !== undefined && found.length > 2) several++;
      }),
      { numRuns: RUNS },
    );
    expect(several).toBeGreaterThan(RUNS / 10);
  });

  it("stay apart where more than their sets tell them apart", () => {
    const [one, other] = [
      productOf([[[1n, 1n]], [[1n, 1n]], [[1n, 1n]]]),
      productOf([[[2n, 2n]], [[2n, 2n]], [[1n, 1n]]]),
    ];
    expect(gathered([one, other], 2)).toHaveLength(1);
    expect(gathered([one, rewritten(other, SOURCE, [[9n, 9n]])], 2)).toHaveLength(2);
    expect(gathered([one, flowOf(UNIVERSES[1] ?? [])], 2)).toHaveLength(2);
  });
});

const ORIGIN = { by: "written", span: { file: 0, start: 0, end: 0 } } as const;
