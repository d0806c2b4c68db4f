/**
 * Digests of parts: 64 bits over the content, without origins and without the digest itself, so that equal digests mean
 * equal behaviour however the documents moved. Two independent 32-bit lanes of FNV-1a over a canonical walk.
 */
import type { Part } from "../network/index.ts";

const PRIME = 0x01000193;

type Lanes = { a: number; b: number };

/** The same part with its digest. */
export function withDigest<T extends Omit<Part, "digest">>(content: T): T & { readonly digest: string } {
  const lanes: Lanes = { a: 0x811c9dc5, b: 0x9747b28c };
  walk(content, lanes);
  return { ...content, digest: hex(finish(lanes.a)) + hex(finish(lanes.b)) };
}

function hex(word: number): string {
  return word.toString(16).padStart(8, "0");
}

/** Spreads what the last letters changed over all bits. */
function finish(word: number): number {
  let mixed = Math.imul(word ^ (word >>> 16), 0x7feb352d);
  mixed = Math.imul(mixed ^ (mixed >>> 15), 0x846ca68b);
  return (mixed ^ (mixed >>> 16)) >>> 0;
}

function feed(text: string, lanes: Lanes): void {
  let { a, b } = lanes;
  for (let at = 0; at < text.length; at++) {
    const code = text.charCodeAt(at);
    a = Math.imul(a ^ code, PRIME);
    b = Math.imul(b ^ (code + 0x5bd1), PRIME) ^ (b >>> 13);
  }
  lanes.a = Math.imul(a ^ 0xffff, PRIME); // an end of text that no text contains
  lanes.b = Math.imul(b ^ 0x10000, PRIME);
}

/** Every kind of value begins with a letter of its own, and lists and records are closed, so that no two read alike. */
function walk(value: unknown, lanes: Lanes): void {
  if (Array.isArray(value)) {
    feed("[", lanes);
    for (const item of value) walk(item, lanes);
    feed("]", lanes);
  } else if (typeof value === "object" && value !== null) walkRecord(value, lanes);
  else if (typeof value === "string") feed(`"${value}`, lanes);
  else if (typeof value === "bigint") feed(`n${value.toString(16)}`, lanes);
  else feed(String(value), lanes);
}

function walkRecord(record: object, lanes: Lanes): void {
  // An origin says why, not what; that there is one counts where it is optional.
  if ("span" in record && "by" in record) {
    feed("origin", lanes);
    return;
  }
  feed("{", lanes);
  for (const [key, item] of Object.entries(record)) {
    if (key === "origin") continue;
    feed(key, lanes);
    walk(item, lanes);
  }
  feed("}", lanes);
}
