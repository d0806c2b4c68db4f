/**
 * What a person waits for after saving a file while `check --watch` runs on the demo: each slip of the pen saved and taken back, a
 * comment and the name of an assertion changed. Files are written and read as ever; the pause that joins the events of one save is not counted.
 */
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { performance } from "node:perf_hooks";
import { Rounds } from "../../src/cli/rounds.ts";
import type { LookWork } from "../../src/cli/watched-site.ts";
import { SLIPS } from "../sites/demo-edits.ts";
import { quantile, type Survey } from "./harness.ts";

const SITE = "tidewater-radio";

type Edit = { readonly file: string; readonly change: (text: string) => string };

const COMMENTS: readonly Edit[] = SLIPS.map(({ file }, index) => ({
  file: `topologies/${SITE}/${file}`,
  change: (text) => text.replace("\n", ` # ${index}\n`),
}));
const NAMES: readonly Edit[] = SLIPS.map((_, index) => ({
  file: `assertions/${SITE}/isolation.yaml`,
  change: (text) => text.replace("name: ", `name: ${index} `),
}));
const EDITS: readonly Edit[] = SLIPS.map(({ file, find, replace }) => ({
  file: `topologies/${SITE}/${file}`,
  change: (text) => text.replace(find, replace),
}));

/** Times of saves. */
export const watch: Survey = {
  name: "watch",
  title: "`check --watch` on the demo: from the saved file to all verdicts",
  lines: () => Promise.resolve(measured()),
};

function measured(): readonly string[] {
  const folder = mkdtempSync(join(tmpdir(), "dryrack-watch-"));
  try {
    for (const kind of ["topologies", "assertions"])
      cpSync(join(kind, SITE), join(folder, kind, SITE), { recursive: true });
    const rounds = new Rounds([join(folder, "topologies", SITE)], []);
    const first = timed(rounds);
    // Not counted: whoever watches has saved before.
    saves(rounds, folder, EDITS.slice(0, 10));
    const early = saves(rounds, folder, EDITS);
    return [
      `first look       ${first.ms.toFixed(0)} ms; of the processor ${first.processorMs.toFixed(0)} ms`,
      tell("a comment", saves(rounds, folder, COMMENTS).there),
      tell("an assertion", saves(rounds, folder, NAMES).there),
      tell("a slip, early", early.there),
      // What was compiled by the engine for the first ones serves these; of their answers nothing is left.
      ...both(saves(rounds, folder, EDITS)),
    ];
  } finally {
    rmSync(folder, { recursive: true });
  }
}

type Saves = { readonly there: readonly Turn[]; readonly back: readonly Turn[] };

/** Milliseconds on the clock, and of the processor: the former are longer where others work beside us; and the counted work. */
type Turn = { readonly ms: number; readonly processorMs: number; readonly work: LookWork };

function both({ there, back }: Saves): readonly string[] {
  return [tell("a slip, warm", there), tellWork(there), tell("taken back", back)];
}

/** Milliseconds of each edit, and of taking it back. */
function saves(rounds: Rounds, folder: string, edits: readonly Edit[]): Saves {
  const times = edits.map(({ file, change }) => {
    const path = join(folder, file);
    const sound = readFileSync(path, "utf8");
    writeFileSync(path, change(sound));
    const there = timed(rounds);
    writeFileSync(path, sound);
    return { there, back: timed(rounds) };
  });
  return { there: times.map(({ there }) => there), back: times.map(({ back }) => back) };
}

function timed(rounds: Rounds): Turn {
  const [start, used] = [performance.now(), process.cpuUsage()];
  const site = rounds.look()?.sites[0];
  if (site === undefined) throw new Error("a save that nobody saw");
  const { user, system } = process.cpuUsage(used);
  return { ms: performance.now() - start, processorMs: (user + system) / 1000, work: site.work };
}

/** What all of them took: the same on every machine. */
function tellWork(turns: readonly Turn[]): string {
  const sum = (kind: keyof LookWork): number => turns.reduce((all, { work }) => all + work[kind], 0);
  return `  in all: ${sum("asked")} assertions asked, ${sum("worlds")} worlds settled, ${sum("events")} events, ${sum("proverSteps")} steps of proofs`;
}

function tell(what: string, turns: readonly Turn[]): string {
  const at = (share: number, value: (turn: Turn) => number): string => quantile(turns.map(value), share).toFixed(0);
  const clock = [0.5, 0.9].map((share) => at(share, ({ ms }) => ms));
  const processor = [0.5, 0.9].map((share) => at(share, ({ processorMs }) => processorMs));
  return `${what.padEnd(16)} p50 ${clock[0]} ms, p90 ${clock[1]} ms; of the processor ${processor[0]} and ${processor[1]} ms (${turns.length} saves)`;
}
