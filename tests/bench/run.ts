/** `npm run bench [NAME...]`: measures the named benchmarks, or all, and prints a table. */
import { checkDemo } from "./check-demo.ts";
import { type Benchmark, measure } from "./harness.ts";
import { startUp } from "./start-up.ts";

const BENCHMARKS: readonly Benchmark[] = [startUp, checkDemo];

const HEADINGS = ["benchmark", "ms", "against", "ratio", "middle half", "aim"];

function row(benchmark: Benchmark): readonly string[] {
  const reason = benchmark.unavailable?.();
  if (reason !== undefined) return [benchmark.title, "", "", "", reason, ""];
  const { runMs, againstMs, ratio, middleHalf } = measure(benchmark);
  const spread = middleHalf.map((each) => each.toFixed(2)).join(" to ");
  return [benchmark.title, runMs.toFixed(1), againstMs.toFixed(1), ratio.toFixed(2), spread, `${benchmark.aim}`];
}

function print(rows: readonly (readonly string[])[]): void {
  const widths = HEADINGS.map((_, column) => Math.max(...rows.map((cells) => (cells[column] ?? "").length)));
  for (const cells of rows)
    console.log(
      cells
        .map((cell, column) => cell.padEnd(widths[column] ?? 0))
        .join("  ")
        .trimEnd(),
    );
}

const wanted = process.argv.slice(2);
const unknown = wanted.filter((name) => BENCHMARKS.every((benchmark) => benchmark.name !== name));
if (unknown.length > 0)
  throw new Error(`no benchmark ${unknown.join(", ")}; there are ${BENCHMARKS.map((each) => each.name).join(", ")}`);
const chosen = BENCHMARKS.filter(({ name }) => wanted.length === 0 || wanted.includes(name));
print([HEADINGS, ...chosen.map(row)]);
