/**
 * Flows that differ in some of their sets as one flow: whatever does not look at these goes once for all of them (`parts.ts`).
 */
import { type Ranges, rangesEqual } from "../address/index.ts";
import { alikeBy } from "./by-key.ts";
import { PROTOCOL } from "./fields.ts";
import { type Flow, kindOf, ofBoxes, productsOf, type Sight, setOf } from "./flow.ts";

/** Fewer flows go on one by one: to compare them costs more than it saves. */
const FEWEST = 4;
/** Boxes of one flow at most: they are compared one by one. */
const MOST_BOXES = 64;

/** Flows with those together whose fields are the same variables, whose names are the same, and which are of one kind and protocol. */
export function gathered(flows: readonly Flow[], fewest: number = FEWEST): readonly Flow[] {
  if (flows.length < fewest) return flows;
  return alikeBy(flows, likenessOf).flatMap(inOne);
}

function likenessOf(flow: Flow): string {
  const { sets, names, view } = flow;
  const protocols = sets[PROTOCOL]?.join("+");
  return [kindOf(flow), protocols, sets.length, names.map((each) => each.join("+")).join(" "), wordOfSights(view)].join(
    "|",
  );
}

/** A word for which variable each field is: the same for views and for lists of sights that say the same. */
export function wordOfSights(sights: readonly Sight[]): string {
  // Hot: thousands of flows share a view.
  const known = words.get(sights);
  if (known !== undefined) return known;
  const word = sights.map(({ variable, plus }) => `${variable}+${plus}`).join(" ");
  words.set(sights, word);
  return word;
}

const words = new WeakMap<readonly Sight[], string>();

/** A word for a set: the same for sets with the same members. */
export function wordOfSet(set: Ranges): string {
  // Hot: most sets are one and the same for thousands of flows.
  const known = wordsOfSets.get(set);
  if (known !== undefined) return known;
  const word = set.join("+");
  wordsOfSets.set(set, word);
  return word;
}

const wordsOfSets = new WeakMap<Ranges, string>();

/** Flows with the same view and names as one, or as a few. */
function inOne(flows: readonly Flow[]): readonly Flow[] {
  const [first] = flows;
  if (first === undefined || flows.length === 1) return flows;
  const products = flows.flatMap(productsOf);
  const differs = (variable: number): boolean =>
    products.some((product) => !rangesEqual(setOf(product, variable), setOf(first, variable)));
  const variables = first.sets.map((_, variable) => variable).filter(differs);
  if (variables.length === 0) return [first];
  const boxes = products.map((product) => variables.map((variable) => setOf(product, variable)));
  const found: Flow[] = [];
  for (let at = 0; at < boxes.length; at += MOST_BOXES) {
    const flow = ofBoxes(first, variables, boxes.slice(at, at + MOST_BOXES));
    if (flow !== undefined) found.push(flow);
  }
  return found;
}
