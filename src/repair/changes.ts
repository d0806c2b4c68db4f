/**
 * What an edit changes: the lines of its file, how much of them, and what gets through after it and not before.
 */
import { diffArrays } from "diff";
import { isWithin, type State, type Turned, tellTurned, turnedBetween } from "../compare/index.ts";
import { commonEnds, lineStartsOf, lineText } from "../diagnose/index.ts";
import { withEdits } from "../document/index.ts";
import { type Change, type ChangedLines, namesOf, tellDifference } from "../result/index.ts";
import type { Candidate } from "./candidate.ts";
import type { Plan } from "./plan.ts";
import type { Trial } from "./trial.ts";

/** Of a long list of what an edit lets through so many sentences are told. */
const MOST_TOLD = 4;

/** The lines of a file that an edit changes. */
export function changedLines(text: string, { edits }: Candidate): readonly ChangedLines[] {
  const found: ChangedLines[] = [];
  let line = 1;
  let open: { line: number; before: string[]; after: string[] } | undefined;
  for (const { added, removed, value } of diffArrays(linesOf(text), linesOf(withEdits(text, edits)))) {
    if (!added && !removed) {
      if (open !== undefined) found.push(open);
      open = undefined;
      line += value.length;
      continue;
    }
    open ??= { line, before: [], after: [] };
    (added ? open.after : open.before).push(...value);
    if (removed) line += value.length;
  }
  return open === undefined ? found : [...found, open];
}

function linesOf(text: string): string[] {
  return lineStartsOf(text).map((_, index, starts) => lineText(text, starts, index + 1));
}

/** How many characters an edit takes out and puts in, without those that stay. */
export function sizeOf(text: string, { edits }: Candidate): number {
  return edits.reduce((sum, { span, text: put }) => sum + differing(text.slice(span.start, span.end), put), 0);
}

function differing(before: string, after: string): number {
  const { head, tail } = commonEnds(before, after);
  return before.length + after.length - 2 * (head + tail);
}

// -- reach -----------------------------------------------------------------------------------------------------------

/** What a trial turns, with the trial. */
export type Weighed = {
  /** The trial. */
  readonly trial: Trial;
  /** What gets through on one side only. */
  readonly turned: Turned;
};

/** Works out what a trial turns. @throws EnginesDisagree */
export function weigh(plan: Plan, trial: Trial): Weighed {
  return { trial, turned: turnedBetween(requestOf(plan, trial)) };
}

/**
 * Whether one turns less than the other: nothing that the other does not, and not all of it; or, where their packets cannot be
 * told one within the other, between fewer ends.
 */
export function isNarrower({ turned: one }: Weighed, { turned: other }: Weighed): boolean {
  return (isWithin(one, other) === true && isWithin(other, one) === false) || isBetweenFewer(one, other);
}

/** Between how many ends packets are turned; of what nobody can tell more than of anything that is known. */
export function turnedPairs({ turned: { sets, undecided } }: Weighed): number {
  return undecided.length > 0 ? Number.POSITIVE_INFINITY : pairsIn(sets).size;
}

function pairsIn(sets: Turned["sets"]): ReadonlySet<string> {
  return new Set(sets.map(({ change, pair: { from, to } }) => `${change} ${from.id} ${to.id}`));
}

/** A rule of its own that lets `invalid` packets pass is not within one that opens a whole network, and opens less. */
function isBetweenFewer(one: Turned, other: Turned): boolean {
  if (one.undecided.length > 0 || other.undecided.length > 0) return false;
  const [few, many] = [one, other].map(({ sets }) => pairsIn(sets));
  return few !== undefined && many !== undefined && few.size < many.size && [...few].every((each) => many.has(each));
}

/** What an edit newly allows and newly forbids, in sentences. @throws EnginesDisagree */
export function tellReach(
  plan: Plan,
  { trial, turned }: Weighed,
): { readonly allows: readonly string[]; readonly forbids: readonly string[] } {
  const differences = tellTurned(turned.sets, requestOf(plan, trial));
  const told = (wanted: Change): readonly string[] => {
    const sentences = differences.filter(({ change }) => change === wanted).map(tellDifference);
    const more = sentences.length - MOST_TOLD;
    return more > 0 ? [...sentences.slice(0, MOST_TOLD), `${more} more`] : sentences;
  };
  const unknown = turned.undecided.map((each) => `nobody can tell all of it: ${each}`).slice(0, 1);
  return { allows: [...told("newly-allowed"), ...unknown], forbids: told("newly-forbidden") };
}

function requestOf(plan: Plan, { plan: after }: Trial): Parameters<typeof turnedBetween>[0] {
  return { base: stateOf(plan), head: stateOf(after), sources: after.sources, replaced: new Map() };
}

function stateOf({ evaluation, site, files, sources }: Plan): State {
  const byPath = new Map(files.map((file) => [sources[file]?.path ?? "", file]));
  return { evaluation, names: namesOf(evaluation.network), site, files: byPath };
}
