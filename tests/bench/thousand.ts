/**
 * 1,000 devices and 1,000 assertions: one check in a process of its own, its parts timed apart and its work counted.
 */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { bundled, printedWithin, quantile, type Survey } from "./harness.ts";
import type { Parts } from "./thousand-parts.ts";
import { thousandDevices } from "./thousand-site.ts";

const TURNS = 3;
const LONGEST_MS = 120_000;
/** What must stay under 500 KB. */
const AIMS = { documentsKb: 500, checkMs: 3000, peakMb: 400 } as const;

/** The large site. */
export const thousand: Survey = {
  name: "thousand",
  title: "1,000 devices, 1,000 assertions",
  lines: async () => {
    const program = await bundled("thousand-parts");
    const folder = mkdtempSync(join(tmpdir(), "dryrack-thousand-"));
    try {
      const bytes = writeSite(folder);
      const runs = Array.from({ length: TURNS }, () => run(program, join(folder, "assertions", "campus")));
      return tell(bytes, runs);
    } finally {
      rmSync(folder, { recursive: true });
    }
  },
};

/** Writes the site; answers with the size of its topology and intent in bytes. */
function writeSite(folder: string): number {
  const { topology, intent, assertions } = thousandDevices();
  const files = [
    ["topologies", "topology.yaml", topology],
    ["topologies", "intent.yaml", intent],
    ["assertions", "assertions.yaml", assertions],
  ] as const;
  for (const [kind, name, text] of files) {
    mkdirSync(join(folder, kind, "campus"), { recursive: true });
    writeFileSync(join(folder, kind, "campus", name), text);
  }
  return Buffer.byteLength(topology) + Buffer.byteLength(intent) + Buffer.byteLength(assertions);
}

function run(program: string, folder: string): Parts {
  const parts = printedWithin<Parts>(LONGEST_MS, program, [folder]);
  if (parts === undefined) throw new Error(`${program} takes more than ${LONGEST_MS} ms`);
  return parts;
}

function tell(bytes: number, runs: readonly Parts[]): string[] {
  const [first] = runs;
  if (first === undefined) throw new Error("no run");
  const median = (part: "loadMs" | "checkMs" | "checkCpuMs" | "peakMb"): string =>
    quantile(
      runs.map((each) => each[part]),
      0.5,
    ).toFixed(0);
  const { devices, statuses, work } = first;
  const pairs = (record: object): string =>
    Object.entries(record)
      .map(([name, count]) => `${count} ${name}`)
      .join(", ");
  return [
    `documents     ${(bytes / 1000).toFixed(0)} KB (aim ${AIMS.documentsKb}), ${devices} devices`,
    `verdicts      ${pairs(statuses)}`,
    `parsing       ${median("loadMs")} ms (read, parsed, resolved, compiled)`,
    `check         ${median("checkMs")} ms (aim ${AIMS.checkMs}), ${median("checkCpuMs")} ms of processor time; medians of ${runs.length}`,
    `peak memory   ${median("peakMb")} MB (aim ${AIMS.peakMb})`,
    `work          ${pairs(work)}`,
  ];
}
