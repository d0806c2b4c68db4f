/**
 * Random link layers, each probed on a full kernel under emulation and in the simulator. A difference is asked again on a
 * new pair before it counts. `DRYRACK_LINK_SEEDS=1-200` runs other seeds than the fixed batch, and prints how the probes ended.
 */
import { afterAll, beforeAll, expect } from "vitest";
import { Rack, startMachine } from "../../src/kernel/index.ts";
import { needs } from "../support/needs.ts";
import { judgedFully } from "./judge.ts";
import { randomLinks } from "./random-links.ts";

const { describe, it } = needs("qemu-system-x86_64");
let rack: Rack;
beforeAll(async () => {
  rack = new Rack(await startMachine());
}, 180_000);
afterAll(() => rack?.stop());

/** Those below 7, and those that once found a difference. */
const USUAL = [1, 2, 3, 4, 5, 6, 7, 26, 60];
const [first = 0, last = first] = (process.env.DRYRACK_LINK_SEEDS ?? "").split("-").map(Number);
const seeds = first === 0 ? USUAL : Array.from({ length: last - first + 1 }, (_, index) => first + index);
const ends = new Map<string, number>();
afterAll(() => {
  if (process.env.DRYRACK_LINK_SEEDS !== undefined) console.log([...ends]);
});

/** Runs all probes of a seed's site; answers with the first difference. */
async function run(seed: number): Promise<string | undefined> {
  const { texts, probes } = randomLinks(seed);
  const site = await judgedFully(rack, ...texts);
  try {
    for (const { from, service, to } of probes) {
      const end = (await site.ask(from, service, to)).split(/[ ;]/)[0] ?? "";
      ends.set(end, (ends.get(end) ?? 0) + 1);
    }
    return undefined;
  } catch (error) {
    return `seed ${seed}: ${error instanceof Error ? error.message : error}`;
  } finally {
    await site.close();
  }
}

describe("random link layers", () => {
  it.each(seeds)("seed %i", { timeout: 300_000 }, async (seed) => {
    const difference = (await run(seed)) && (await run(seed));
    expect(difference).toBeUndefined();
  });
});
