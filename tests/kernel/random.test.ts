/**
 * The fixed batch of random sites, each probed on the kernel and in the simulator. A difference is asked again on a new
 * pair before it counts. Longer runs: `npm run kernel:fuzz -- --seeds 1-2000`.
 */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { BATCH_QUESTIONS, BATCH_SEEDS } from "./batch.ts";
import { randomSite } from "./random-site.ts";
import { runTwice } from "./run-site.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

describe.concurrent("random sites", { timeout: 180_000 }, () => {
  it.each(BATCH_SEEDS)("seed %i", async (seed) => {
    const { found } = await runTwice(rack, randomSite(seed, BATCH_QUESTIONS));
    expect(found?.text).toBeUndefined();
  });
});
