/**
 * Flows that live on: what is newly forbidden may belong to a connection that is open already, and the list that stops
 * new packets may still accept those of an open connection (semantics, section 4: state survives a change).
 */
import type { Condition, FateClass, FilterTable, Id, Network, PathStep, Witness } from "../network/index.ts";
import { type Box, boxesOf, splitFilter } from "../prove/index.ts";
import { type Names, nameAt } from "../result/index.ts";

/** A sentence on open connections; undefined: they end with the change, or there is no state. */
export function tellLiving(stopped: FateClass, before: FateClass, network: Network, names: Names): string | undefined {
  const { fate, path, witness } = stopped;
  const isFiltered = (fate.end === "dropped" || fate.end === "refused") && fate.reason === "filter";
  const wasTracked = before.path.some(({ did, at }) => did === "track" && at === fate.at);
  if (!isFiltered || !wasTracked) return undefined;
  const table = network.tables.find((each): each is FilterTable => each.kind === "filter" && decides(each, stopped));
  const [established] = table === undefined ? [] : splitFilter(table, asEstablished(witness, path, fate.at, network));
  if (established === undefined || established.action.do !== "accept") return undefined;
  return `connections that are open already live on until they end: ${nameAt(established.origin, names) ?? "the list"} accepts them`;
}

function decides({ rules, otherwise }: FilterTable, { fate }: FateClass): boolean {
  return otherwise.origin === fate.origin || rules.some(({ origin }) => origin === fate.origin);
}

/** The same packet in an open connection, where it was stopped. */
function asEstablished(witness: Witness, path: readonly PathStep[], at: Id, network: Network): Box {
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
