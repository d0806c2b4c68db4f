/**
 * `npm run kernel:fuzz -- --seeds 1-2000`: random sites on the kernel and in the simulator, as many at once as wait well
 * (`--at-once 24`), with `--questions 25` each. A difference is asked again on a new pair, shrunk to a minimal site and
 * written as a case (`--cases FOLDER`, `--no-shrink`); `--first` ends the run at once. Every fourth site
 * lends addresses (`--kind leases`: all, `--kind packets`: none); `--kind links`: see `fuzz-links.ts`, `--kind course`: `fuzz-course.ts`. Ends with what decided;
 * exit status 1 where both differ.
 */
import { mkdirSync, writeFileSync } from "node:fs";
import { parseArgs } from "node:util";
import { Rack } from "../../src/kernel/index.ts";
import { countOf, seedsOf } from "../support/ranges.ts";
import { caseText } from "./case-file.ts";
import { Coverage } from "./coverage.ts";
import { fuzzCourse } from "./fuzz-course.ts";
import { fuzzLinks } from "./fuzz-links.ts";
import { type RandomKind, randomOf } from "./random-kinds.ts";
import type { RandomSite } from "./random-site.ts";
import { type Found, runTwice } from "./run-site.ts";
import { shrink } from "./shrink.ts";

const { values } = parseArgs({
  options: {
    seeds: { type: "string", default: "1-200" },
    questions: { type: "string", default: "25" },
    "at-once": { type: "string", default: "24" },
    cases: { type: "string", default: "tests/kernel/cases" },
    "no-shrink": { type: "boolean", default: false },
    kind: { type: "string", default: "all" },
    first: { type: "boolean", default: false },
    machines: { type: "string", default: "2" },
  },
});

if (values.kind === "links") {
  const cases = values.cases === "tests/kernel/cases" ? "tests/kernel/link-cases" : values.cases;
  const wrong = await fuzzLinks({
    seeds: seedsOf(values.seeds),
    questions: countOf(values.questions),
    machines: countOf(values.machines),
    ...(values["no-shrink"] ? {} : { cases }),
    first: values.first,
  });
  process.exit(wrong > 0 ? 1 : 0);
}

if (values.kind === "course") {
  const wrong = await fuzzCourse(seedsOf(values.seeds));
  process.exit(wrong > 0 ? 1 : 0);
}

const rack = new Rack();
const coverage = new Coverage();
const counts = { sites: 0, differences: 0, flaky: 0, broken: 0 };

/** The site of a seed. */
function drawn(seed: number): RandomSite {
  // An unknown word is refused there.
  return randomOf(values.kind as RandomKind, seed, countOf(values.questions));
}

async function runSeed(seed: number): Promise<void> {
  const site = drawn(seed);
  try {
    const { found, flaky } = await runTwice(rack, site, coverage);
    counts.sites++;
    if (flaky !== undefined) {
      counts.flaky++;
      console.log(`FLAKY seed ${seed}: ${flaky.text}`);
    }
    if (found !== undefined) await tell(seed, found);
  } catch (error) {
    counts.broken++;
    console.log(`BROKEN seed ${seed}: ${error instanceof Error ? error.message : error}`);
  }
  if (counts.sites % 100 === 0) console.log(told());
}

async function tell(seed: number, found: Found): Promise<void> {
  counts.differences++;
  console.log(`DIFFERENCE seed ${seed}: ${found.text}`);
  if (values["no-shrink"]) return;
  const { tries, ...small } = await shrink(rack, drawn(seed), found);
  mkdirSync(values.cases, { recursive: true });
  const file = `${values.cases}/seed-${seed}.yaml`;
  writeFileSync(file, caseText({ shows: `random site ${seed}, shrunk`, ...small }));
  console.log(`seed ${seed} is now ${file}, after ${tries.built} sites built of ${tries.thought} thought of`);
}

function told(): string {
  const { sites, differences, flaky, broken } = counts;
  return `${new Date().toISOString()} ${sites} sites, ${coverage.questions} questions alike, ${differences} differences, ${flaky} flaky, ${broken} broken`;
}

const seeds = seedsOf(values.seeds).values();
// Interrupted, a run ends with the sites under way, and still says what it has seen.
let isOver = false;
process.once("SIGINT", () => {
  isOver = true;
});
async function worker(): Promise<void> {
  for (const seed of seeds) {
    await runSeed(seed);
    if (isOver || (values.first && counts.differences + counts.broken > 0)) return;
  }
}
await Promise.all(Array.from({ length: countOf(values["at-once"]) }, worker));
await rack.stop();
for (const line of [...coverage.lines(), ...coverage.leases.lines(), ...coverage.advertised.lines()]) console.log(line);
console.log(`${coverage.answered} of ${coverage.exchanges} exchanges answered`);
console.log(told());
process.exitCode = counts.differences + counts.broken > 0 ? 1 : 0;
