/**
 * Which pairs of ends a change cannot matter to: those whose answer looked at nothing that changed. Where nobody can tell
 * what it looked at (sites with tunnels), an answer is known to stand only where nothing but lists of rules and routes
 * changed, none of which it looked at, and everybody has the same leases as before: then whatever links two parts is as it was.
 */
import { ANYWHERE } from "../diagnose/index.ts";
import { Changes, type Evaluation, guestLinksOf } from "../evaluate/index.ts";
import type { Group, Id, Network, Part } from "../network/index.ts";
import type { Reach } from "./reach.ts";

/** What changed between two states. */
export type Touched = {
  /** Nothing at all. */
  readonly none: boolean;
  /** Ids of lists that changed; absent: other parts changed too. */
  readonly lists?: ReadonlySet<Id>;
  /** In the grain of footprints; whatever the texts did. */
  readonly changes: Changes;
};

/** Compares two states part by part, by their digests. */
export function touchedBetween(base: Evaluation, head: Evaluation): Touched {
  const others = partsOf(base.network, head.network).some(([before, after]) => changed(before, after).size > 0);
  const lists = changed(base.network.tables, head.network.tables);
  const changes = new Changes(base, head, ANYWHERE);
  return { none: !others && lists.size === 0, ...(others ? {} : { lists }), changes };
}

function partsOf(base: Network, head: Network): readonly (readonly [readonly Part[], readonly Part[]])[] {
  const kinds = ["devices", "ports", "links", "bonds", "bridges", "stacks", "services", "groups"] as const;
  return kinds.map((kind) => [base[kind], head[kind]] as const);
}

function changed(before: readonly Part[], after: readonly Part[]): ReadonlySet<Id> {
  const known = new Map(before.map(({ id, digest }) => [id, digest]));
  const here = new Set(after.map(({ id }) => id));
  const gone = before.filter(({ id }) => !here.has(id));
  return new Set([...after.filter(({ id, digest }) => known.get(id) !== digest), ...gone].map(({ id }) => id));
}

/** Whether an answer about this beginner stands after the change. */
export function isUntouched(
  { lists, changes }: Touched,
  { looked, footprint }: Reach,
  from: Group,
  [base, head]: readonly [Evaluation, Evaluation],
): boolean {
  if (!footprint.everything) return !changes.meet(footprint);
  if (lists === undefined || [...lists].some((id) => looked.has(id) || looked.has(ownerOf(id, head.network))))
    return false;
  return leasesOf(base, from) === leasesOf(head, from);
}

/** The stack that a list belongs to: it may be looked at as a whole. */
function ownerOf(list: Id, { stacks }: Network): Id {
  return stacks.find(({ id }) => list.startsWith(`${id.split("/")[0]}/`))?.id ?? list;
}

function leasesOf(evaluation: Evaluation, from: Group): string {
  const { worlds } = evaluation.worlds(guestLinksOf(from, evaluation.network));
  return JSON.stringify(
    worlds.map(({ settled }) => settled.bindings.map(({ origin: _, ...binding }) => binding)),
    (_, value: unknown) => (typeof value === "bigint" ? `${value}` : value),
  );
}
