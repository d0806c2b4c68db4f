/** How long it takes to ask 100 assertions about 200 devices under every single failure of a cable, alone and with two workers. */
import { spawnSync } from "node:child_process";
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { performance } from "node:perf_hooks";
import { bundled, printedWithin, quantile, type Survey } from "./harness.ts";
import { routedTexts } from "./speed-site.ts";
import type { SweepParts } from "./sweep-parts.ts";
import { SWEPT_SITE, sweptAssertions } from "./sweep-site.ts";

const LONGEST_MS = 300_000;
const AIM_MS = 5000;
const TURNS = 3;
const SWEPT = ", survives: { one-of: cables }";

/** The sweep survey. */
export const sweep: Survey = {
  name: "sweep",
  title: "every single failure of a cable, in ms",
  lines: async () => {
    const parts = printedWithin<SweepParts>(LONGEST_MS, await bundled("sweep-parts"), []);
    if (parts === undefined) return [`not done in ${LONGEST_MS} ms (aim ${AIM_MS})`];
    const { wholeMs, sweptMs, devices, cables, statuses, breaks, work } = parts;
    const told = Object.entries(statuses).map(([status, count]) => `${count} ${status}`);
    return [
      `${devices} devices, ${cables} cables: ${wholeMs.toFixed(0)} of the processor without failures, ${sweptMs.toFixed(0)} with all, in one thread`,
      `${told.join(", ")}; ${breaks} cables break something; ${work.worlds} worlds settled, ${work.events} events simulated`,
      ...withWorkers(),
    ];
  },
};

/** The command as it is run, from start to end: median of all turns on the clock. */
function withWorkers(): readonly string[] {
  const folder = mkdtempSync(join(tmpdir(), "dryrack-sweep-"));
  try {
    for (const kind of ["topologies", "assertions"]) mkdirSync(join(folder, kind, "houses"), { recursive: true });
    const { topology, intent } = routedTexts(SWEPT_SITE);
    writeFileSync(join(folder, "topologies/houses/topology.yaml"), `dryrack: topology/1\n${topology}`);
    writeFileSync(join(folder, "topologies/houses/intent.yaml"), `dryrack: intent/1\n${intent}`);
    writeFileSync(join(folder, "assertions/houses/assertions.yaml"), sweptAssertions(SWEPT));
    const turns = Array.from({ length: TURNS }, () => ["0", "2"].map((count) => run(folder, count)));
    const outputs = new Set(turns.flat().map(({ output }) => output));
    if (outputs.size !== 1) throw new Error("not the same with workers");
    const median = (at: number): string =>
      quantile(
        turns.flatMap((turn) => turn[at]?.ms ?? []),
        0.5,
      ).toFixed(0);
    return [
      `the command, on the clock: ${median(0)} without workers, ${median(1)} with two (aim ${AIM_MS} on two processors)`,
    ];
  } finally {
    rmSync(folder, { recursive: true });
  }
}

function run(folder: string, workers: string): { readonly ms: number; readonly output: string } {
  const start = performance.now();
  const words = [resolve("dist/cli.js"), "check", "--workers", workers];
  const { status, stdout, stderr } = spawnSync(process.execPath, words, {
    cwd: folder,
    encoding: "utf8",
    maxBuffer: 1 << 26,
  });
  if (status !== 1) throw new Error(`${words.join(" ")}: ${status}, ${stderr}`);
  return { ms: performance.now() - start, output: stdout };
}
