/**
 * A story laid out in time: which step happens when, and what the site is from then on. Everything that is wrong with a story is found
 * here, before anything runs; steps may be left out, to see what would have been without them.
 */
import { compile } from "../compile/index.ts";
import { type Diagnostic, diagnosticAt, hasErrors, type Span } from "../diagnose/index.ts";
import {
  RESTART_MS,
  type StoryAct,
  type StoryEvent,
  type StorylineDocument,
  type StoryStep,
} from "../document/index.ts";
import { type Id, idOf, type Network } from "../network/index.ts";
import { type Evidence, formatTime, tellTime } from "../result/index.ts";
import type { Circumstances } from "../simulate/index.ts";
import type { Site } from "../site/index.ts";
import { type Happened, moved, plugged, portOff, portOn, unplugged } from "./cabling.ts";
import { forgot } from "./forgetting.ts";
import { intentsAfter, type PlanFiles, readPlan } from "./intent.ts";
import { changed, losesChanges, poweredOff, poweredOn, returned, saved, served } from "./power.ts";
import { circumstancesOf, firstRig, type Rig, siteOf, withDelegated } from "./rig.ts";
import { tellAct } from "./tell.ts";
import { placeOf, touchedBy } from "./touched.ts";

/** A story with the plans that it names. */
export type Script = {
  /** The story. */
  readonly document: StorylineDocument;
  /** The plan that it begins with. */
  readonly plan: PlanFiles;
  /** Plans that its changes name, by what is written there. */
  readonly plans: ReadonlyMap<string, PlanFiles>;
};

/** Something that happens, at its time. */
export type Scene = {
  /** When. */
  readonly atMs: number;
  /** Which step of the story. */
  readonly step: number;
  /** The key of the step; `returns`: a device comes back from a restart. */
  readonly kind: StoryAct["kind"] | "returns";
  /** What happens, in a sentence fragment. */
  readonly text: string;
  /** Where it stands. */
  readonly at: Span;
  /** In the words of whoever wrote it. */
  readonly note?: string;
  /** The line of the plan that it touches. */
  readonly touches?: Evidence;
  /** What holds from outside from now on. Absent: the same as before. */
  readonly circumstances?: Circumstances;
  /** The device that forgets its connections at this moment; absent: none does. */
  readonly forgets?: Id;
  /** The site that `circumstances` comes of, for whoever builds it; absent with it. */
  readonly site?: Site;
};

/** A story on its stage. */
export type Stage = {
  /** What holds when it begins. */
  readonly first: Circumstances;
  /** What happens, in order. */
  readonly scenes: readonly Scene[];
  /** When the last step is over. */
  readonly overMs: number;
  /** What cannot be; errors: it must not be played. */
  readonly diagnostics: readonly Diagnostic[];
  /** Warnings about what is left where something is taken away or comes back: the point of a story, and no fault of the plan. */
  readonly asides: readonly Diagnostic[];
  /** The step that could not be, where one could not. */
  readonly impossible?: number;
};

/** Lays out a story without some of its steps. */
export function stageOf(script: Script, without: ReadonlySet<number> = new Set()): Stage {
  return new Director(script, without).direct();
}

/** After each step the site is worked out anew and what it touches is asked again: some tenths of a second on a site of twelve devices. */
const MOST_STEPS = 500;

type Coming = { readonly atMs: number; readonly device: string; readonly step: number };

class Director {
  readonly #script: Script;
  readonly #without: ReadonlySet<number>;
  readonly #diagnostics: Diagnostic[] = [];
  readonly #asides: Diagnostic[] = [];
  /** What was said, and what of it is no aside. */
  readonly #said: Set<string>;
  readonly #blamed: Set<string>;
  /** What could be said of the site as it is. */
  #standing: ReadonlySet<string>;
  readonly #scenes: Scene[] = [];
  readonly #first: Circumstances;
  #impossible: number | undefined;
  #coming: readonly Coming[] = [];
  #clockMs = 0;
  #rig: Rig;
  #site: Site;
  #network: Network;

  constructor(script: Script, without: ReadonlySet<number>) {
    this.#script = script;
    this.#without = without;
    const { topologies, intents } = readPlan(script.plan);
    this.#rig = firstRig(topologies, intents);
    const { site, diagnostics } = siteOf(this.#rig);
    if (site === undefined) throw new Error("the plan of a story was loaded and does not resolve");
    this.#said = new Set(diagnostics.map(keyOf));
    this.#blamed = new Set(this.#said);
    this.#standing = new Set(this.#said);
    this.#rig = withDelegated(this.#rig, site);
    this.#site = site;
    this.#network = compile(site);
    this.#first = { network: this.#network, down: [], off: [], silent: [] };
  }

  direct(): Stage {
    const { story } = this.#script.document;
    const [excess] = story.slice(MOST_STEPS);
    if (excess !== undefined) this.#refuse(excess, story.length);
    for (const [index, step] of excess === undefined ? story.entries() : []) {
      this.#moveTo(step);
      if (this.#without.has(index)) this.#skip(step);
      else this.#play(step, index);
    }
    this.#arrive(Number.POSITIVE_INFINITY);
    const impossible = this.#impossible === undefined ? {} : { impossible: this.#impossible };
    const overMs = Math.max(this.#clockMs, ...this.#scenes.map(({ atMs }) => atMs));
    return {
      first: this.#first,
      scenes: this.#scenes,
      overMs,
      diagnostics: this.#diagnostics,
      asides: this.#asides,
      ...impossible,
    };
  }

  #refuse({ span }: StoryStep, count: number): void {
    const message = `this story has ${count} steps, and at most ${MOST_STEPS} are played`;
    const help = "leave out what nothing comes of, or tell it in several storylines";
    this.#diagnostics.push(diagnosticAt("story-too-long", span, message, { help }));
  }

  /** The clock goes on to a step's own time. */
  #moveTo({ atMs }: StoryStep): void {
    if (atMs === undefined) return;
    if (atMs.value < this.#clockMs)
      this.#diagnostics.push(
        diagnosticAt("time-backwards", atMs.span, `the story has come to ${formatTime(this.#clockMs)} already`, {
          help: `write a time from \`${formatTime(this.#clockMs)}\` on, or move the step`,
        }),
      );
    this.#clockMs = Math.max(this.#clockMs, atMs.value);
  }

  /** A step that is left out; time goes on all the same. */
  #skip({ does }: StoryStep): void {
    if (does.kind === "wait" || does.kind === "walk") this.#clockMs += does.lengthMs.value;
  }

  #play(step: StoryStep, index: number): void {
    this.#arrive(this.#clockMs);
    const { does, span, note } = step;
    const scene = {
      atMs: this.#clockMs,
      step: index,
      kind: does.kind,
      text: tellAct(does, this.#rig),
      at: placeOf(does, span),
      ...(note === undefined ? {} : { note: note.value }),
    };
    if (isEvent(does)) {
      const touches = touchedBy(does, this.#rig, this.#site, this.#network);
      const happened = this.#happen(does, span);
      if ("problem" in happened) {
        this.#report(happened.problem, index);
        return;
      }
      const circumstances = this.#become(happened.rig, scene);
      if (circumstances !== undefined) this.#foresee(does, index);
      this.#scenes.push({
        ...scene,
        ...(touches === undefined ? {} : { touches }),
        ...(does.kind === "forget" ? { forgets: idOf(does.device.value) } : {}),
        ...(circumstances === undefined ? {} : { circumstances, site: this.#site }),
      });
      return;
    }
    this.#scenes.push(scene);
    if (does.kind === "wait" || does.kind === "walk") this.#clockMs += does.lengthMs.value;
  }

  #happen(event: StoryEvent, span: Span): Happened {
    const [rig, site] = [this.#rig, this.#site];
    switch (event.kind) {
      case "unplug":
        return unplugged(rig, event, site);
      case "plug":
        return plugged(rig, event, site);
      case "move":
        return moved(rig, event, site, span);
      case "port-off":
        return portOff(rig, event, site, span);
      case "port-on":
        return portOn(rig, event, site);
      case "power-off":
      case "restart":
        return poweredOff(rig, event.device, site, span);
      case "power-on":
        return poweredOn(rig, event.device, site);
      case "save":
        return saved(rig, event.device, site);
      case "server-off":
      case "server-on":
        return served(rig, event, { site, network: this.#network });
      case "forget":
        return forgot(rig, event.device, { site, network: this.#network });
      case "change":
        return this.#change(event);
    }
  }

  #change({ change }: Extract<StoryEvent, { readonly kind: "change" }>): Happened {
    const names = this.#site.devices.map(({ name }) => name);
    const { intents, diagnostics } = intentsAfter(this.#rig.intents, change, names, this.#script.plans);
    const [problem] = diagnostics.filter(({ severity }) => severity === "error");
    if (problem !== undefined) return { problem };
    if (intents === undefined) throw new Error("a change without intent and without a problem");
    return { rig: changed(this.#rig, intents, this.#site) };
  }

  /** The site becomes what a rig comes to; undefined: it cannot be so. What is said of it is said once, with the moment. */
  #become(rig: Rig, { atMs, step, kind, at }: Pick<Scene, "atMs" | "step" | "kind" | "at">): Circumstances | undefined {
    const { site, diagnostics } = siteOf(rig);
    const isNew = NEWLY_WRITTEN.has(kind);
    const fresh = diagnostics.filter((each) => {
      const key = keyOf(each);
      return isNew ? !this.#blamed.has(key) && !this.#standing.has(key) : !this.#said.has(key);
    });
    for (const each of fresh) this.#said.add(keyOf(each));
    if (isNew) for (const each of fresh) this.#blamed.add(keyOf(each));
    const since = { span: at, text: `from ${tellTime(atMs)} on, after this`, primary: false };
    const told = fresh.map((each) => ({ ...each, labels: [...each.labels, since] }));
    if (site === undefined) {
      this.#impossible ??= step;
      this.#diagnostics.push(...told.filter(({ severity }) => severity === "error"));
      return undefined;
    }
    this.#standing = new Set(diagnostics.map(keyOf));
    (isNew ? this.#diagnostics : this.#asides).push(...told);
    this.#rig = withDelegated(rig, site);
    this.#site = site;
    const circumstances = circumstancesOf(rig, site, this.#network);
    this.#network = circumstances.network;
    return circumstances;
  }

  /** Who restarts will be back; who has power again is back, and does not come a second time. */
  #foresee(event: StoryEvent, step: number): void {
    if (event.kind === "power-on") this.#coming = this.#coming.filter(({ device }) => device !== event.device.value);
    if (event.kind !== "restart") return;
    const { device, takesMs } = event;
    const coming = { atMs: this.#clockMs + (takesMs?.value ?? RESTART_MS), device: device.value, step };
    this.#coming = [...this.#coming, coming].sort((a, b) => a.atMs - b.atMs);
  }

  /** Devices that restarted are back, up to a time. */
  #arrive(untilMs: number): void {
    for (const { atMs, device, step } of this.#coming.filter((each) => each.atMs <= untilMs)) {
      if (!this.#rig.off.has(device)) continue;
      const at = this.#script.document.story[step]?.span;
      if (at === undefined) throw new Error(`no step ${step}`);
      const loses = losesChanges(this.#rig, device);
      const text = `${device} is back${loses ? ", with what it had saved" : ""}`;
      const scene = { atMs, step, kind: "returns" as const, text, at };
      const circumstances = this.#become(returned(this.#rig, device), scene);
      this.#scenes.push({
        ...scene,
        ...(circumstances === undefined ? {} : { circumstances, site: this.#site }),
      });
    }
    this.#coming = this.#coming.filter(({ atMs }) => atMs > untilMs);
  }

  /** What follows from something impossible is not told: only names that nobody has are. */
  #report(problem: Diagnostic, index: number): void {
    if (this.#impossible === undefined || problem.code === "unknown-name") this.#diagnostics.push(problem);
    this.#impossible ??= index;
  }
}

function keyOf({ code, message }: Diagnostic): string {
  return `${code} ${message}`;
}

/** What makes the plan say something that it did not say before. */
const NEWLY_WRITTEN: ReadonlySet<Scene["kind"]> = new Set(["change", "plug", "move"]);

const NO_EVENTS: ReadonlySet<StoryAct["kind"]> = new Set(["wait", "walk", "assert", "meanwhile", "no-longer"]);

/** Whether a step changes the site. */
export function isEvent(act: StoryAct): act is StoryEvent {
  return !NO_EVENTS.has(act.kind);
}

/** Whether a stage can be played. */
export function isPlayable({ diagnostics }: Stage): boolean {
  return !hasErrors(diagnostics);
}
