/**
 * Flows that live on: what is newly forbidden may belong to a connection that is open already, and the list that stops
 * new packets may still accept those of an open connection (semantics, section 4: state survives a change).
 */
import type { Condition, FateClass, FilterTable, Id, Network, PathStep } from "../network/index.ts";
import { type Box, boxesOf, splitFilter } from "../prove/index.ts";
import { nameAt } from "../result/index.ts";
import type { OtherFate, Passes, Side } from "./decisions.ts";
import { forwardAt } from "./forwards.ts";

/**
 * A sentence on open connections; undefined: they end with the change, or there is no state. They are led as they were when
 * they began, so every list that a packet passed before the change is asked, or the one that stops it where there was none.
 */
export function tellLiving(
  { found: before, on: { network: earlier } }: Passes,
  after: OtherFate & { readonly on: Side },
): string | undefined {
  const { network, names } = after.on;
  const at = turnedAt(before, after, [earlier, network]);
  if (at === undefined || !isTracked(before, at)) return undefined;
  const stopping = network.tables.find(
    (table): table is FilterTable => isFilter(table) && decides(table, after.found.fate),
  );
  const passed = before.path.flatMap(({ did, at: place, origin }, index) => {
    const tracked = did === "filter" && isTracked({ path: before.path.slice(0, index) }, place);
    const table = tracked ? listOf(earlier, network, origin) : undefined;
    return table === undefined ? [] : [{ place, table }];
  });
  const isNew = stopping !== undefined && passed.every(({ place }) => place !== at);
  const asked = [...(isNew ? [{ place: at, table: stopping }] : []), ...passed];
  const letBy = asked
    .toSorted((a, b) => Number(b.place === at) - Number(a.place === at))
    .map(({ place, table }) => {
      const [rule] = splitFilter(table, asEstablished(before, place, network));
      return rule?.action.do === "accept" ? rule.origin : undefined;
    });
  const [first] = letBy;
  if (first === undefined || letBy.includes(undefined)) return undefined;
  return `connections that are open already live on until they end: ${nameAt(first, names) ?? "the list"} accepts them`;
}

/** The stack where a packet is filtered now, or has another forward than before; undefined: something else is the matter. */
function turnedAt(
  before: FateClass,
  { found: { fate, path }, elsewhere }: OtherFate,
  [earlier, network]: readonly [Network, Network],
): Id | undefined {
  if (elsewhere === undefined)
    return (fate.end === "dropped" || fate.end === "refused") && fate.reason === "filter" ? fate.at : undefined;
  const forwarded = [
    ...before.path.filter((step) => forwardAt(step, earlier) !== undefined),
    ...path.filter((step) => forwardAt(step, network) !== undefined),
  ];
  return forwarded[0]?.at;
}

function isTracked({ path }: { readonly path: readonly PathStep[] }, place: Id): boolean {
  return path.some(({ did, at }) => did === "track" && at === place);
}

function isFilter(table: Network["tables"][number]): table is FilterTable {
  return table.kind === "filter";
}

function decides({ rules, otherwise }: FilterTable, { origin: decided }: Pick<PathStep, "origin">): boolean {
  return otherwise.origin === decided || rules.some(({ origin }) => origin === decided);
}

/** The list of the other side in the place of one that a line of this side stands in. */
function listOf(here: Network, there: Network, origin: PathStep["origin"]): FilterTable | undefined {
  const list = here.tables.find((table) => isFilter(table) && decides(table, { origin }));
  return there.tables.find((table): table is FilterTable => isFilter(table) && table.id === list?.id);
}

/** The same packet in an open connection, as it comes to the lists of a stack. */
function asEstablished({ witness, path }: FateClass, at: Id, network: Network): Box {
  const match = witness.numbers.map(
    ([field, value]): Condition => ({ field, within: [[value, value]], origin: NOWHERE }),
  );
  const legs = network.stacks.find(({ id }) => id === at)?.interfaces.map(({ id }) => id) ?? [];
  const ingress = path.findLast(({ did, at: place }) => did === "enter" && legs.includes(place))?.at ?? "";
  const route = path.findLast(({ did, at: place }) => did === "route" && place === at)?.detail ?? "";
  const egress = legs.find((leg) => route === leg || route.startsWith(`${leg} `)) ?? "";
  const [box] = boxesOf([match], [[ingress], [egress], ["established"], [""]]);
  if (box === undefined) throw new Error("a witness that is no packet");
  return box;
}

const NOWHERE = { by: "default", rule: "a witness", source: "dryrack", span: { file: 0, start: 0, end: 0 } } as const;
