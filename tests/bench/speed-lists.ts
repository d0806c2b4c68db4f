/**
 * Long lists of filter rules for the speed survey, the same on every call. "specific" lists name sources and destinations
 * as people do who write one rule a server; "wildcard" lists leave out the source or the destination in three of ten rules, so that
 * many rules lie in earlier ones.
 */
import { addressKey, type Ranges, rangeOf, single } from "../../src/address/index.ts";
import type { Origin } from "../../src/diagnose/index.ts";
import type { Condition, FilterTable } from "../../src/network/index.ts";

/** A rule of such a list. */
export type ListRule = FilterTable["rules"][number];

/** How a list is written. */
export type ListKind = "specific" | "wildcard";

/** Networks that questions are about: 10.0.0.0/16 cut into /24s. */
export const NETWORKS = 50;

const ORIGIN: Origin = { by: "written", span: { file: 0, start: 0, end: 0 } };
const PORTS = [22, 53, 80, 123, 443, 445, 993, 3306, 5060, 5432, 8080, 8443];

/** Numbers of 32 bits, the same sequence for the same seed (Marsaglia's xorshift, 2003, from memory). */
export function numbersFrom(seed: number): (below: number) => number {
  let state = seed;
  return (below) => {
    state ^= state << 13;
    state ^= state >>> 17;
    state ^= state << 5;
    return (state >>> 0) % below;
  };
}

/** The addresses of the n-th network. */
export function networkKeys(index: number): Ranges {
  const low = addressKey({ family: 4, value: BigInt(0x0a000000 + index * 256) });
  return rangeOf(low, low + 255n);
}

/** A list of so many rules over the networks; more rules than the networks hold services are about hosts of them. */
export function listOf(kind: ListKind, length: number, seed: number = 7): readonly ListRule[] {
  const next = numbersFrom(seed);
  return Array.from({ length }, (_, index): ListRule => {
    const wide = kind === "wildcard" && next(10) < 3 ? next(2) : undefined;
    const match: Condition[] = [
      ...(wide === 0 ? [] : [placed("source", next)]),
      ...(wide === 1 ? [] : [placed("destination", next)]),
      ...serviceOf(next, wide !== undefined),
    ];
    const action = next(4) === 0 ? ({ do: "drop" } as const) : ({ do: "accept" } as const);
    return { id: `rule${index}`, origin: ORIGIN, when: [match], action };
  });
}

/** A network, or a host or a few in one. */
function placed(field: "source" | "destination", next: (below: number) => number): Condition {
  const network = networkKeys(next(NETWORKS));
  const low = network[0]?.[0] ?? 0n;
  const size = [256, 32, 8, 1, 1, 1][next(6)] ?? 1;
  const first = low + BigInt(next(256 / size) * size);
  return { field, within: rangeOf(first, first + BigInt(size) - 1n), origin: ORIGIN };
}

function serviceOf(next: (below: number) => number, isWide: boolean): Condition[] {
  // Whatever a rule for everybody opens or closes, it is one service.
  const kind = isWide ? 2 + next(8) : next(10);
  if (kind === 0) return [];
  const protocol: Condition = { field: "protocol", within: single(kind < 8 ? 6n : 17n), origin: ORIGIN };
  if (kind === 1) return [protocol];
  const port = BigInt(PORTS[next(PORTS.length)] ?? 443);
  const within = kind === 2 ? rangeOf(port, port + 100n) : single(port);
  return [protocol, { field: "destinationPort", within, origin: ORIGIN }];
}
