/**
 * What is behind something that was broken: the steps of the story without which it would not have been. Each is found by playing the
 * story without it. A step that cannot be without another one (what is plugged in must be unplugged first) goes with it, and is blamed
 * alone where leaving it out is enough: the other one only made room for it.
 */
import type { Assertion, LeaseAssertion, List, SegmentAssertion, Target } from "../document/index.ts";
import type { Blamed, Cause, Knowledge, Moment } from "../result/index.ts";
import type { CourseEvent } from "../simulate/index.ts";
import { type Effects, effectsIn } from "./effects.ts";
import type { Outcome } from "./every-outcome.ts";
import { isBroken } from "./judge.ts";
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
    const effects = trials.effectsBehind(symptom, steps);
    return {
      sinceMs: symptom.breach.fromMs,
      steps: blamed,
      ...(each === "enough" && blamed.length > 1 ? { each } : {}),
      changes: effects === undefined ? [] : toldOf(effects.changes, symptom.wanted),
      ...(effects === undefined ? {} : { changedMs: effects.atMs }),
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

/** The changes that tell most of an assertion. */
function toldOf(changes: readonly Knowledge[], { role }: Wanted): readonly Knowledge[] {
  const named = namedIn(role.assertion);
  const own = changes.filter(({ device }) => named.has(device));
  const rank = ({ what }: Knowledge): number => (TELLING.includes(what) ? TELLING.indexOf(what) : TELLING.length);
  return (own.length > 0 ? own : changes).toSorted((a, b) => rank(a) - rank(b)).slice(0, MOST_CHANGES);
}

/** The account up to the moment at which it broke, that one with it. */
function momentsUntil({ breach, wanted, outcome }: Symptom): readonly Moment[] {
  const { moments } = outcome.played;
  const turned = moments.findLastIndex(
    ({ atMs, turns }) =>
      atMs === breach.fromMs && turns.some(({ id, verdict }) => id === wanted.role.id && isBroken(verdict)),
  );
  return turned < 0 ? moments.filter(({ atMs }) => atMs <= breach.fromMs) : moments.slice(0, turned + 1);
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

/** The story without some steps: which symptoms it shows all the same, and its account. */
type Trial = { readonly shown: ReadonlySet<Symptom>; readonly moments: readonly Moment[] };

class Trials {
  readonly #script: Script;
  readonly #playing: Playing;
  readonly #symptoms: readonly Symptom[];
  /** Events of the story, in order. */
  readonly #events: readonly { readonly step: number; readonly atMs: number }[];
  readonly #tried = new Map<Outcome, Map<string, Trial>>();

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

  /** Whether a cable is pulled only because others cannot be plugged without that: leaving those out is enough. What is moved is put somewhere, too. */
  #onlyMakesRoom(symptom: Symptom, step: number): boolean {
    if (this.#playing.stage.scenes.find((scene) => scene.step === step)?.kind !== "unplug") return false;
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
  #before(symptom: Symptom): readonly number[] {
    const lastMs = this.#lookedAtMs(symptom);
    return this.#events.filter(({ atMs }) => atMs <= lastMs).map(({ step }) => step);
  }

  #lookedAtMs({ breach, wanted }: Symptom): number {
    return Math.min(wanted.untilMs, breach.toMs ?? wanted.untilMs);
  }

  /**
   * What changed last by these steps before it broke; where it was broken before they came, first by the last of them: they kept it
   * so. With no step: what changed as it broke, and would have in any story. Undefined: nothing did.
   */
  effectsBehind(symptom: Symptom, steps: readonly number[]): Effects | undefined {
    const { breach, outcome } = symptom;
    if (steps.length === 0) {
      const earlier = this.#before(symptom);
      const { moments: without } = earlier.length === 0 ? outcome.played : this.#tryWithout(symptom, earlier);
      const effects = effectsIn({ moments: momentsUntil(symptom), without }, "no-step");
      return effects.findLast(({ atMs }) => atMs === breach.fromMs);
    }
    const { moments: without } = this.#tryWithout(symptom, steps);
    const times = this.#events.flatMap(({ step, atMs }) => (steps.includes(step) ? [atMs] : []));
    if (Math.min(...times) <= breach.fromMs)
      return effectsIn({ moments: momentsUntil(symptom), without }, "steps").at(-1);
    const [lastMs, endMs] = [Math.max(...times), this.#lookedAtMs(symptom)];
    const kept = effectsIn({ moments: outcome.played.moments, without }, "steps");
    return kept.find(({ atMs }) => atMs >= lastMs && atMs <= endMs);
  }

  /** Whether the story without some steps shows the symptom all the same. */
  #isShown(symptom: Symptom, without: readonly number[]): boolean {
    return this.#tryWithout(symptom, without).shown.has(symptom);
  }

  #tryWithout({ outcome }: Symptom, without: readonly number[]): Trial {
    const tried = this.#tried.get(outcome) ?? new Map<string, Trial>();
    this.#tried.set(outcome, tried);
    const key = without.join(" ");
    const known = tried.get(key) ?? this.#playWithout(without, outcome);
    tried.set(key, known);
    return known;
  }

  #playWithout(without: readonly number[], outcome: Outcome): Trial {
    const symptoms = this.#symptoms.filter((each) => each.outcome === outcome);
    const stage = leftOut(this.#script, without)?.stage;
    if (stage === undefined) return { shown: new Set(symptoms), moments: outcome.played.moments };
    const { capture: _, onMoment: __, ...playing } = this.#playing;
    const only = new Set(symptoms.map(({ wanted }) => wanted.role.id));
    // Nobody looks at what comes after the last window.
    const endMs = Math.min(playing.endMs, Math.max(...symptoms.map(({ wanted }) => wanted.untilMs)));
    const played = play({ ...playing, stage, only, endMs, picks: outcome.picks });
    const shown = symptoms.filter(({ wanted, breach }) => {
      const same = breachIn(inStage(wanted, stage), played);
      // What lets something through is another symptom than what nobody can ask.
      return same !== undefined && (isBroken(same.verdict) || !isBroken(breach.verdict));
    });
    return { shown: new Set(shown), moments: played.moments };
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
