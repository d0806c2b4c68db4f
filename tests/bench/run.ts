/** `npm run bench [NAME...]`: measures the named benchmarks, or all; prints a table of ratios, then each survey. */
import { checkDemo } from "./check-demo.ts";
import { course } from "./course.ts";
import { type Benchmark, measure, type Survey } from "./harness.ts";
import { picture } from "./picture.ts";
import { plainBridge } from "./plain-bridge.ts";
import { reuse } from "./reuse.ts";
import { speed } from "./speed.ts";
import { startUp } from "./start-up.ts";
import { sweep } from "./sweep.ts";
import { thousand } from "./thousand.ts";
import { watch } from "./watch.ts";
import { workers } from "./workers.ts";

const BENCHMARKS: readonly Benchmark[] = [startUp, checkDemo];
const SURVEYS: readonly Survey[] = [thousand, speed, sweep, plainBridge, reuse, workers, course, picture, watch];

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

async function printSurvey({ title, unavailable, lines }: Survey): Promise<void> {
  const reason = unavailable?.();
  const found = reason === undefined ? await lines() : [reason];
  console.log(["", title, ...found.map((line) => `  ${line}`)].join("\n"));
}

const wanted = process.argv.slice(2);
const names = [...BENCHMARKS, ...SURVEYS].map(({ name }) => name);
const unknown = wanted.filter((name) => !names.includes(name));
if (unknown.length > 0) throw new Error(`no benchmark ${unknown.join(", ")}; there are ${names.join(", ")}`);
const isChosen = ({ name }: { readonly name: string }): boolean => wanted.length === 0 || wanted.includes(name);
const chosen = BENCHMARKS.filter(isChosen);
if (chosen.length > 0) print([HEADINGS, ...chosen.map(row)]);
for (const survey of SURVEYS.filter(isChosen)) await printSurvey(survey);
