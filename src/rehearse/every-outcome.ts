/**
 * A story in every outcome of what the plan leaves open: it is played once, then again for every other option of each choice that it
 * met, as exchanges are asked. The account is of the first; what is demanded must hold in each, and what people saw is seen where one
 * of them shows it.
 */
import { nextOutcomes } from "../evaluate/index.ts";
import type { Pick } from "../network/index.ts";
import type { Taken } from "./left-open.ts";
import { type Played, type Playing, play } from "./play.ts";

/** More histories than this are not played. */
const MOST_OUTCOMES = 8;

/** One history of a story. */
export type Outcome = {
  /** What was taken of what stays open. */
  readonly picks: readonly Pick[];
  /** What is otherwise than in the first, a sentence; empty: it is the first. */
  readonly label: string;
  /** What came. */
  readonly played: Played;
};

/** All histories of a story, and what is to be said of what stays open. */
export type Outcomes = {
  /** The one of the account. */
  readonly first: Outcome;
  /** All of them, the first one, too. */
  readonly all: readonly Outcome[];
  /** Sentences. */
  readonly leftOpen: readonly string[];
};

/** Plays a story in every outcome. @throws EnginesDisagree */
export function outcomesOf(playing: Playing): Outcomes {
  const first: Outcome = { picks: [], label: "", played: play(playing) };
  const { capture: _, onMoment: __, ...unwatched } = playing;
  const all = [first];
  const pending = [...nextOf(first)];
  for (let picks = pending.shift(); picks !== undefined && all.length < MOST_OUTCOMES; picks = pending.shift()) {
    const played = play({ ...unwatched, picks });
    const outcome = { picks, label: labelOf(played, first.played), played };
    all.push(outcome);
    pending.unshift(...nextOf(outcome));
    if (all.length === MOST_OUTCOMES && pending.length > 0) return { first, all, leftOpen: saidOf(first, all, false) };
  }
  return { first, all, leftOpen: saidOf(first, all, true) };
}

function nextOf({ picks, played }: Outcome): (readonly Pick[])[] {
  return nextOutcomes({ picks, open: [...played.taken.values()] });
}

function saidOf({ played: { taken } }: Outcome, all: readonly Outcome[], isAll: boolean): readonly string[] {
  const told = [...taken.values()].map(({ text, instead }: Taken) => `${text}${instead}`);
  if (all.length === 1) return told;
  const judged = isAll ? `all ${all.length} outcomes` : `${all.length} outcomes, and no more were tried`;
  return [...told, `that is so in the account; what is demanded was judged in ${judged}`];
}

function labelOf({ taken }: Played, first: Played): string {
  const others = [...taken.values()].filter(({ choice, option }) => first.taken.get(choice)?.option !== option);
  return others.map(({ text }) => text).join(" and ");
}
