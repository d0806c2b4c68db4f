/**
 * `npm run kernel:witnesses -- --seeds 1-500`: the prover's examples on random sites, tried on the machine's kernel, as many
 * sites at once as wait well (`--at-once 16`), with `--questions 4` each. Ends with what was tried; exit status 1 where
 * anything differs.
 */
import { parseArgs } from "node:util";
import { Rack } from "../../../src/kernel/index.ts";
import { countOf, seedsOf } from "../../support/ranges.ts";
import { randomSite } from "../random-site.ts";
import { nothingTried, trySite } from "./try-site.ts";

const { values } = parseArgs({
  options: {
    seeds: { type: "string", default: "1-100" },
    questions: { type: "string", default: "4" },
    "at-once": { type: "string", default: "16" },
  },
});

const rack = new Rack();
const counts = nothingTried();
let sites = 0;
let broken = 0;
let differences = 0;

function told(): string {
  const { questions, examples, passed, passedAfterOthers, kept, keptAfterOthers } = counts;
  const untried = [...counts.skipped.values()].reduce((sum, count) => sum + count, 0);
  return `${new Date().toISOString()} ${sites} sites, ${questions} questions, ${examples} examples, ${untried} not tried, ${passed} passed (${passedAfterOthers} after others), ${kept} did not (${keptAfterOthers} after others), ${differences} differences, ${broken} broken`;
}

async function runSeed(seed: number): Promise<void> {
  try {
    const site = { texts: randomSite(seed, 1).texts, questions: countOf(values.questions), seed };
    const wrong = await trySite(rack, site, counts);
    differences += wrong.length;
    for (const text of wrong) console.log(`DIFFERENCE seed ${seed}: ${text}`);
  } catch (error) {
    broken++;
    console.log(`BROKEN seed ${seed}: ${error instanceof Error ? error.stack : error}`);
  }
  sites++;
  if (sites % 25 === 0) console.log(told());
}

const seeds = seedsOf(values.seeds).values();
async function worker(): Promise<void> {
  for (const seed of seeds) await runSeed(seed);
}
await Promise.all(Array.from({ length: countOf(values["at-once"]) }, worker));
await rack.stop();
for (const [name, count] of [...counts.stops].sort((a, b) => b[1] - a[1])) console.log(`${count} stopped: ${name}`);
for (const [name, count] of counts.skipped) console.log(`${count} not tried: ${name}`);
for (const [name, count] of counts.without) console.log(`${count} without an example: ${name}`);
console.log(told());
process.exitCode = differences + broken > 0 ? 1 : 0;
