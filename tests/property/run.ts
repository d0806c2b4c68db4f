/**
 * `npm run engines:fuzz -- --seeds 1-2000`: the prover judged by the simulator on random sites (`--kind odd`,
 * `--kind bonds`, `--kind uplinks`, `--kind tunnels`: on those). A site that they disagree about is told at once, with every line of it; ends with what decided how often. Exit
 * status 1 where they disagree anywhere.
 */
import { parseArgs } from "node:util";
import { seedsOf } from "../support/ranges.ts";
import { isKind, judged } from "./two-engines-random.ts";
import { Shares } from "./two-engines-shares.ts";

const { values } = parseArgs({
  options: { seeds: { type: "string", default: "1-200" }, kind: { type: "string", default: "sites" } },
});

const { kind } = values;
if (!isKind(kind)) throw new Error(`no such kind: ${kind}`);
const tally = new Shares();
const began = Date.now();
const counts = { sites: 0, wrong: 0, broken: 0 };

function told(): string {
  const minutes = (Date.now() - began) / 60_000;
  return `${new Date().toISOString()} ${counts.sites} ${values.kind}, ${counts.wrong} with disagreements, ${counts.broken} broken, ${(counts.sites / minutes).toFixed(0)} a minute`;
}

/** What was not judged to its end, and so is told site by site. */
const OPEN = ["undecided", "left out"];

for (const seed of seedsOf(values.seeds)) {
  const start = Date.now();
  const open = OPEN.map((word) => tally.reach.of(word));
  try {
    const lines = judged(kind, seed, tally);
    if (lines.length > 0) counts.wrong++;
    for (const line of lines) console.log(`DISAGREE ${seed} ${line}`);
  } catch (error) {
    counts.broken++;
    console.log(`BROKEN ${seed} ${error instanceof Error ? (error.stack ?? error.message) : error}`);
  }
  OPEN.forEach((word, index) => {
    const more = tally.reach.of(word) - (open[index] ?? 0);
    if (more > 0) console.log(`OPEN ${seed} ${more} ${word}`);
  });
  counts.sites++;
  const took = Date.now() - start;
  if (took > 5000) console.log(`SLOW ${seed} ${took} ms`);
  if (counts.sites % 50 === 0) console.log(told());
}
console.log(tally.told());
console.log(told());
process.exitCode = counts.wrong + counts.broken > 0 ? 1 : 0;
