/**
 * A storyline replayed: laid out, played, judged, and what was broken traced back to its cause.
 */

import { namingFaults } from "../check/index.ts";
import { type Diagnostic, hasErrors } from "../diagnose/index.ts";
import { GAP_MS } from "../document/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import type { Demand, Moment, Status, Timeline } from "../result/index.ts";
import type { CaptureSink } from "../simulate/index.ts";
import { type AssertionFile, type Cast, castOf } from "./cast.ts";
import { causesOf, type Symptom } from "./causes.ts";
import { type Outcome, type Outcomes, outcomesOf } from "./every-outcome.ts";
import { isBroken } from "./judge.ts";
import type { Played, Playing } from "./play.ts";
import { seenBy } from "./seen-by.ts";
import { type Script, type Stage, stageOf } from "./stage.ts";
import { outagesOf } from "./times.ts";
import { breachIn, demandOf, type Wanted, wantedOf } from "./wanted.ts";

/** What is replayed, and how. */
export type ReplayRequest = Script & {
  /** Path of the storyline, as reports call it. */
  readonly path: string;
  /** Name of the site. */
  readonly site: string;
  /** Assertions of the site. */
  readonly assertions: readonly AssertionFile[];
  /** When it ends. Default: a minute after the last time that the story names, or half a minute after the longest gap. */
  readonly untilMs?: number;
  /** Tell only what concerns this device. Default: tell everything. */
  readonly from?: string;
  /** Gets every frame. Default: nobody does. */
  readonly capture?: CaptureSink;
  /** Is told of each moment as it has come, all of it. Default: nobody is. */
  readonly onMoment?: (moment: Moment) => void;
};

/** What a replay comes to, without what only the command knows. */
export type Replayed = Omit<Timeline, "version" | "sources" | "fault">;

/** When its last step is over a story goes on for so long at least: longer than a spanning tree needs to turn. */
const AFTER_MS = 60_000;
/** And for so long after a gap that is tolerated, so that what stays broken is seen to be broken for longer. */
const AFTER_GAP_MS = 30_000;

type Ready = {
  readonly stage: Stage;
  readonly cast: Cast;
  readonly wanted: readonly Wanted[];
  readonly endMs: number;
  readonly diagnostics: readonly Diagnostic[];
};

/** What is wrong with a storyline on its site, before anything runs; what a story takes away on purpose is no fault, and told by its replay alone. */
export function examine(request: ReplayRequest): readonly Diagnostic[] {
  return ready(request).diagnostics;
}

/** Replays a storyline; with an error in it nothing is played. @throws EnginesDisagree */
export function replay(request: ReplayRequest): Replayed {
  const set = ready(request);
  const { stage, cast, wanted, endMs, diagnostics } = set;
  const blank = blankOf(request, endMs, [...stage.asides, ...diagnostics]);
  if (hasErrors(diagnostics)) return blank;
  const { capture, onMoment, document, from } = request;
  const playing: Playing = {
    stage,
    files: cast.files,
    site: request.site,
    endMs,
    isFromDark: document.begins?.value === "from-dark",
    ...(capture === undefined ? {} : { capture }),
    ...(onMoment === undefined ? {} : { onMoment }),
  };
  const outcomes = outcomesOf(playing);
  const { played } = outcomes.first;
  const moments = from === undefined ? played.moments : seenBy(from, played.moments, cast.files, stage.first.network);
  return {
    ...blank,
    began: beginning(played),
    moments,
    demands: demandsOf(wanted, request, playing, outcomes),
    outages: outagesOf(played.histories, endMs),
    assumptions: assumptionsOf(outcomes),
  };
}

function ready(request: ReplayRequest): Ready {
  const stage = stageOf(request);
  const cast = castOf(request.document, request.path, request.assertions);
  const endMs = request.untilMs ?? endOf(request, stage);
  const { wanted, diagnostics } = wantedOf(request.document, stage, cast, endMs);
  const faults = unaskable(wanted, cast, stage);
  return {
    stage,
    cast,
    wanted,
    endMs,
    diagnostics: [...stage.diagnostics, ...cast.diagnostics, ...diagnostics, ...faults],
  };
}

function endOf({ document: { saw, story } }: ReplayRequest, { overMs }: Stage): number {
  const seen = saw.map(({ atMs, withinMs }) => atMs.value + (withinMs?.value ?? 0));
  const gaps = story.map(({ does }) => (does.kind === "meanwhile" ? (does.gapMs?.value ?? GAP_MS.works) : 0));
  const afterMs = Math.max(AFTER_MS, ...gaps.map((gapMs) => gapMs + AFTER_GAP_MS));
  return Math.max(0, ...(story.length === 0 ? [] : [overMs + afterMs]), ...seen);
}

/** Assertions that name what is there at no moment of the story. */
function unaskable(wanted: readonly Wanted[], { files }: Cast, { first, scenes }: Stage): readonly Diagnostic[] {
  const networks = new Set([first.network, ...scenes.flatMap(({ circumstances }) => circumstances?.network ?? [])]);
  const evaluations = [...networks].map((network) => new Evaluation(network));
  const roles = new Set(wanted.map(({ role }) => role));
  return [...roles].flatMap(({ assertion }) => {
    const document = files.find((file) => file.document.assertions.includes(assertion))?.document;
    if (document === undefined) return [];
    const faults = evaluations.map((evaluation) => namingFaults({ ...document, assertions: [assertion] }, evaluation));
    return faults.every(hasErrors) ? (faults[0] ?? []) : [];
  });
}

function blankOf(request: ReplayRequest, endMs: number, diagnostics: readonly Diagnostic[]): Replayed {
  const { document, path, site, from } = request;
  return {
    diagnostics,
    site,
    story: path,
    ...(document.note === undefined ? {} : { note: document.note.value }),
    ...(from === undefined ? {} : { from }),
    began: { kept: 0, open: [] },
    moments: [],
    demands: [],
    outages: [],
    endMs,
    assumptions: [],
  };
}

function beginning({ histories }: Played): Timeline["began"] {
  const first = [...histories.values()].flatMap(([since]) =>
    since?.fromMs === 0 && since.verdict ? [since.verdict] : [],
  );
  const open = first.filter((verdict) => isBroken(verdict) || isOpen(verdict.status));
  return { kept: first.length - open.length, open: open.map(({ name, status }) => ({ name, status })) };
}

function isOpen(status: Status): boolean {
  return status === "undecided";
}

/** What came of everything demanded; where it was broken, with what is behind that. */
function demandsOf(wanted: readonly Wanted[], script: Script, playing: Playing, outcomes: Outcomes): readonly Demand[] {
  const shown = wanted.map((each) => ({ wanted: each, outcome: tellingOne(each, outcomes, playing.endMs) }));
  const symptoms = shown.flatMap(({ wanted: each, outcome }): Symptom[] => {
    const breach = breachIn(each, outcome.played);
    return breach === undefined ? [] : [{ wanted: each, breach, outcome }];
  });
  const causes = causesOf(symptoms, script, playing);
  return shown.map(({ wanted: each, outcome }) => {
    const demand = underLabel(demandOf(each, outcome.played, playing.endMs), outcome);
    const cause = causes[symptoms.findIndex((symptom) => symptom.wanted === each)];
    return cause === undefined ? demand : { ...demand, cause };
  });
}

/** The first outcome in which it is broken, else in which nobody can tell, else the first. */
function tellingOne(wanted: Wanted, { all, first }: Outcomes, endMs: number): Outcome {
  const broken = all.find(({ played }) => breachIn(wanted, played) !== undefined);
  const open = all.find(({ played }) => ["failed", "undecided"].includes(demandOf(wanted, played, endMs).status));
  return broken ?? open ?? first;
}

/** With the outcome in which it is so, unless the verdict tells of it itself: the choices under which it fails are in its headline. */
function underLabel(demand: Demand, { label, picks }: Outcome): Demand {
  const { verdict, text } = demand;
  if (label === "" || verdict === undefined) return demand;
  const isTold = picks.every(({ choice }) => verdict.picks.some((pick) => pick.choice === choice));
  if (isTold) return demand;
  const headline = `${verdict.headline} when ${label}`;
  return { ...demand, text: text === verdict.headline ? headline : text, verdict: { ...verdict, headline } };
}

function assumptionsOf({ all, leftOpen }: Outcomes): readonly string[] {
  const verdicts = all.flatMap(({ played: { histories } }) => [...histories.values()].flat());
  return [...new Set([...leftOpen, ...verdicts.flatMap(({ verdict }) => verdict?.assumptions ?? [])])];
}
