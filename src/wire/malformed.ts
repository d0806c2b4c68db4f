/**
 * What a parser returns when bytes are not what they claim to be. A value, never thrown: bytes come from outside.
 * `unsupported` means well formed as far as looked at, but of a kind this file does not model; callers keep such
 * bytes opaque instead of refusing them.
 */

/** Bytes that could not be read, with the first reason found. */
export type Malformed = {
  /** Marks the value; no parsed value has this key. */
  readonly malformed: "truncated" | "length" | "checksum" | "value" | "unsupported";
  /** Protocol whose rule is broken, in words: "IPv4", "DHCP". */
  readonly protocol: string;
  /** What is wrong, as a phrase: "total length 40 exceeds the 28 bytes given". */
  readonly problem: string;
};

/** Whether a parser refused. */
export function isMalformed(value: object): value is Malformed {
  return "malformed" in value;
}

/** Refusal because fewer than `needed` bytes are there. */
export function truncated(protocol: string, needed: number, given: number): Malformed {
  return { malformed: "truncated", protocol, problem: `needs ${needed} bytes, ${given} given` };
}
