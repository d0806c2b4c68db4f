/**
 * `check --watch`: checks, then checks again what each saved file touches, and prints what is new; until it is interrupted.
 */
import { type Diagnostic, hasErrors, type SourceFile } from "../diagnose/index.ts";
import { mayColour, toErrors, toOutput, untilInterrupted, watchFolders } from "../outside/index.ts";
import { INK, type Ink, NO_INK, renderChanges, renderDiagnostics, renderTerminal } from "../report/index.ts";
import { refuse } from "./refuse.ts";
import { type Round, Rounds } from "./rounds.ts";
import type { SiteLook } from "./watched-site.ts";

/** How it was asked for. */
export type WatchOptions = {
  /** Names of the only assertions to judge; empty: all. */
  readonly only: readonly string[];
  /** Tell all of what holds, too. */
  readonly verbose: boolean;
  /** Other options that were said, as written: none of them has a meaning here. */
  readonly others: readonly string[];
};

/** Runs the command; answers, once it is interrupted, with the exit status of the last check. */
export async function runWatch(paths: readonly string[], { only, verbose, others }: WatchOptions): Promise<number> {
  const [other] = others;
  if (other !== undefined)
    return refuse(`\`${other}\` has no meaning with \`--watch\`\n   check once for that, without \`--watch\``);
  const rounds = new Rounds(paths, only);
  const ink = mayColour() ? INK : NO_INK;
  const first = rounds.look();
  print(first, ink, verbose);
  if (first === undefined || first.sites.length === 0) return rounds.status;
  const watch = watchFolders(
    () => rounds.folders,
    () => print(rounds.look(), ink, verbose),
  );
  // What was saved before anything watched.
  print(rounds.look(), ink, verbose);
  toErrors("watching for edits; ctrl-C ends it\n");
  try {
    await Promise.race([untilInterrupted(), watch.failed]);
  } finally {
    watch.close();
  }
  return rounds.status;
}

function print(round: Round | undefined, ink: Ink, verbose: boolean): void {
  if (round === undefined) return;
  for (const name of round.gone) toOutput(`${ink.strong(`${name}: gone`)}\n`);
  for (const site of round.sites) printSite(site, ink, verbose);
  if (round.problem !== undefined) toErrors(`${round.problem}\n`);
}

function printSite({ edited, run, changes, told, name }: SiteLook, ink: Ink, verbose: boolean): void {
  if (edited.length > 0) toOutput(`\n${ink.faint(`${edited.join(", ")}`)}\n`);
  printDiagnostics(told, run.sources);
  if (hasErrors(run.diagnostics)) {
    toOutput(`${ink.strong(`${name}: the documents are wrong`)}\n`);
  } else if (changes === undefined) {
    if (run.verdicts.length > 0 || run.fault !== undefined) toOutput(renderTerminal(run, { ink, verbose }));
  } else {
    toOutput(`${renderChanges(run, changes, { ink, verbose })}`);
  }
}

function printDiagnostics(told: readonly Diagnostic[], sources: readonly SourceFile[]): void {
  if (told.length > 0) toErrors(`${renderDiagnostics(told, sources, NO_INK)}\n`);
}
