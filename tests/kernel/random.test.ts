/**
 * Random sites, each probed on the kernel and in the simulator. A difference is asked again on a new pair before it counts.
 * `DRYRACK_SEEDS=1-200` runs other seeds than the fixed batch, and prints how the probes ended.
 */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { judged } from "./judge.ts";
import { randomSite } from "./random-site.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

const [first = 1, last = first + 19] = (process.env.DRYRACK_SEEDS ?? "1-20").split("-").map(Number);
const seeds = Array.from({ length: last - first + 1 }, (_, index) => first + index);
const ends = new Map<string, number>();
afterAll(() => {
  if (process.env.DRYRACK_SEEDS !== undefined) console.log([...ends]);
});

function count(end: string): void {
  ends.set(end, (ends.get(end) ?? 0) + 1);
}

/** Runs all probes of a seed's site; answers with the first difference. */
async function run(seed: number): Promise<string | undefined> {
  const { texts, probes, packets, ports } = randomSite(seed);
  const site = await judged(rack, ...texts);
  try {
    for (const port of ports) await site.listen(port);
    for (const { from, packet } of packets) {
      count((await site.send(from, packet)) === "nothing arrives" ? "sent in vain" : "sent");
    }
    for (const { from, service, to } of probes) count((await site.ask(from, service, to)).split(/[ ;]/)[0] ?? "");
    return undefined;
  } catch (error) {
    return `seed ${seed}: ${error instanceof Error ? error.message : error}`;
  } finally {
    await site.close();
  }
}

describe.concurrent("random sites", () => {
  it.each(seeds)("seed %i", async (seed) => {
    const difference = (await run(seed)) && (await run(seed));
    expect(difference).toBeUndefined();
  });
});
