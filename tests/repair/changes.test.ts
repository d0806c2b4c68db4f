/**
 * Which of two edits turns less: by their packets, and where these do not lie one within the other by how many ends they are between.
 */
import { expect, test } from "vitest";
import { rangeOf, single } from "../../src/address/index.ts";
import type { TurnedSet } from "../../src/compare/states.ts";
import { boxesOf } from "../../src/prove/index.ts";
import { isNarrower, type Weighed } from "../../src/repair/changes.ts";

const ORIGIN = { by: "default", rule: "a test", source: "dryrack", span: { file: 0, start: 0, end: 0 } } as const;

/** TCP port 22 from one end to another, sent from ports up to a number. */
function ssh(from: string, to: string, upTo: bigint): TurnedSet {
  const boxes = boxesOf([
    [
      { field: "protocol", within: single(6n), origin: ORIGIN },
      { field: "destinationPort", within: single(22n), origin: ORIGIN },
      { field: "sourcePort", within: rangeOf(0n, upTo), origin: ORIGIN },
    ],
  ]);
  return { pair: { from: { id: from }, to: { id: to } }, change: "newly-allowed", kind: "plain", boxes };
}

function weighed(sets: readonly TurnedSet[], undecided: readonly string[] = []): Weighed {
  // Only what it turns is compared.
  return { turned: { sets, undecided, pairs: { all: 1, untouched: 0 } } } as unknown as Weighed;
}

const OWN = weighed([ssh("people", "back", 65_535n)]);
const WIDE = weighed([ssh("people", "back", 40_000n), ssh("internet", "people", 40_000n)]);

test("an edit between fewer ends turns less, though some of its packets are none of the other one's", () => {
  expect([isNarrower(OWN, WIDE), isNarrower(WIDE, OWN)]).toEqual([true, false]);
});

test("an edit with fewer packets between the same ends turns less", () => {
  const few = weighed([ssh("people", "back", 40_000n)]);
  expect([isNarrower(few, OWN), isNarrower(OWN, few)]).toEqual([true, false]);
});

test("neither turns less between other ends, or where nobody knows all of it", () => {
  const elsewhere = weighed([ssh("lab", "back", 1n)]);
  expect([isNarrower(elsewhere, WIDE), isNarrower(WIDE, elsewhere)]).toEqual([false, false]);
  expect(isNarrower(OWN, weighed(WIDE.turned.sets, ["nobody can tell"]))).toBe(false);
});
