/**
 * Sets of addresses as text: an address, a prefix, or a range `10.71.40.100-10.71.40.199`, whose end may be shortened to its
 * last number when only that differs: `10.71.40.100-199`. Sets are keys (see `keys.ts`), so they may hold both families.
 */
import { formatAddress, parseAddress } from "./address.ts";
import { addressKey, keyAddress, prefixesOfRange, prefixKeys } from "./keys.ts";
import { formatPrefix, parsePrefix } from "./prefix.ts";
import { type Ranges, rangeOf, single } from "./ranges.ts";

/** Reads an address, a prefix without host bits, or a range of addresses of one family, as keys; undefined for anything else. */
export function parseAddressSet(text: string): Ranges | undefined {
  if (text.includes("/")) return prefixSet(text);
  const dash = text.indexOf("-");
  if (dash >= 0) return rangeSet(text.slice(0, dash), text.slice(dash + 1));
  const address = parseAddress(text);
  return address === undefined ? undefined : single(addressKey(address));
}

function prefixSet(text: string): Ranges | undefined {
  const parsed = parsePrefix(text);
  if (parsed === undefined || parsed.address.value !== parsed.prefix.value) return undefined;
  return [prefixKeys(parsed.prefix)];
}

function rangeSet(lowText: string, highText: string): Ranges | undefined {
  const low = parseAddress(lowText);
  const high = parseAddress(/^\d+$/.test(highText) ? lowText.replace(/[^.]*$/, highText) : highText);
  if (low === undefined || high === undefined || low.family !== high.family || high.value < low.value) return undefined;
  return rangeOf(addressKey(low), addressKey(high));
}

/**
 * The pieces of a set of keys as text, IPv4 first, each an address, a prefix or a range: `parseAddressSet` reads every piece back. A piece
 * that spans both families cannot exist, since their keys lie apart.
 */
export function formatAddressSet(keys: Ranges): string[] {
  return keys.map(([low, high]) => formatPiece(low, high));
}

function formatPiece(low: bigint, high: bigint): string {
  const first = keyAddress(low);
  if (low === high) return formatAddress(first);
  const [only, ...others] = prefixesOfRange(first.family, low, high);
  if (only !== undefined && others.length === 0) return formatPrefix(only);
  return `${formatAddress(first)}-${formatAddress(keyAddress(high))}`;
}
