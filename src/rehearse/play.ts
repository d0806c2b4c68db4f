/**
 * A story played: the course of the site from scene to scene, and what assertions come to at each moment at which the site is another.
 */

import { momentOf } from "../evaluate/index.ts";
import { deviceOf, type Id, type Network, type Pick } from "../network/index.ts";
import type { Happening, Knowledge, Moment, Status, Turn, Verdict } from "../result/index.ts";
import { type CaptureSink, Course, type CourseEvent, type CourseMoment } from "../simulate/index.ts";
import type { AssertionFile } from "./cast.ts";
import { isBroken, Judge } from "./judge.ts";
import { leftOpenIn, type Taken } from "./left-open.ts";
import type { Scene, Stage } from "./stage.ts";

/** How a story is played. */
export type Playing = {
  /** The story. */
  readonly stage: Stage;
  /** Files of assertions. */
  readonly files: readonly AssertionFile[];
  /** Ids of the only ones to judge. Default: all. */
  readonly only?: ReadonlySet<string>;
  /** Name of the site. */
  readonly site: string;
  /** When it ends. */
  readonly endMs: number;
  /** Whether power comes on as it begins. Default: everything has been up for long. */
  readonly isFromDark?: boolean;
  /** What is taken of what stays open. Default: the first option of everything. */
  readonly picks?: readonly Pick[];
  /** Gets every frame. Default: nobody does. */
  readonly capture?: CaptureSink;
  /** Is told of each moment as it has come. Default: nobody is. */
  readonly onMoment?: (moment: Moment) => void;
};

/** What one assertion came to from some time on. */
export type Since = {
  /** From when. */
  readonly fromMs: number;
  /** What it comes to; absent: it names what is not there. */
  readonly verdict?: Verdict;
};

/** A story, played. */
export type Played = {
  /** What happened, in order. */
  readonly moments: readonly Moment[];
  /** By id what each assertion came to, in order of time; the first is from the beginning. */
  readonly histories: ReadonlyMap<string, readonly Since[]>;
  /** By scene what assertions came to right after it. */
  readonly after: ReadonlyMap<Scene, ReadonlyMap<string, Verdict>>;
  /** How what the plan leaves open was taken first, by choice. */
  readonly taken: ReadonlyMap<string, Taken>;
  /** When it ended. */
  readonly endMs: number;
};

/** Plays a story. @throws EnginesDisagree */
export function play(playing: Playing): Played {
  return new Performance(playing).run();
}

/** What rests on what devices remember is asked again each second, and later each hundredth of the time that it has been so. */
const AGAIN_MS = 1000;
const AGAIN_SHARE = 0.01;

class Performance {
  readonly #playing: Playing;
  readonly #course: Course;
  readonly #judge: Judge;
  /** What the site is configured to be over the story. */
  readonly #networks: readonly Network[];
  readonly #moments: Moment[] = [];
  readonly #histories = new Map<string, Since[]>();
  readonly #after = new Map<Scene, ReadonlyMap<string, Verdict>>();
  readonly #taken = new Map<string, Taken>();
  #verdicts: ReadonlyMap<string, Verdict>;
  /** Since when something is as it will not stay, though nothing changes. */
  #passingSinceMs: number | undefined;
  /** When that is asked again. */
  #againMs: number | undefined;

  constructor(playing: Playing) {
    this.#playing = playing;
    const { stage, files, site, only, isFromDark = false, picks = [], capture } = playing;
    this.#course = new Course(stage.first, {
      begins: isFromDark ? "cold" : "at-rest",
      picks,
      ...(capture === undefined ? {} : { capture }),
    });
    const later = stage.scenes.flatMap(({ circumstances }) =>
      circumstances === undefined ? [] : [circumstances.network],
    );
    this.#networks = [...new Set([stage.first.network, ...later])];
    this.#judge = new Judge(files, site, only);
    this.#verdicts = this.#judge.judge(momentOf(this.#course, true, this.#networks));
    this.#foresee(0);
    for (const [id, verdict] of this.#verdicts) this.#histories.set(id, [{ fromMs: 0, verdict }]);
    this.#noteOpen();
  }

  run(): Played {
    const { stage, endMs } = this.#playing;
    for (const scene of stage.scenes.filter(({ atMs }) => atMs <= endMs)) {
      this.#passTo(scene.atMs);
      this.#enact(scene);
      this.#after.set(scene, this.#verdicts);
    }
    this.#passTo(endMs);
    return { moments: this.#moments, histories: this.#histories, after: this.#after, taken: this.#taken, endMs };
  }

  #noteOpen(): void {
    for (const each of leftOpenIn(this.#course.world.settled)) {
      if (!this.#taken.has(each.choice)) this.#taken.set(each.choice, each);
    }
  }

  #passTo(atMs: number): void {
    for (;;) {
      const againMs = this.#againMs;
      const moment = this.#course.next(Math.min(atMs, againMs ?? atMs));
      if (moment !== undefined) this.#note(moment);
      else if (againMs === undefined || againMs > atMs) return;
      else this.#note({ ...NOTHING, atMs: againMs }, undefined, this.#turnsOf(this.#judge.again(), againMs));
    }
  }

  #enact({ circumstances, forgets, atMs, kind, text, at, note }: Scene): void {
    const step = { kind, text, at, ...(note === undefined ? {} : { note }) };
    const moment = circumstances === undefined ? NOTHING : this.#course.become(circumstances);
    if (forgets !== undefined) this.#forget(forgets, { ...moment, atMs }, step);
    // Whoever is asked says what is remembered now, and for how much longer.
    else if (ASKING.has(kind) && this.#judge.isPassing)
      this.#note({ ...moment, atMs }, step, this.#turnsOf(this.#judge.again(), atMs));
    else this.#note({ ...moment, atMs }, step);
  }

  /** The site is the one it was, and all that rests on what is remembered is asked again. */
  #forget(device: Id, moment: CourseMoment, step: Happening): void {
    this.#course.forget(device);
    const turns = this.#turnsOf(this.#judge.judge(momentOf(this.#course, true, this.#networks), "anew"), moment.atMs);
    this.#note({ ...moment, isOther: false }, step, turns);
  }

  #note({ atMs, events, isOther }: CourseMoment, step?: Happening, again: readonly Turn[] = []): void {
    const turns = isOther ? this.#judgeAt(atMs) : again;
    if (step === undefined && events.length === 0 && turns.length === 0) return;
    const moment = { atMs, ...(step === undefined ? {} : { step }), changes: events.map(knowledgeOf), turns };
    this.#moments.push(moment);
    this.#playing.onMoment?.(moment);
  }

  #judgeAt(atMs: number): readonly Turn[] {
    this.#noteOpen();
    return this.#turnsOf(this.#judge.judge(momentOf(this.#course, true, this.#networks)), atMs);
  }

  #turnsOf(now: ReadonlyMap<string, Verdict>, atMs: number): readonly Turn[] {
    const before = this.#verdicts;
    this.#verdicts = now;
    this.#foresee(atMs);
    for (const id of new Set([...before.keys(), ...now.keys()])) this.#remember(id, atMs, before.get(id), now.get(id));
    return [...now.values()].flatMap((verdict) => {
      const earlier = before.get(verdict.id);
      return earlier === undefined || (earlier.status === verdict.status && !isNewlyRemembered(earlier, verdict))
        ? []
        : [this.#turn(earlier.status, verdict, atMs)];
    });
  }

  #foresee(atMs: number): void {
    const sinceMs = this.#judge.isPassing ? (this.#passingSinceMs ?? atMs) : undefined;
    this.#passingSinceMs = sinceMs;
    this.#againMs =
      sinceMs === undefined ? undefined : atMs + Math.max(AGAIN_MS, Math.round((atMs - sinceMs) * AGAIN_SHARE));
  }

  #remember(id: string, fromMs: number, before: Verdict | undefined, now: Verdict | undefined): void {
    if (before === now) return;
    const history = this.#histories.get(id) ?? [];
    history.push({ fromMs, ...(now === undefined ? {} : { verdict: now }) });
    this.#histories.set(id, history);
  }

  #turn(before: Status, verdict: Verdict, atMs: number): Turn {
    const { id, name } = verdict;
    const history = this.#histories.get(id) ?? [];
    const earlier = history.slice(0, -1);
    const sound = earlier.findLastIndex((since) => since.verdict === undefined || !isBroken(since.verdict));
    const since = earlier[sound + 1]?.fromMs;
    const isMended = !isBroken(verdict) && since !== undefined;
    return { id, name, before, verdict, ...(isMended ? { afterMs: atMs - since } : {}) };
  }
}

/** From now on only what devices remember breaks it. */
function isNewlyRemembered(before: Verdict, now: Verdict): boolean {
  return now.remembered !== undefined && before.remembered === undefined;
}

/** Steps that look at what assertions come to. */
const ASKING: ReadonlySet<Scene["kind"]> = new Set(["assert", "meanwhile"]);

const NOTHING: Omit<CourseMoment, "atMs"> = { events: [], isOther: false };

function knowledgeOf({ what, at, text, origin, isSame }: CourseEvent): Knowledge {
  return { what, device: deviceOf(at), part: at, text, origin, ...(isSame === undefined ? {} : { isSame }) };
}
