/**
 * Hardware addresses that nobody stated: derived from the names, so that an edit elsewhere never changes one. They are
 * individual and locally administered (first byte xxxxxx10), 46 bits of an FNV-1a hash in two lanes.
 */

const OFFSET = 0x811c9dc5;
const PRIME = 0x01000193;

/** 32 bits of the text's code units; `seed` separates lanes. */
function lane(text: string, seed: number): number {
  let hash = OFFSET ^ seed;
  for (let at = 0; at < text.length; at++) hash = Math.imul(hash ^ text.charCodeAt(at), PRIME);
  // A last mixing round spreads the final letters, which FNV leaves in the low bits.
  hash ^= hash >>> 15;
  hash = Math.imul(hash, 0x2c1b3c6d);
  return (hash ^ (hash >>> 13)) >>> 0;
}

/** The hardware address derived from some names. */
export function derivedHardware(...names: readonly string[]): bigint {
  const text = names.join("\u0000");
  const high = lane(text, 0) & 0xffff;
  const first = ((high >>> 8) & 0xfc) | 0x02;
  const second = high & 0xff;
  return (BigInt(first) << 40n) | (BigInt(second) << 32n) | BigInt(lane(text, 0x9e3779b9));
}
