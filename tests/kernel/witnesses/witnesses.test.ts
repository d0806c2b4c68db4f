/**
 * The prover's examples on a fixed batch of random sites, tried on the kernel: what gets there arrives, what is stopped does
 * not. Longer runs: `npm run kernel:witnesses -- --seeds 1-500`.
 */
import { afterAll, expect } from "vitest";
import { Rack } from "../../../src/kernel/index.ts";
import { letsIn } from "../../prove/own-address.ts";
import { needsNamespaces } from "../../support/needs.ts";
import { randomSite } from "../random-site.ts";
import { nothingTried, trySite } from "./try-site.ts";

const { describe, it } = needsNamespaces("nft", "python3", "radvd");
const rack = new Rack();
afterAll(() => rack.stop());

const SEEDS = Array.from({ length: 10 }, (_, index) => index + 1);
const QUESTIONS = 3;

/** The kernel's site lets through what the plan drops or rejects, and drops what it lets through. */
function turnedRound(text: string): string {
  const word = (action: string): string => (action === "accept" ? "drop" : "accept");
  return text.replaceAll(
    /(action|otherwise): (accept|drop|reject)\b(?:, with: [a-z-]+)?/g,
    (_, key, action) => `${key}: ${word(action)}`,
  );
}

describe.concurrent("examples of the prover on the kernel", { timeout: 240_000 }, () => {
  it("of what gets there arrive, of what is stopped do not", async () => {
    const tried = nothingTried();
    const wrong = await Promise.all(
      SEEDS.map((seed) => trySite(rack, { texts: randomSite(seed, 1).texts, questions: QUESTIONS, seed }, tried)),
    );
    expect(wrong.flat()).toEqual([]);
    // Each example is told for, tried or not.
    const untried = [...tried.skipped.values()].reduce((sum, count) => sum + count, 0);
    expect(tried.passed + tried.kept + untried).toBe(tried.examples);
    expect(tried.passed).toBeGreaterThan(10);
    expect(tried.kept).toBeGreaterThan(10);
  });

  it("after others arrive where who is asked listens, and so resets nothing that these begin", async () => {
    const tried = nothingTried();
    const [topology, intent] = randomSite(21, 1).texts;
    expect(await trySite(rack, { texts: [topology, intent], questions: 4, seed: 21 }, tried)).toEqual([]);
    expect(tried.passedAfterOthers).toBeGreaterThan(1);
  });

  it("that bear the very address they go to arrive in frames to everyone, past a list that knows no other station", async () => {
    const tried = nothingTried();
    const texts = letsIn('"02:00:5e:00:00:01"');
    expect(await trySite(rack, { texts, questions: 6, seed: 3 }, tried)).toEqual([]);
    expect(tried.passed).toBeGreaterThan(1);
  });

  it("are found wrong in both ways where the kernel filters otherwise", async () => {
    const wrong = await Promise.all(
      SEEDS.map((seed) => {
        const [topology, intent] = randomSite(seed, 1).texts;
        const site = {
          texts: [topology, intent],
          ofKernel: [topology, turnedRound(intent)],
          questions: QUESTIONS,
          seed,
        };
        return trySite(rack, site, nothingTried());
      }),
    );
    const kinds = wrong.flat().map((text) => text.slice(0, text.indexOf(":")));
    expect([...new Set(kinds)].toSorted()).toEqual(["arrives", "does not arrive"]);
  });
});
