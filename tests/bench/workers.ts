/**
 * Two workers against none: a check of 1,000 assertions, and repairs of the demo with one word gone. Both must print the
 * same. What other programs do on the machine counts here more than elsewhere: two threads need two processors for themselves.
 */
import { spawnSync } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { availableParallelism, tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { performance } from "node:perf_hooks";
import { quantile, type Survey } from "./harness.ts";
import { thousandDevices } from "./thousand-site.ts";

const TURNS = 3;
const WIDENED = ["in: visitors, out: wan, action", "in: visitors, action"] as const;

/** Workers. */
export const workers: Survey = {
  name: "workers",
  title: "two workers against none",
  lines: async () => {
    const folder = mkdtempSync(join(tmpdir(), "dryrack-workers-"));
    try {
      const [campus, demo] = [writeCampus(join(folder, "campus")), copyDemo(join(folder, "demo"))];
      return [
        `processors  ${availableParallelism()}`,
        compared("check", campus, ["check", "assertions/campus"]),
        compared("repair", demo, ["check", "assertions/tidewater-radio", "--repair"]),
      ];
    } finally {
      rmSync(folder, { recursive: true });
    }
  },
};

function writeCampus(folder: string): string {
  const { topology, intent, assertions } = thousandDevices();
  for (const kind of ["topologies", "assertions"]) mkdirSync(join(folder, kind, "campus"), { recursive: true });
  writeFileSync(join(folder, "topologies/campus/topology.yaml"), topology);
  writeFileSync(join(folder, "topologies/campus/intent.yaml"), intent);
  writeFileSync(join(folder, "assertions/campus/assertions.yaml"), assertions);
  return folder;
}

function copyDemo(folder: string): string {
  for (const kind of ["topologies", "assertions"]) cpSync(kind, join(folder, kind), { recursive: true });
  const path = join(folder, "topologies/tidewater-radio/edge.yaml");
  writeFileSync(path, readFileSync(path, "utf8").replace(...WIDENED));
  return folder;
}

/** The two take turns; each turn gives one ratio. */
function compared(name: string, folder: string, words: readonly string[]): string {
  const turns = Array.from({ length: TURNS }, () => {
    const [none, two] = ["0", "2"].map((count) => run(folder, [...words, "--workers", count]));
    if (none === undefined || two === undefined || none.output !== two.output) throw new Error(`${name}: not the same`);
    return { none: none.ms, two: two.ms };
  });
  const median = (value: (turn: (typeof turns)[number]) => number): number => quantile(turns.map(value), 0.5);
  const [ratio, none] = [median(({ none: alone, two }) => two / alone), median((turn) => turn.none)];
  return `${name.padEnd(10)}  ${ratio.toFixed(2)} of ${none.toFixed(0)} ms, median of ${TURNS} turns`;
}

function run(folder: string, words: readonly string[]): { readonly ms: number; readonly output: string } {
  const start = performance.now();
  const { status, stdout, stderr } = spawnSync(process.execPath, [resolve("dist/cli.js"), ...words], {
    cwd: folder,
    encoding: "utf8",
    maxBuffer: 1 << 26,
  });
  if (status !== 0 && status !== 1) throw new Error(`${words.join(" ")}: ${status}, ${stderr}`);
  return { ms: performance.now() - start, output: stdout };
}
