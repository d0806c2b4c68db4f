/**
 * Random link layers, each asked of a full kernel under emulation and of the simulator, and differences that others once brought to
 * light. A difference is asked again on a new pair before it counts. Longer runs: `npm run kernel:fuzz -- --kind links --seeds 1-1000`.
 */
import { expect } from "vitest";
import { needs } from "../support/needs.ts";
import { LINK_QUESTIONS, LINK_SEEDS } from "./batch.ts";
import { allCases } from "./case-file.ts";
import { judgedFully } from "./judge.ts";
import { machineRack } from "./machine-rack.ts";
import { put } from "./question.ts";
import { randomLinks } from "./random-links.ts";
import { runTwice } from "./run-site.ts";

const { describe, it } = needs("qemu-system-x86_64");
const rack = machineRack();

describe("random link layers", { timeout: 300_000 }, () => {
  it.each(LINK_SEEDS)("seed %i", async (seed) => {
    const { found } = await runTwice(rack(), randomLinks(seed, LINK_QUESTIONS));
    expect(found?.text).toBeUndefined();
  });
});

describe("found by random link layers", { timeout: 300_000 }, () => {
  it.each(allCases("link-cases"))("$shows", async ({ texts, questions }) => {
    const site = await judgedFully(rack(), ...texts);
    for (const question of questions) expect(await put(site, question)).toBe(question.says);
    await site.close();
  });
});
