/**
 * Law of settling: what is simulated over time comes to rest where settling says, on random sites. Others with
 * `DRYRACK_SETTLING_SEEDS=1-1000 npx vitest run tests/simulate/course/settling.test.ts`.
 */
import { describe, expect, it } from "vitest";
import { randomOf } from "../../kernel/random-kinds.ts";
import { randomLinks } from "../../kernel/random-links.ts";
import { textsOf } from "../../property/two-engines-sites.ts";
import { seedsOf } from "../../support/ranges.ts";
import { networkOf } from "../../support/site.ts";
import { differencesAt } from "./settling.ts";

const SEEDS = seedsOf(process.env.DRYRACK_SETTLING_SEEDS ?? "1-40");

const KINDS = {
  "link layers": (seed: number) => randomLinks(seed, 1).texts,
  sites: (seed: number) => textsOf(seed),
  "sites that lend addresses": (seed: number) => randomOf("leases", seed, 1).texts,
} as const;

describe.each(Object.entries(KINDS))("law of settling on random %s", (_, textsAt) => {
  it.each(SEEDS)("holds cold, after a failure and after its mending: seed %i", (seed) => {
    expect(differencesAt(seed, networkOf(...textsAt(seed)))).toEqual([]);
  });
});
