/**
 * Packets that tell of nothing but whose an address was. A router hears no packet that claims to come from an address of its own
 * (kernel fact 7), and sends on none that goes to one; so where it takes another address, packets from and to the old one get
 * through "now" like those of any free address beside it, and those of the new one no longer do. That the router has another
 * address is told beside the differences; who could have claimed it is no news.
 */
import { intersectRanges, type Ranges, rangesOf, single, subtractRanges, unionRanges } from "../address/index.ts";
import type { Alternatives } from "../network/index.ts";
import { type Box, boxesWithout, DESTINATION, matchOf, SOURCE } from "../prove/index.ts";
import type { Found } from "./between.ts";
import { COMPARED } from "./origin.ts";
import { type CompareRequest, SIDES, type TurnedSet } from "./states.ts";
import { type AddressNames, addressNamesOf } from "./words.ts";

/** What is known of addresses on both sides. */
export type BothSides = { readonly [side in "base" | "head"]: AddressNames };

/** An address that a managed device has on the other side and nobody on this one, with those beside it that nobody has. */
type Vacated = { readonly key: bigint; readonly beside: Ranges };

/** Addresses that somebody has on both sides. */
export function steadyAddresses({ base, head }: BothSides): Ranges {
  return rangesOf([...base.owners].flatMap(([key, owner]) => (head.owners.get(key) === owner ? [key] : [])));
}

/** Pieces after which a set is left as it is. */
const MOST = 1000;

/** Sets without packets that only tell whose an address was. `found`: what gets through between their ends. */
export function withoutVacated(
  sets: readonly TurnedSet[],
  found: readonly Pick<Found, "pair" | "base" | "head">[],
  { base, head }: CompareRequest,
): readonly TurnedSet[] {
  if (sets.length === 0) return sets;
  const names = { base: addressNamesOf(base.evaluation), head: addressNamesOf(head.evaluation) };
  const reach = new Map(found.map((each) => [each.pair, each]));
  return sets.flatMap((set) => {
    const { plain = [], answers = [] } = reach.get(set.pair)?.[SIDES[set.change].here] ?? {};
    // What others get through as answers alone is another matter than what needs none before it.
    return leftOf(set, set.kind === "plain" ? plain : [...plain, ...answers], names) ?? [];
  });
}

/**
 * A set without packets from or to addresses that a managed device has on the other side and nobody on this one, where those
 * from or to all free ones beside it get through here, too, needing no more before them (`gets`: all that does between these ends);
 * undefined: nothing is left.
 */
function leftOf(set: TurnedSet, gets: Alternatives, names: BothSides): TurnedSet | undefined {
  const vacated = vacatedFor(set, names);
  if (vacated.length === 0) return set;
  let { boxes } = set;
  for (const field of [SOURCE, DESTINATION])
    for (const each of vacated) boxes = boxes.flatMap((box) => withoutOne(box, field, each, gets));
  return boxes.length === 0 && set.boxes.length > 0 ? undefined : { ...set, boxes };
}

function vacatedFor({ change }: TurnedSet, names: BothSides): readonly Vacated[] {
  const { here, there } = SIDES[change];
  const { owners, spare } = names[here];
  const left = [...names[there].managed].filter(([key]) => !owners.has(key));
  if (left.length === 0) return [];
  const taken = [...owners.keys(), ...left.map(([key]) => key)].reduce<Ranges>(
    (all, key) => unionRanges(all, single(key)),
    spare,
  );
  return left.map(([key, subnet]) => ({ key, beside: subtractRanges(subnet, taken) }));
}

function withoutOne(box: Box, field: number, { key, beside }: Vacated, gets: Alternatives): readonly Box[] {
  const values = box.numbers[field] ?? [];
  if (beside.length === 0 || intersectRanges(values, single(key)).length === 0) return [box];
  const others = matchOf(box.numbers.with(field, beside), COMPARED);
  if (boxesWithout([others], gets, MOST)?.length !== 0) return [box];
  const left = subtractRanges(values, single(key));
  return left.length === 0 ? [] : [{ ...box, numbers: box.numbers.with(field, left) }];
}
