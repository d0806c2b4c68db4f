/**
 * The fixed batch of random sites, each probed on the kernel and in the simulator. A difference is asked again on a new
 * pair before it counts. Longer runs: `npm run kernel:fuzz -- --seeds 1-2000`.
 */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { BATCH_QUESTIONS, BATCH_SEEDS, LEASE_SEEDS } from "./batch.ts";
import { randomOf } from "./random-kinds.ts";
import { runTwice } from "./run-site.ts";

const { describe, it } = needsNamespaces("nft", "python3", "dnsmasq", "radvd");
const rack = new Rack();
afterAll(() => rack.stop());

describe.concurrent("random sites", { timeout: 180_000 }, () => {
  it.each(BATCH_SEEDS)("seed %i", async (seed) => {
    const { found } = await runTwice(rack, randomOf("packets", seed, BATCH_QUESTIONS));
    expect(found?.text).toBeUndefined();
  });

  it.each(LEASE_SEEDS)("seed %i of leases", async (seed) => {
    const { found } = await runTwice(rack, randomOf("leases", seed, BATCH_QUESTIONS));
    expect(found?.text).toBeUndefined();
  });
});
