/**
 * Documents that say the same in another order: devices, networks, cables, the two ends of a cable, and neighbouring rules of
 * a list that do the same.
 */
import { isMap, isPair, isScalar, isSeq, type Pair, parseDocument, visit } from "yaml";

/** A whole number below, from a stream. */
export type Random = (limit: number) => number;

/** The same document in another order. */
export function shuffled(text: string, random: Random): string {
  const document = parseDocument(text, { schema: "failsafe" });
  visit(document, {
    Pair(_, { key, value }) {
      const name = isScalar(key) ? key.value : undefined;
      if ((name === "devices" || name === "networks") && isMap(value)) value.items = mixed(value.items, random);
      if (name === "cables" && isSeq(value)) {
        value.items = mixed(value.items, random);
        for (const cable of value.items) if (isSeq(cable)) cable.items = mixed(cable.items, random);
      }
      if (name === "rules" && isSeq(value)) value.items = runsMixed(value.items, random);
    },
  });
  return document.toString({ lineWidth: 0 });
}

function mixed<Item>(items: readonly Item[], random: Random): Item[] {
  const left = [...items];
  const order: Item[] = [];
  while (left.length > 0) order.push(...left.splice(random(left.length), 1));
  return order;
}

/** Rules beside one another with the same action may stand in any order. */
function runsMixed<Item>(rules: readonly Item[], random: Random): Item[] {
  const runs: Item[][] = [];
  let last: string | undefined;
  for (const rule of rules) {
    const action = actionOf(rule);
    if (action !== undefined && action === last) runs.at(-1)?.push(rule);
    else runs.push([rule]);
    last = action;
  }
  return runs.flatMap((run) => mixed(run, random));
}

/** The action of a rule in letters; undefined: it has none of its own. */
function actionOf(rule: unknown): string | undefined {
  if (!isMap(rule)) return undefined;
  const pair = rule.items.find(
    (item): item is Pair => isPair(item) && isScalar(item.key) && item.key.value === "action",
  );
  return pair === undefined ? undefined : String(pair.value);
}
