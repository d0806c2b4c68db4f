/**
 * `npm run kernel:fuzz -- --kind links --seeds 1-1000`: random link layers on the full kernel of a machine and in the simulator, by
 * `--machines 2` at the same time. A difference is asked again on a new pair, shrunk and kept as in the runs on the host, in
 * `tests/kernel/link-cases`.
 */
import { mkdirSync, writeFileSync } from "node:fs";
import { Rack, startMachine } from "../../src/kernel/index.ts";
import { settle } from "../../src/settle/index.ts";
import { networkOf } from "../support/site.ts";
import { caseText } from "./case-file.ts";
import { LinkCoverage } from "./links/coverage.ts";
import { randomLinks } from "./random-links.ts";
import { type Asked, runTwice } from "./run-site.ts";
import { shrink } from "./shrink.ts";

/** How a run is asked for. */
export type LinkRun = {
  /** Which sites. */
  readonly seeds: readonly number[];
  /** Questions of each site. */
  readonly questions: number;
  /** Machines at the same time. */
  readonly machines: number;
  /** Folder where differences are kept; undefined: they are not shrunk. */
  readonly cases?: string;
  /** Whether the first difference ends the run. */
  readonly first: boolean;
};

/** Milliseconds without any answer after which a machine is given up. */
const PATIENCE_MS = 300_000;

/** Runs all seeds; answers with how many differed or broke. */
export async function fuzzLinks({ seeds: asked, ...run }: LinkRun): Promise<number> {
  const coverage = new LinkCoverage();
  const counts = { sites: 0, differences: 0, flaky: 0, broken: 0, storms: 0 };
  const started = Date.now();
  const told = (): string => {
    const { sites, differences, flaky, broken, storms: left } = counts;
    const pace = ((60_000 * sites) / (Date.now() - started)).toFixed(0);
    return `${new Date().toISOString()} ${sites} sites (${pace} a minute), ${coverage.questions} questions alike, ${differences} differences, ${flaky} flaky, ${broken} broken, ${left} storms left out`;
  };
  const seeds = asked.values();
  let isOver = false;
  process.once("SIGINT", () => {
    isOver = true;
  });

  async function runSeed(rack: Rack, seed: number): Promise<void> {
    const asked = randomLinks(seed, run.questions);
    if (storms(asked)) {
      counts.storms++;
      return;
    }
    const { found, flaky } = await within(runTwice(rack, asked, coverage));
    counts.sites++;
    if (flaky !== undefined) {
      counts.flaky++;
      console.log(`FLAKY seed ${seed}: ${flaky.text}`);
    }
    if (found === undefined) return;
    counts.differences++;
    console.log(`DIFFERENCE seed ${seed}: ${found.text}`);
    if (run.cases === undefined) return;
    const small = await shrink(rack, asked, found);
    mkdirSync(run.cases, { recursive: true });
    const file = `${run.cases}/seed-${seed}.yaml`;
    writeFileSync(file, caseText({ shows: `random link layer ${seed}, shrunk`, ...small }));
    console.log(`seed ${seed} is now ${file}`);
  }

  async function worker(): Promise<void> {
    let rack = new Rack(await startMachine());
    for (const seed of seeds) {
      try {
        await runSeed(rack, seed);
      } catch (error) {
        counts.broken++;
        console.log(`BROKEN seed ${seed}: ${error instanceof Error ? error.message : error}`);
        // What is half built stays there.
        await rack.stop();
        rack = new Rack(await startMachine());
      }
      if (counts.sites > 0 && counts.sites % 50 === 0) console.log(told());
      if (isOver || (run.first && counts.differences + counts.broken > 0)) break;
    }
    await rack.stop();
  }

  await Promise.all(Array.from({ length: run.machines }, worker));
  for (const line of coverage.lines()) console.log(line);
  console.log(`${coverage.answered} of ${coverage.exchanges} exchanges answered`);
  console.log(told());
  return counts.differences + counts.broken;
}

/** Whether the model has frames circle: what gets through is a matter of luck then (kernel fact 48), and the machine is lost in it. */
function storms({ texts }: Asked): boolean {
  return settle(networkOf(...texts)).storms.length > 0;
}

/** A machine that circles in a storm never answers. */
async function within<T>(work: Promise<T>): Promise<T> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<never>((_, reject) => {
    timer = setTimeout(() => reject(new Error("the machine did not answer in time")), PATIENCE_MS);
  });
  try {
    return await Promise.race([work, late]);
  } finally {
    clearTimeout(timer);
  }
}
