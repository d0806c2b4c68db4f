/**
 * What is behind something that was broken: the steps of the story without which it would not have been. Each is found by playing the
 * story without it. A step that cannot be without another one (what is plugged in must be unplugged first) goes with it, and is blamed
 * alone where leaving it out is enough: the other one only made room for it.
 */
import type { Assertion, LeaseAssertion, List, SegmentAssertion, Target } from "../document/index.ts";
import type { Blamed, Cause, Knowledge, Moment } from "../result/index.ts";
import type { CourseEvent } from "../simulate/index.ts";
import type { Outcome } from "./every-outcome.ts";
import { type Playing, play } from "./play.ts";
import { isEvent, isPlayable, type Scene, type Script, type Stage, stageOf } from "./stage.ts";
import type { BrokenStretch } from "./times.ts";
import { breachIn, type Wanted } from "./wanted.ts";

/** Something that was broken, and how. */
export type Symptom = {
  /** Of what. */
  readonly wanted: Wanted;
  /** When, and how. */
  readonly breach: BrokenStretch;
  /** In which history of the story. */
  readonly outcome: Outcome;
};

/** More steps than this are not left out one by one. */
const MOST_TRIALS = 64;
const MOST_CHANGES = 3;

/** The cause of each symptom, in their order. @throws EnginesDisagree */
export function causesOf(symptoms: readonly Symptom[], script: Script, playing: Playing): readonly Cause[] {
  if (symptoms.length === 0) return [];
  const trials = new Trials(script, playing, symptoms);
  return symptoms.map((symptom) => {
    const { steps, each } = trials.stepsBehind(symptom);
    const blamed = steps.flatMap((step) => blamedAt(step, playing.stage));
    return {
      sinceMs: symptom.breach.fromMs,
      steps: blamed,
      ...(each === "enough" && blamed.length > 1 ? { each } : {}),
      changes: changesAt(symptom, symptom.outcome.played.moments),
      ...(blamed.length > 0 ? {} : { text: trials.whyNone(symptom) }),
    };
  });
}

function blamedAt(step: number, { scenes }: Stage): readonly Blamed[] {
  const scene = scenes.find((each) => each.step === step);
  if (scene === undefined) return [];
  const { kind, text, at, atMs, note, touches } = scene;
  const asides = { ...(note === undefined ? {} : { note }), ...(touches === undefined ? {} : { touches }) };
  return [{ kind, text, at, atMs, ...asides }];
}

/** What changed in what devices know when it broke: at that moment, or last before. */
function changesAt({ breach, wanted }: Symptom, moments: readonly Moment[]): readonly Knowledge[] {
  const turned = moments.findIndex(
    ({ atMs, turns }) => atMs === breach.fromMs && turns.some(({ id }) => id === wanted.role.id),
  );
  const before = turned < 0 ? moments.filter(({ atMs }) => atMs <= breach.fromMs) : moments.slice(0, turned + 1);
  // A lease that was renewed broke nothing.
  const news = before.map(({ changes }) => changes.filter(({ isSame }) => isSame !== true));
  const last = news.findLast((changes) => changes.length > 0);
  if (last === undefined) return [];
  const named = namedIn(wanted.role.assertion);
  const own = last.filter(({ device }) => named.has(device));
  const rank = ({ what }: Knowledge): number => (TELLING.includes(what) ? TELLING.indexOf(what) : TELLING.length);
  return (own.length > 0 ? own : last).toSorted((a, b) => rank(a) - rank(b)).slice(0, MOST_CHANGES);
}

/** What tells most comes first: what was lost before what it was lost by. */
const TELLING: readonly string[] = [
  "lease",
  "storm",
  "bond",
  "advertisement",
  "tunnel",
  "session",
  "neighbour",
  "spanning-tree",
  "lease-request",
  "carrier",
] satisfies readonly CourseEvent["what"][];

/** Names of its ends, networks and sets among them. */
function namedIn(assertion: Assertion): ReadonlySet<string> {
  if (assertion.kind === "segment") return new Set();
  if (assertion.kind === "lease") return new Set([assertion.lease.client.value.name]);
  const { from, to } = endsIn(assertion);
  const targets = [...from.value, ...(to?.value ?? [])].map(({ value }) => value);
  return new Set(targets.flatMap((target) => (target.by === "name" ? [target.name] : [])));
}

type Named = { readonly from: List<Target>; readonly to?: List<Target> };

function endsIn(assertion: Exclude<Assertion, LeaseAssertion | SegmentAssertion>): Named {
  return assertion.kind === "policy" ? assertion.policy : assertion;
}

class Trials {
  readonly #script: Script;
  readonly #playing: Playing;
  readonly #symptoms: readonly Symptom[];
  /** Events of the story, in order. */
  readonly #events: readonly { readonly step: number; readonly atMs: number }[];
  readonly #shown = new Map<Outcome, Map<string, ReadonlySet<Symptom>>>();

  constructor(script: Script, playing: Playing, symptoms: readonly Symptom[]) {
    this.#script = script;
    this.#playing = playing;
    this.#symptoms = symptoms;
    const first = new Map<number, Scene>();
    for (const scene of playing.stage.scenes) if (!first.has(scene.step)) first.set(scene.step, scene);
    this.#events = [...first.values()].filter(({ step }) => {
      const does = script.document.story[step]?.does;
      return does !== undefined && isEvent(does);
    });
  }

  stepsBehind(symptom: Symptom): { readonly steps: readonly number[]; readonly each: "needed" | "enough" } {
    const earlier = this.#before(symptom);
    if (earlier.length > MOST_TRIALS) return { steps: [], each: "needed" };
    const needed = earlier.filter((step) => !this.#isShown(symptom, [step]));
    const own = needed.filter((step) => !this.#onlyMakesRoom(symptom, step));
    if (own.length > 0) return { steps: own, each: "needed" };
    if (needed.length > 0 || earlier.length < 2 || this.#isShown(symptom, earlier))
      return { steps: needed, each: "needed" };
    // Several are enough, each alone: the smallest set that must go, found by putting back one after the other.
    const steps = earlier.reduce<readonly number[]>((left, step) => {
      const fewer = left.filter((each) => each !== step);
      return this.#isShown(symptom, fewer) ? left : fewer;
    }, earlier);
    return { steps, each: "enough" };
  }

  /** Whether a step matters only because others cannot be without it: leaving those out is enough. */
  #onlyMakesRoom(symptom: Symptom, step: number): boolean {
    const others = leftOut(this.#script, [step])?.without.filter((each) => each !== step) ?? [];
    return others.length > 0 && !this.#isShown(symptom, others);
  }

  whyNone(symptom: Symptom): string {
    const { wanted, outcome } = symptom;
    const earlier = this.#before(symptom);
    if (earlier.length === 0) return "nothing had happened before: the site itself is so";
    if (earlier.length > MOST_TRIALS)
      return `which of ${earlier.length} steps is behind it was not tried: at most ${MOST_TRIALS} are`;
    const shown = wanted.scene && outcome.played.after.get(wanted.scene)?.get(wanted.role.id);
    return shown?.remembered === undefined
      ? "it is so without any step of the story: the site itself is so"
      : "it is broken without any step of the story, too, and then not only by what is remembered";
  }

  /** Steps up to the time at which it was looked at: later ones may keep broken what an earlier one broke. */
  #before({ breach, wanted }: Symptom): readonly number[] {
    const lastMs = Math.min(wanted.untilMs, breach.toMs ?? wanted.untilMs);
    return this.#events.filter(({ atMs }) => atMs <= lastMs).map(({ step }) => step);
  }

  /** Whether the story without some steps shows the symptom all the same. */
  #isShown(symptom: Symptom, without: readonly number[]): boolean {
    const { outcome } = symptom;
    const shown = this.#shown.get(outcome) ?? new Map<string, ReadonlySet<Symptom>>();
    this.#shown.set(outcome, shown);
    const key = without.join(" ");
    const known = shown.get(key) ?? this.#playWithout(without, outcome);
    shown.set(key, known);
    return known.has(symptom);
  }

  #playWithout(without: readonly number[], outcome: Outcome): ReadonlySet<Symptom> {
    const symptoms = this.#symptoms.filter((each) => each.outcome === outcome);
    const stage = leftOut(this.#script, without)?.stage;
    if (stage === undefined) return new Set(symptoms);
    const { capture: _, onMoment: __, ...playing } = this.#playing;
    const only = new Set(symptoms.map(({ wanted }) => wanted.role.id));
    // Nobody looks at what comes after the last window.
    const endMs = Math.min(playing.endMs, Math.max(...symptoms.map(({ wanted }) => wanted.untilMs)));
    const played = play({ ...playing, stage, only, endMs, picks: outcome.picks });
    return new Set(symptoms.filter(({ wanted }) => breachIn(inStage(wanted, stage), played) !== undefined));
  }
}

/** A stage that lacks steps. */
type LeftOut = { readonly stage: Stage; readonly without: readonly number[] };

/** The stage without some steps and without those that cannot be then; undefined: it cannot be told. */
function leftOut(script: Script, steps: readonly number[]): LeftOut | undefined {
  const without = new Set(steps);
  for (;;) {
    const stage = stageOf(script, without);
    if (isPlayable(stage)) return { stage, without: [...without] };
    if (stage.impossible === undefined || without.has(stage.impossible)) return undefined;
    without.add(stage.impossible);
  }
}

/** The same demand on another stage, whose scenes are others. */
function inStage(wanted: Wanted, { scenes }: Stage): Wanted {
  const { scene, ...rest } = wanted;
  const same = scene && scenes.find(({ step }) => step === scene.step);
  return same === undefined ? rest : { ...rest, scene: same };
}
