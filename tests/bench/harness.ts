/**
 * Ratios measured in one run: two programs take turns (A B A B ...), each turn gives one ratio, and the median of the
 * ratios is reported, so that a machine that slows down half-way slows both. Nothing here asserts a time.
 */
import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { performance } from "node:perf_hooks";
import { build } from "esbuild";

/** Two programs to compare; one file of this folder exports one. */
export type Benchmark = {
  /** Short, as given to `npm run bench NAME`. */
  readonly name: string;
  /** What the ratio says: "`dryrack --help` against bare Node". */
  readonly title: string;
  /** The ratio that we aim at, at most; printed beside the measured one. */
  readonly aim: number;
  /** How many turns each program takes. */
  readonly turns: number;
  /** Why it cannot run here, or undefined where it can. */
  readonly unavailable?: () => string | undefined;
  /** Runs the program of interest once. */
  readonly run: () => void;
  /** Runs the program that it is held against once. */
  readonly against: () => void;
};

/** A benchmark that shows more than one ratio: what it found, line by line. */
export type Survey = {
  /** Short, as given to `npm run bench NAME`. */
  readonly name: string;
  /** What is measured. */
  readonly title: string;
  /** Why it cannot run here, or undefined where it can. */
  readonly unavailable?: () => string | undefined;
  /** Measures. */
  readonly lines: () => Promise<readonly string[]>;
};

/** Medians over all turns; milliseconds, and the middle half of the ratios. */
export type Measured = {
  readonly runMs: number;
  readonly againstMs: number;
  readonly ratio: number;
  readonly middleHalf: readonly [low: number, high: number];
};

/** Runs Node with the arguments and throws, with what it said, unless its exit status is one of `expected`. */
export function runNode(args: readonly string[], expected: readonly number[] = [0]): void {
  const { status, stderr } = spawnSync(process.execPath, args, { encoding: "utf8" });
  if (status === null || !expected.includes(status)) throw new Error(`node ${args.join(" ")}: ${status}, ${stderr}`);
}

/** Bundles a program of this folder as the command is, minified, packages and all; answers with its path. */
export async function bundled(name: string): Promise<string> {
  const outfile = join("node_modules", ".cache", "dryrack", `${name}.mjs`);
  await build({
    entryPoints: [`tests/bench/${name}.ts`],
    outfile,
    bundle: true,
    minify: true,
    platform: "node",
    format: "esm",
    target: "node20.19",
    logLevel: "warning",
    // They read files that lie beside them.
    external: ["elkjs", "z3-solver"],
    // CommonJS packages ask for Node's modules with `require`.
    banner: { js: 'import { createRequire } from "node:module"; const require = createRequire(import.meta.url);' },
  });
  return outfile;
}

/** What a program of ours prints as one line of JSON, run in a process of its own; undefined: it took too long. */
export function printedWithin<Printed>(ms: number, program: string, args: readonly string[]): Printed | undefined {
  const { status, stdout, stderr, error } = spawnSync(process.execPath, [program, ...args], {
    encoding: "utf8",
    timeout: ms,
  });
  if (error !== undefined && "code" in error && error.code === "ETIMEDOUT") return undefined;
  if (status !== 0) throw new Error(`${program} ${args.join(" ")}: ${status}, ${stderr}`);
  return JSON.parse(stdout) as Printed; // what our own program prints
}

/** Takes the turns, after one of each that is not counted. `clock` gives milliseconds. */
export function measure(benchmark: Benchmark, clock: () => number = () => performance.now()): Measured {
  benchmark.run();
  benchmark.against();
  const turns = Array.from({ length: benchmark.turns }, () => ({
    runMs: elapsed(benchmark.run, clock),
    againstMs: elapsed(benchmark.against, clock),
  }));
  const ratios = turns.map(({ runMs, againstMs }) => runMs / againstMs);
  return {
    runMs: quantile(
      turns.map(({ runMs }) => runMs),
      0.5,
    ),
    againstMs: quantile(
      turns.map(({ againstMs }) => againstMs),
      0.5,
    ),
    ratio: quantile(ratios, 0.5),
    middleHalf: [quantile(ratios, 0.25), quantile(ratios, 0.75)],
  };
}

function elapsed(run: () => void, clock: () => number): number {
  const start = clock();
  run();
  return clock() - start;
}

/** The value below which the given share of the values lies: nearest rank, no interpolation. */
export function quantile(values: readonly number[], share: number): number {
  const sorted = values.toSorted((a, b) => a - b);
  const value = sorted[Math.floor(share * (sorted.length - 1))];
  if (value === undefined) throw new Error("no values");
  return value;
}
