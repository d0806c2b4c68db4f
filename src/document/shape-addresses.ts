/**
 * Shapes of lists of addresses: ends of packets, and lists that may also be the word `none`.
 */
import { addressOrName, target } from "./leaf-addresses.ts";
import { mapped, type Shape } from "./shape.ts";
import { list } from "./shape-collection.ts";
import type { AddressesOrNone, List, Located, Target } from "./values.ts";

/** What packets come from or go to, one or several. */
export const targets: Shape<List<Target>> = list(
  target,
  "an address, a prefix, a range, `internet`, a name, or a list of these",
  1,
);

/** Addresses or names of who owns them, or `none`, whose meaning here is given. */
export function addressesOrNone(says: string, none: string): Shape<Located<AddressesOrNone>> {
  const shape = mapped(
    list(addressOrName, says, 1),
    ({ value, span }, node): Located<AddressesOrNone> =>
      node.kind === "text" && node.text === "none"
        ? { value: { by: "none" }, span }
        : { value: { by: "list", items: value }, span },
  );
  return { ...shape, words: [{ word: "none", says: none }] };
}
