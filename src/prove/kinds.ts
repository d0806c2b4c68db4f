/**
 * Packets of all kinds at once. Kinds of protocols are universes apart, since TCP has ports that others lack, and yet most
 * stacks send all of them the same way: as long as nobody looks at a field that tells kinds apart, one flow stands for all
 * kinds of a family. Such a flow holds every value of these fields, those of no kind at all among them, so that it is parted by
 * kind before a step that looks at one of them (`steps.ts`), and where its packets are told.
 */
import { type Ranges, rangeOf, rangesEqual } from "../address/index.ts";
import {
  DESTINATION_PORT,
  FAMILY,
  ICMP_CODE,
  ICMP_TYPE,
  NUMBER_FIELDS,
  PROTOCOL,
  SOURCE_PORT,
  TCP_FLAGS,
  UNIVERSES,
} from "./fields.ts";
import type { Flow, Test } from "./flow.ts";

/** Fields that tell kinds apart, each with all the values that it has in any of them. */
const TELLING: ReadonlyMap<number, Ranges> = new Map([
  [PROTOCOL, rangeOf(0n, 255n)],
  [SOURCE_PORT, rangeOf(-1n, 65_535n)],
  [DESTINATION_PORT, rangeOf(-1n, 65_535n)],
  [ICMP_TYPE, rangeOf(-1n, 255n)],
  [ICMP_CODE, rangeOf(-1n, 255n)],
  [TCP_FLAGS, rangeOf(-1n, 255n)],
]);

const ANY_PROTOCOL = TELLING.get(PROTOCOL);

/** Whether a flow stands for packets of all kinds. */
export function isOfAllKinds({ sets }: Flow): boolean {
  return sets[PROTOCOL] === ANY_PROTOCOL;
}

/** Whether a test tells kinds apart. */
export function tellsKinds(test: Test): boolean {
  return test.kind === "number" && TELLING.has(test.field);
}

/** A flow by kind, TCP first; one of a single kind as it is. */
export function kindsOf(flow: Flow): readonly Flow[] {
  if (!isOfAllKinds(flow)) return [flow];
  const { sets, names, view, parts } = flow;
  for (const [field, all] of TELLING)
    if (sets[field] !== all || view[field]?.variable !== field)
      throw new Error(`packets of all kinds were parted by \`${NUMBER_FIELDS[field]}\`, which tells kinds apart`);
  return universesLike(sets).map((universe) => ({
    sets: sets.map((set, variable) => (TELLING.has(variable) ? (universe[variable] ?? set) : set)),
    names,
    view,
    parts,
  }));
}

function universesLike(sets: Flow["sets"]): typeof UNIVERSES {
  return UNIVERSES.filter((universe) => universe[FAMILY]?.[0]?.[0] === sets[FAMILY]?.[0]?.[0]);
}

/** Packets with flows among them: those that differ in nothing but that they are of one kind each, and of all of these, in one. */
export function ofAllKinds<Holding extends { readonly flow: Flow }>(
  all: readonly Holding[],
  areAlike: (a: Holding, b: Holding) => boolean,
): readonly Holding[] {
  const taken = new Set<Holding>();
  return all.flatMap((first): readonly Holding[] => {
    if (taken.has(first)) return [];
    const universes = universesLike(first.flow.sets);
    if (!universes.some((universe) => differsInKind(first.flow, first.flow, universe))) return [first];
    const others = universes.map((universe) =>
      all.find((each) => !taken.has(each) && areAlike(each, first) && differsInKind(each.flow, first.flow, universe)),
    );
    if (others.length < 2 || others.includes(undefined)) return [first];
    for (const each of others) if (each !== undefined) taken.add(each);
    const sets = first.flow.sets.map((set, variable) => TELLING.get(variable) ?? set);
    return [{ ...first, flow: { ...first.flow, sets } }];
  });
}

/** Whether a flow holds all packets of one kind that are like those of another flow otherwise. */
function differsInKind(flow: Flow, like: Flow, universe: readonly Ranges[]): boolean {
  if (flow.view !== like.view || flow.names !== like.names || flow.sets.length !== NUMBER_FIELDS.length) return false;
  return flow.sets.every((set, variable) => {
    const wanted = TELLING.has(variable) ? universe[variable] : like.sets[variable];
    return wanted !== undefined && rangesEqual(set, wanted);
  });
}
