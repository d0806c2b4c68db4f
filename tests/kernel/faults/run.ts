/**
 * `npm run kernel:faults [WORD...]`: plants each fault of the lists (or those whose reason or file holds a word) in a copy of
 * the tree, runs the fixed batch there, and says whether the kernel found it; without any fault the batch must agree. Ends
 * with exit status 1 below nine in ten.
 */
import { spawn } from "node:child_process";
import { join } from "node:path";
import { BATCH_QUESTIONS, BATCH_SEEDS } from "../batch.ts";
import { type Fault, inFaultyCopy, readFaults } from "./faults.ts";

const ENOUGH = 0.9; // of all faults: 18 of 20
const tree = process.cwd();
const words = process.argv.slice(2);
const faults = readFaults(join(tree, "tests/kernel/faults")).filter(
  ({ file, why }) => words.length === 0 || words.some((word) => file.includes(word) || why.includes(word)),
);

/** The first line that tells of a difference, or of a model that breaks; undefined: the fault went unseen. */
async function judge(copy: string): Promise<string | undefined> {
  const seeds = `${BATCH_SEEDS.at(0)}-${BATCH_SEEDS.at(-1)}`;
  const options = [
    "--kind",
    "packets",
    "--seeds",
    seeds,
    "--questions",
    `${BATCH_QUESTIONS}`,
    "--no-shrink",
    "--first",
  ];
  const child = spawn(process.execPath, ["tests/support/run.mjs", "tests/kernel/fuzz.ts", ...options], {
    cwd: copy,
    stdio: ["ignore", "pipe", "inherit"],
  });
  let said = "";
  child.stdout.on("data", (chunk: Buffer) => {
    said += chunk.toString("utf8");
  });
  const ended = new Promise<readonly [status: number | null, signal: string | null]>((resolve) =>
    child.on("close", (status, signal) => resolve([status, signal])),
  );
  const [status, signal] = await ended;
  const line = said.split("\n").find((each) => /^(?:DIFFERENCE|BROKEN)/.test(each));
  // A fault may make a model go on until there is no room left.
  if (line === undefined && signal !== null) return `BROKEN the batch was ended by ${signal}`;
  if (line === undefined && status !== 0) throw new Error(`the batch ended with ${status}:\n${said}`);
  return line;
}

async function tell(fault: Fault): Promise<boolean> {
  const line = await inFaultyCopy(tree, fault, judge);
  console.log(
    `${line === undefined ? "NOT FOUND" : "found    "} ${fault.file}: ${fault.why}${line === undefined ? "" : `\n          ${line}`}`,
  );
  return line !== undefined;
}

// A batch that differs without any fault would find every one of them.
const before = await judge(tree);
if (before !== undefined) throw new Error(`the batch differs as the tree is: ${before}`);
let found = 0;
for (const fault of faults) if (await tell(fault)) found++;
console.log(`${found} of ${faults.length} planted faults found`);
process.exitCode = found >= ENOUGH * faults.length ? 0 : 1;
