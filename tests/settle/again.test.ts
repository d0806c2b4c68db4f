/**
 * What is kept from one state of a site to the next changes no answer: settled after many failures, it is what it is when settled
 * for the first time. Random link layers, every single failure of a cable.
 */
import { expect, it } from "vitest";
import { domainMapOf, settle } from "../../src/settle/index.ts";
import { siteFrom } from "../check/verdicts.ts";
import { randomLinks } from "../kernel/random-links.ts";

const SEEDS = [1, 2, 3, 4, 5, 6, 7, 8];

it.each(SEEDS)("random link layer %s, each cable of it failed in turn, as if nothing was known of it", (seed) => {
  const [topology = "", intent = ""] = randomLinks(seed, 0).texts;
  const { network } = siteFrom(topology, intent);
  const downs = [[], ...network.links.map(({ id }) => [id]), []];
  expect(downs.length).toBeGreaterThan(3);
  for (const down of downs) {
    const fresh = structuredClone(network);
    const [settled, first] = [settle(network, { down }), settle(fresh, { down })];
    expect(settled).toEqual(first);
    expect([...domainMapOf(network, settled).from]).toEqual([...domainMapOf(fresh, first).from]);
  }
});
