/**
 * Flows that are no product: which combinations of some variables there are. Where many lines of a list let packets pass, each
 * from some senders to some service, what passed goes on as one flow, and is parted only where somebody looks at these very fields.
 */
import { intersectRanges, normalizeRanges, type Ranges, rangesEqual, rangesWithin } from "../address/index.ts";

/** Which combinations there are, two at least. */
export type Parts = {
  /** Variables of the flow. */
  readonly variables: readonly number[];
  /** Products of values of these, in their order; together they hold every value that the flow has of each. */
  readonly boxes: readonly (readonly Ranges[])[];
};

/** Boxes with no other values of a variable than these. */
export function withinBoxes({ variables, boxes }: Parts, variable: number, set: Ranges): Parts["boxes"] {
  const place = variables.indexOf(variable);
  return boxes.flatMap((box) => {
    const values = box[place] ?? [];
    const inside = intersectRanges(values, set);
    if (inside.length === 0) return [];
    return [rangesEqual(inside, values) ? box : box.with(place, inside)];
  });
}

/** All values at one place of some boxes. */
export function valuesIn(boxes: Parts["boxes"], place: number): Ranges {
  const [first, ...others] = boxes.map((box) => box[place] ?? []);
  if (first !== undefined && others.every((values) => values === first)) return first;
  return normalizeRanges(boxes.flatMap((box) => box[place] ?? []));
}

/** Some boxes of variables of which not all combinations are there; undefined: it is one product. */
export function partsOf(variables: readonly number[], boxes: Parts["boxes"]): Parts | undefined {
  return boxes.length > 1 && variables.length > 1 ? { variables, boxes } : undefined;
}

/** Whether a product over all variables lies in one of the boxes. */
export function isInBoxes({ variables, boxes }: Parts, sets: readonly Ranges[]): boolean {
  return boxes.some((box) => box.every((values, place) => rangesWithin(values, sets[variables[place] ?? -1] ?? [])));
}
