/**
 * One check of a folder of assertions in a process of its own, its parts timed apart and its work counted; prints one
 * line of JSON. A program: `thousand.ts` runs it.
 */
import { performance } from "node:perf_hooks";
import { checkAssertions } from "../../src/check/index.ts";
import { expectShortRun } from "../../src/cli/engine.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import { loadSite, sitesMeant } from "../../src/load/index.ts";

/** What is printed. */
export type Parts = {
  /** Milliseconds for reading, parsing, resolving and compiling. */
  readonly loadMs: number;
  /** Milliseconds for settling and leases, all proofs, exchanges and replays. */
  readonly checkMs: number;
  /** Milliseconds of processor time for the same, helper threads of Node included: steadier on a busy machine. */
  readonly checkCpuMs: number;
  /** Largest resident memory of the process, in MB (10^6 bytes). */
  readonly peakMb: number;
  /** Devices of the network, stand-ins left out. */
  readonly devices: number;
  /** Verdicts by status. */
  readonly statuses: Readonly<Record<string, number>>;
  /** Counted work: the same on every machine. */
  readonly work: Evaluation["work"];
};

function parts(folder: string): Parts {
  const start = performance.now();
  const [place] = sitesMeant([folder]);
  if (place === undefined || "problem" in place) throw new Error(`no site for ${folder}`);
  const { network, assertions, diagnostics } = loadSite(place, { sources: [] });
  if (network === undefined) throw new Error(diagnostics.map(({ message }) => message).join("\n"));
  const loaded = performance.now();
  const loadedCpu = process.cpuUsage();
  const evaluation = new Evaluation(network);
  const statuses: Record<string, number> = {};
  for (const { document, path } of assertions) {
    const { verdicts } = checkAssertions({ document, file: path, site: "campus", evaluation });
    for (const { status } of verdicts) statuses[status] = (statuses[status] ?? 0) + 1;
  }
  const checked = performance.now();
  const { user, system } = process.cpuUsage(loadedCpu);
  return {
    loadMs: loaded - start,
    checkMs: checked - loaded,
    checkCpuMs: (user + system) / 1000,
    // Kilobytes of 1024 bytes, as Linux counts them.
    peakMb: (process.resourceUsage().maxRSS * 1024) / 1e6,
    devices: network.devices.filter(({ standIn }) => standIn !== true).length,
    statuses,
    work: evaluation.work,
  };
}

// As the command does.
expectShortRun();
console.log(JSON.stringify(parts(process.argv[2] ?? "")));
