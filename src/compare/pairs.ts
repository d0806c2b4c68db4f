/**
 * Pairs of ends that are compared: those of both states by name, whatever was renamed or replaced.
 */
import { directoryOf } from "../evaluate/index.ts";
import type { Group, Id, Network } from "../network/index.ts";
import { renamedNetworks } from "./alongside.ts";
import { beginnersOf, targetsOf } from "./reach.ts";
import type { CompareRequest, MemberEnd, Pair, PairEnd, State } from "./states.ts";

/** Both states' ends by name, in the order of the head, then what only the base has. */
export function pairsOf(request: CompareRequest): readonly Pair[] {
  const [froms, tos] = [endsOf(request, beginnersOf), endsOf(request, targetsOf)];
  // That those in a network that is new, or gone, reach one another says nothing.
  const isTrivial = ({ from, to }: Pair): boolean =>
    from.id === to.id && (from.base === undefined || from.head === undefined);
  return froms.flatMap((from) => tos.map((to) => ({ from, to }))).filter((pair) => !isTrivial(pair));
}

/** Some ends of both states by name. */
export function endsOf(
  { base, head, replaced }: CompareRequest,
  wanted: (network: Network) => readonly Group[],
): readonly PairEnd[] {
  const names = new Map([...renamedNetworks(base.site, head.site), ...replaced]);
  return matched(wanted(base.evaluation.network), wanted(head.evaluation.network), names);
}

/** Devices that are on both sides, or replaced, by their ids in the base and in the head; none beyond an upstream. */
export function devicesOnBoth({ base, head, replaced }: CompareRequest): readonly (readonly [old: Id, now: Id])[] {
  const successors = new Set(replaced.values());
  return base.evaluation.network.devices.flatMap(({ id, is }) => {
    const now = replaced.get(id) ?? id;
    const isLost = !replaced.has(id) && successors.has(id);
    if (is === "upstream" || isLost || !directoryOf(head.evaluation.network).devices.has(now)) return [];
    return [[id, now] as const];
  });
}

/** A device of one kind on both sides: a `host`, or a `device` of the site that is managed. */
export function deviceEnd(
  [old, now]: readonly [Id, Id],
  wanted: "host" | "device",
  { base, head }: CompareRequest,
): MemberEnd | undefined {
  const groupOf = (id: Id, { evaluation: { network } }: State): Group | undefined =>
    network.groups.find((group) => group.kind === wanted && group.id === id);
  const [before, after] = [groupOf(old, base), groupOf(now, head)];
  return before === undefined || after === undefined ? undefined : { id: now, base: before, head: after };
}

function matched(before: readonly Group[], after: readonly Group[], replaced: ReadonlyMap<string, string>): PairEnd[] {
  const here = new Set(after.map(({ id }) => id));
  const named = new Map<string, Group>();
  // Whoever keeps its name is its own successor, though another one's work goes to it; of several that become one the first is.
  const taken = new Set(replaced.values());
  const stays = before.filter(({ id }) => here.has(id) && !(replaced.has(id) && taken.has(id)));
  for (const group of stays) named.set(group.id, group);
  for (const group of before) {
    const id = replaced.get(group.id) ?? group.id;
    if (!named.has(id) && !stays.includes(group)) named.set(id, group);
  }
  const both = after.map((group): PairEnd => {
    const earlier = named.get(group.id);
    return { id: group.id, head: group, ...(earlier === undefined ? {} : { base: earlier }) };
  });
  const known = new Set(both.map(({ base }) => base));
  return [...both, ...before.flatMap((group): PairEnd[] => (known.has(group) ? [] : [{ id: group.id, base: group }]))];
}
