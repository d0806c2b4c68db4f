/**
 * The internet as an end of exchanges: which address stands for it, and by which upstream what is sent there comes in. With one
 * upstream both are plain. Of several, each serves prefixes of its own (`compile/internet.ts`), and what nobody serves is at
 * each of them; a packet from there is sent at the one that serves its destination, where the answer comes, too.
 */
import {
  type Address,
  addressKey,
  EMPTY_RANGES,
  FAMILY_KEYS,
  type Family,
  intersectRanges,
  isLinkLocal,
  isPublic,
  keyAddress,
  type Prefix,
  PUBLIC_KEYS,
  prefixKeys,
  type Ranges,
  ranges,
  rangesContain,
  subtractRanges,
} from "../address/index.ts";
import { settledStack, type World } from "../evaluate/index.ts";
import {
  beyondId,
  beyondTo,
  deviceOf,
  type Id,
  isBeyond,
  type Network,
  type SettledStack,
  type Stack,
} from "../network/index.ts";
import { wayOf } from "./rest.ts";

/** An address that stands for the internet in exchanges: TEST-NET-2 and the documentation prefix (RFC 5737, RFC 3849). */
const USUAL: Readonly<Record<Family, Address>> = {
  4: { family: 4, value: 0xc6_33_64_01n },
  6: { family: 6, value: 0x2001_0db8_0000_0000_0000_0000_0000_0001n },
};

/** Where another one is looked for that no upstream serves: TEST-NET-1 to 3 (RFC 5737), 2001:db8::/32 (RFC 3849). */
const BLOCKS: Readonly<Record<Family, readonly Prefix[]>> = {
  4: [0xc6_33_64n, 0xc0_00_02n, 0xcb_00_71n].map((value) => ({ family: 4, value: value << 8n, length: 24 })),
  6: [{ family: 6, value: 0x2001_0db8n << 96n, length: 32 }],
};

/** An address of the internet in each family: of several upstreams none serves it, so that it is there whichever of them fails. */
export function internetAddresses(network: Network): readonly Address[] {
  const found = known.get(network) ?? ([4, 6] as const).map((family) => internetAddress(family, network));
  known.set(network, found);
  return found;
}

const known = new WeakMap<Network, readonly Address[]>();

function internetAddress(family: Family, network: Network): Address {
  const served = servedIn(network);
  if (served.length === 0) return USUAL[family];
  const blocks = [...BLOCKS[family].map((block) => ranges(prefixKeys(block))), publicOf(family)];
  for (const block of blocks) {
    const [run] = subtractRanges(block, served);
    // The first address of a prefix is no host's.
    if (run !== undefined) return keyAddress(run[0] < run[1] ? run[0] + 1n : run[0]);
  }
  return USUAL[family];
}

function publicOf(family: Family): Ranges {
  return intersectRanges(PUBLIC_KEYS, ranges(FAMILY_KEYS[family]));
}

/** Upstreams that others are joined to. */
function joinedIn({ stacks }: Network): readonly Stack[] {
  return stacks.filter(({ interfaces }) => interfaces.some(({ id }) => isBeyond(id)));
}

/** Families that somebody on the internet speaks, where several upstreams are on it. */
export function familiesBeyond(network: Network): ReadonlySet<Family> {
  const addresses = joinedIn(network).flatMap(({ interfaces }) => interfaces.flatMap((leg) => leg.addresses));
  return new Set(addresses.flatMap((address) => (isLinkLocal(address) ? [] : [address.family])));
}

/** What several upstreams lead to their customers, or to one another; nothing where there is no other one. */
function servedIn(network: Network): Ranges {
  const { tables } = network;
  const joined = joinedIn(network);
  if (joined.length === 0) return EMPTY_RANGES;
  const ids = new Set(joined.map(({ routes }) => routes));
  const led = tables.flatMap((table) => (table.kind === "routes" && ids.has(table.id) ? table.routes : []));
  return ranges(
    ...led.flatMap(({ family, prefix, length, action }) =>
      action.do === "forward" ? [prefixKeys({ family, value: prefix, length })] : [],
    ),
  );
}

/** Whoever begins, as far as it matters here. */
type Beginner = { readonly stack: Id; readonly within?: Ranges; readonly isInternet?: true };

/** Where a packet begins, and from which address, where that is not as anywhere else. */
type Beginning = { readonly from: Id; readonly source?: Address };

/**
 * How somebody on the internet sends to an address that another upstream serves than the one he is at: from a public address
 * of his own one, to which the answer comes back. Where that has none such on a link that is up, or an address was written that it does not
 * have, he is at the upstream that serves the destination. Undefined: nothing of that is so.
 */
export function beginningBeyond(source: Beginner, address: Address, { settled }: World): Beginning | undefined {
  const { within, isInternet } = source;
  if (within === undefined && isInternet !== true) return undefined;
  const at = settledStack(settled, source.stack);
  const other = at && servingOther(at, address);
  if (at === undefined || other === undefined) return undefined;
  const there = settled.stacks.find(({ interfaces }) => interfaces.some(({ interface: id }) => id === other));
  const isUsable = (own: Address): boolean =>
    within === undefined
      ? isPublic(own) && there !== undefined && leadsTo(at, own, there)
      : rangesContain(within, addressKey(own));
  const usable = at.interfaces
    // Of a link that is down nobody sends, and its customer would answer over that link.
    .flatMap(({ up, addresses }) => (up ? addresses : []))
    .find((own) => own.family === address.family && isUsable(own));
  if (usable !== undefined) return { from: at.stack, source: { family: usable.family, value: usable.value } };
  return { from: there?.stack ?? at.stack };
}

/** Whether an upstream leads what is sent to an address of another one there: what both serve stays with each of them. */
function leadsTo({ interfaces }: SettledStack, own: Address, there: SettledStack): boolean {
  const far = servingOther(there, own);
  return interfaces.some(({ interface: id }) => id === far);
}

/** The far end of the way to another upstream that serves an address; undefined: none does. */
function servingOther(stack: SettledStack, address: Address): Id | undefined {
  const way = wayOf(stack, address);
  return way === undefined || !isBeyond(way.egress) ? undefined : beyondId(beyondTo(way.egress), deviceOf(way.egress));
}
