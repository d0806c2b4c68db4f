/**
 * Boxes: sets of packets as plain products of ranges over the fields of a packet, for whoever asks the prover for
 * single steps. Inside the prover they travel as flows.
 */
import type { Ranges } from "../address/index.ts";
import { rangesContain, rangesEqual } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Alternatives, Condition, Match, Witness } from "../network/index.ts";
import { FAMILY, NAME_FIELDS, NO_NAME, NUMBER_FIELDS, PROTOCOL, UNIVERSES, universeOf } from "./fields.ts";
import { cut, type Flow, flowOf, NO_NAMES, passing, testsOf } from "./flow.ts";

/** A product of sets, never empty. */
export type Box = {
  /** Values of each number field, in the order of `NUMBER_FIELDS`; [-1, -1] for a field that these packets do not have. */
  readonly numbers: readonly Ranges[];
  /** Words of each name field, in the order of `NAME_FIELDS`: "" for none; `translated` is one of "", "source", "destination" and "both". */
  readonly names: readonly (readonly string[])[];
};

/** The packets that fit, as disjoint boxes; `names` says where they stand (default: nowhere). */
export function boxesOf(packets: Alternatives, names: Box["names"] = NO_NAMES): readonly Box[] {
  return flowsOf(packets, names).map(boxOf);
}

/** The packets that fit, as disjoint flows. */
export function flowsOf(packets: Alternatives, names: Box["names"] = NO_NAMES): readonly Flow[] {
  let left: readonly Flow[] = UNIVERSES.map((sets) => flowOf(sets, names));
  const fitting: Flow[] = [];
  for (const match of packets.slice(0, -1)) {
    const tests = testsOf(match);
    left = left.flatMap((flow) => {
      const { hit, rest } = cut(flow, tests);
      if (hit !== undefined) fitting.push(hit);
      return rest;
    });
  }
  // What the last one leaves nobody asks for.
  const last = packets.slice(-1).map(testsOf);
  return [...fitting, ...last.flatMap((tests) => left.flatMap((flow) => passing(flow, tests) ?? []))];
}

/** A flow as it was sent. */
export function boxOf(flow: Flow): Box {
  return { numbers: flow.sets.slice(0, NUMBER_FIELDS.length), names: flow.names };
}

/** Whether one packet lies in a box: every field that it names does, and it names no field that is absent there. */
export function boxHolds(box: Box, packet: Witness): boolean {
  const numbers = new Map(packet.numbers);
  const names = new Map(packet.names);
  return (
    NUMBER_FIELDS.every((field, index) => rangesContain(box.numbers[index] ?? [], numbers.get(field) ?? -1n)) &&
    NAME_FIELDS.every((field, index) => (box.names[index] ?? []).includes(names.get(field) ?? NO_NAME))
  );
}

/** The packets of one set that are not in another, as disjoint boxes; undefined: more than so many. */
export function boxesWithout(packets: Alternatives, others: Alternatives, most: number): readonly Box[] | undefined {
  let left = flowsOf(packets);
  for (const match of others) {
    const tests = testsOf(match);
    left = left.flatMap((flow) => cut(flow, tests).rest);
    if (left.length > most) return undefined;
  }
  return left.map(boxOf);
}

/** The packets of products as they were sent: family, protocol, and each further field that does not hold every value. */
export function matchOf(numbers: readonly Ranges[], origin: Origin): Match {
  const universe = universeOf(numbers);
  const match: Condition[] = [];
  for (const [index, field] of NUMBER_FIELDS.entries()) {
    const within = numbers[index] ?? [];
    const isStated = index === FAMILY || index === PROTOCOL;
    if (isStated || !rangesEqual(within, universe[index] ?? [])) match.push({ field, within, origin });
  }
  return match;
}
