/**
 * The internet as the beginning of exchanges: by which upstream what is sent there comes in, and from which address. With one
 * upstream the former is plain. Of several, each serves prefixes of its own (`compile/internet.ts`), and what nobody serves is at
 * each of them; a packet from there is sent at the one that serves its destination, where the answer comes, too.
 */
import { type Address, addressKey, type Family, isLinkLocal, type Ranges, rangesContain } from "../address/index.ts";
import { settledStack } from "../evaluate/index.ts";
import {
  beyondId,
  beyondTo,
  deviceOf,
  type Id,
  internetAddresses,
  isBeyond,
  type Network,
  type Settled,
  type SettledStack,
} from "../network/index.ts";
import { wayOf } from "./rest.ts";

/** Families that somebody on the internet speaks, where several upstreams are on it. */
export function familiesBeyond({ stacks }: Network): ReadonlySet<Family> {
  const joined = stacks.filter(({ interfaces }) => interfaces.some(({ id }) => isBeyond(id)));
  const addresses = joined.flatMap(({ interfaces }) => interfaces.flatMap((leg) => leg.addresses));
  return new Set(addresses.flatMap((address) => (isLinkLocal(address) ? [] : [address.family])));
}

/** Whoever begins, as far as it matters here. */
type Beginner = { readonly stack: Id; readonly within?: Ranges; readonly isInternet?: true };

/** Where a packet begins, and from which address, where that is not as anywhere else. */
type Beginning = { readonly from: Id; readonly source?: Address };

/** Where it is asked: the site at rest, and what it is described by. */
type At = { readonly settled: Settled; readonly network: Network };

/**
 * How somebody on the internet sends: from the address that stands for it, at the upstream that serves the destination, where the
 * answer comes, too; somebody at an address that was written is at that one, unless the upstream has it itself. Undefined: as anywhere else.
 */
export function beginningBeyond(source: Beginner, address: Address, { settled, network }: At): Beginning | undefined {
  const { within, isInternet } = source;
  if (within === undefined && isInternet !== true) return undefined;
  const at = settledStack(settled, source.stack);
  if (at === undefined) return undefined;
  const other = servingOther(at, address);
  const from = settled.stacks.find(({ interfaces }) => interfaces.some(({ interface: id }) => id === other))?.stack;
  if (within === undefined) {
    const own = internetAddresses(network).find(({ family }) => family === address.family);
    return { from: from ?? at.stack, ...(own === undefined ? {} : { source: own }) };
  }
  if (from === undefined) return undefined;
  const own = ownWithin(at, within, address.family);
  return own === undefined ? { from } : { from: at.stack, source: own };
}

/** Of the addresses that were written one that a stack has on a link that is up: of another one nobody sends. */
function ownWithin({ interfaces }: SettledStack, within: Ranges, family: Family): Address | undefined {
  const own = interfaces
    .flatMap(({ up, addresses }) => (up ? addresses : []))
    .find((each) => each.family === family && rangesContain(within, addressKey(each)));
  return own && { family, value: own.value };
}

/** The far end of the way to another upstream that serves an address; undefined: none does. */
function servingOther(stack: SettledStack, address: Address): Id | undefined {
  const way = wayOf(stack, address);
  return way === undefined || !isBeyond(way.egress) ? undefined : beyondId(beyondTo(way.egress), deviceOf(way.egress));
}
