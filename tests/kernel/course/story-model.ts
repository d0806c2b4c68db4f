/**
 * The model's half of a story: the course through its scenes, the exchanges that the assertions ask as `replay` asks them (again and
 * again, each with what it has left behind), and the verdicts of a replay that is asked at the same instants.
 */
import { formatAddress } from "../../../src/address/index.ts";
import { endPairOf } from "../../../src/check/ends.ts";
import { destinationsOf, sourcesOf } from "../../../src/check/exchange.ts";
import { kernelQuestions } from "../../../src/check/index.ts";
import type { AssertionsDocument } from "../../../src/document/index.ts";
import { type Evaluation, momentOf, type World } from "../../../src/evaluate/index.ts";
import { tellOutcome } from "../../../src/kernel/outcome.ts";
import { deviceOf, type Fate, type Id, lastName } from "../../../src/network/index.ts";
import { play } from "../../../src/rehearse/play.ts";
import type { Scene } from "../../../src/rehearse/stage.ts";
import type { Verdict } from "../../../src/result/index.ts";
import {
  Course,
  type CourseEvent,
  type CourseMoment,
  MOST_REST_MS,
  type ProbeRequest,
  REST_MS,
} from "../../../src/simulate/index.ts";
import type { StoryScript } from "./story-script.ts";

/** One exchange at one instant. */
export type AskedExchange = {
  /** Name of the assertion. */
  readonly assertion: string;
  /** Who asks whom for what. */
  readonly label: string;
  /** The request, with its source port. */
  readonly request: ProbeRequest;
  /** Whether it is enough that the request arrives. */
  readonly arrives: boolean;
  /** How it may end, one line an outcome. */
  readonly lines: ReadonlySet<string>;
  /** Whether a connection that was open before goes on, where a filter stops this new one; undefined: nothing is said of that. */
  readonly goesOn: boolean | undefined;
  /** Devices to which the one goes on that was opened at an instant before, whatever becomes of this one; undefined: none was. */
  readonly open: ReadonlySet<string> | undefined;
};

type Ends = {
  /** Name of the assertion. */
  readonly assertion: string;
  /** Devices that begin. */
  readonly from: ReadonlySet<string>;
  /** Devices that are meant. */
  readonly to: ReadonlySet<string>;
};

/** What a `blocked` of all services says of what is open already, at one instant. */
export type AskedShut = Ends & {
  /** Whether it does not hold for that alone; undefined: something new gets through, and nothing is said of what is open. */
  readonly goesOn: boolean | undefined;
};

/** An interface that waits for a lease, at one instant. */
export type AskedLeg = {
  /** It. */
  readonly id: Id;
  /** What it was lent; empty: nothing. */
  readonly address: string;
};

/** What the model says at one instant. */
export type ModelLook = {
  /** Seconds of the story. */
  readonly at: number;
  /** Exchanges of `connects` and `arrives`. */
  readonly exchanges: readonly AskedExchange[];
  /** Interfaces that wait for a lease and have a link: without one the model counts no address, and a kernel keeps its own. */
  readonly legs: readonly AskedLeg[];
  /** Assertions that say that nothing gets from one end to another. */
  readonly shut: readonly AskedShut[];
  /** What a replay says of each assertion whose exchanges are asked, and of each `blocked`, by name. */
  readonly verdicts: ReadonlyMap<string, Verdict["status"]>;
  /** Names of those that hold where all their exchanges end well: nothing is asked of the way, and everyone has an address to ask from and to. */
  readonly whole: ReadonlySet<string>;
};

/** What is said of a whole story. */
export type ModelStory = {
  /** One for each instant. */
  readonly looks: readonly ModelLook[];
  /** Seconds at which the site became another, or a verdict turned. */
  readonly changes: readonly number[];
  /** Seconds from the cold until the story begins. */
  readonly warmSeconds: number;
  /** Addresses that interfaces were told by advertisements when it begins. */
  readonly advertised: ReadonlyMap<Id, readonly string[]>;
  /** When each interface was first lent an address, in seconds from the cold. */
  readonly firstLent: ReadonlyMap<Id, number>;
};

const FIRST_PORT = 42_000;
/** Who has connections open beside those that are made again and again. */
const HOLDER = "the helper";

/** The story, asked at these seconds. `used`: those of them at which what is open is used. */
export function modelStory(script: StoryScript, seconds: readonly number[], used: ReadonlySet<number>): ModelStory {
  const teller = new Teller(script);
  const { advertised } = teller;
  const asked = seconds.map((at) => teller.look(at, used.has(at)));
  const { verdicts, turns } = replayed(script, seconds);
  const looks = asked.map((each, index) => {
    const all = verdicts[index] ?? new Map<string, Verdict>();
    const shut = each.shut.map((ends): AskedShut => ({ ...ends, goesOn: goesOnIn(all.get(ends.assertion)) }));
    return { ...each, shut, verdicts: new Map([...all].map(([name, { status }]) => [name, status])) };
  });
  return { looks, changes: [...teller.changes, ...turns], advertised, ...warming(script) };
}

/** Whether a scene does something to devices or cables. */
export function isDone({ circumstances, forgets }: Scene): boolean {
  return circumstances !== undefined || forgets !== undefined;
}

function goesOnIn(verdict: Verdict | undefined): boolean | undefined {
  if (verdict === undefined || verdict.remembered !== undefined) return verdict && true;
  return verdict.status === "passed" ? false : undefined;
}

/** The course from the cold to where the story begins. */
function warming({ stage }: StoryScript): Pick<ModelStory, "warmSeconds" | "firstLent"> {
  const course = new Course(stage.first, { begins: "cold" });
  const firstLent = new Map<Id, number>();
  const note = ({ events }: CourseMoment): void => {
    for (const { what, at, text, atMs } of events)
      if (what === "lease" && text.startsWith("takes") && !firstLent.has(at)) firstLent.set(at, atMs / 1000);
  };
  // What it comes to at once is no moment of its own: whoever has an address by then has it since the beginning.
  for (const { interface: at, family } of course.world.settled.bindings) if (family === 4) firstLent.set(at, 0);
  course.rest(REST_MS, MOST_REST_MS, note);
  return { warmSeconds: course.nowMs / 1000, firstLent };
}

/** What `replay` judges at these instants, and when anything turned there. */
function replayed(script: StoryScript, seconds: readonly number[]) {
  const { stage, files, document } = script;
  const looks = seconds.map(
    (at): Scene => ({ atMs: at * 1000, step: -1, kind: "assert", text: "", at: document.span }),
  );
  const scenes = [...stage.scenes, ...looks].sort((a, b) => a.atMs - b.atMs);
  const endMs = Math.max(...seconds) * 1000 + 5000;
  const played = play({ stage: { ...stage, scenes }, files, site: "story", endMs });
  const asked = new Set(files.flatMap(({ document }) => document.assertions.filter(isToldOf).map(nameOf)));
  const verdicts = looks.map((look) => {
    const all = [...(played.after.get(look) ?? [])].map(([, verdict]) => [verdict.name, verdict] as const);
    return new Map(all.filter(([name]) => asked.has(name)));
  });
  return {
    verdicts,
    turns: played.moments.flatMap(({ atMs, turns }) => (turns.length === 0 ? [] : [atMs / 1000])),
  };
}

type Asked = {
  readonly name: string;
  readonly label: string;
  readonly arrives: boolean;
  readonly world: World;
  readonly request: ProbeRequest;
  /** What is open is used, and opened where nothing is. */
  readonly isUsed: boolean;
};

/** Asks at each moment at which the site is another, and each second while something rests on what will be forgotten. */
class Teller {
  readonly changes: number[] = [];
  readonly #course: Course;
  readonly #documents: readonly AssertionsDocument[];
  readonly #shut: readonly ReachAssertion[];
  readonly #ports = new Map<string, number>();
  /** Exchanges of which one is open, by their ports. */
  readonly #open = new Set<number>();
  #scenes: readonly Scene[];
  #isPassing = false;
  #whole = new Set<string>();

  constructor({ stage, files }: StoryScript) {
    this.#course = new Course(stage.first);
    this.#scenes = stage.scenes.filter(isDone);
    this.#documents = files.map(({ document }) => ({ ...document, assertions: document.assertions.filter(isAsked) }));
    this.#shut = files.flatMap(({ document }) => document.assertions.filter(isShut));
    this.#ask();
  }

  look(at: number, isUsed: boolean): Omit<ModelLook, "verdicts" | "shut"> & { readonly shut: readonly Ends[] } {
    for (let scene = this.#scenes[0]; scene !== undefined && scene.atMs <= at * 1000; scene = this.#scenes[0]) {
      this.#passTo(scene.atMs);
      this.#scenes = this.#scenes.slice(1);
      if (scene.circumstances !== undefined) this.#note(this.#course.become(scene.circumstances));
      if (scene.forgets !== undefined) this.#course.forget(scene.forgets);
      this.changes.push(scene.atMs / 1000);
    }
    this.#passTo(at * 1000);
    const exchanges = this.#ask(isUsed);
    return { at, exchanges, legs: this.#legs(), shut: this.#shutNow(), whole: this.#whole };
  }

  #passTo(atMs: number): void {
    for (;;) {
      const againMs = this.#isPassing ? this.#course.nowMs + 1000 : atMs;
      const moment = this.#course.next(Math.min(atMs, againMs));
      if (moment !== undefined) this.#note(moment);
      else if (this.#course.nowMs >= atMs) return;
      else this.#ask();
    }
  }

  #note({
    atMs,
    isOther,
  }: {
    readonly atMs: number;
    readonly events: readonly CourseEvent[];
    readonly isOther: boolean;
  }): void {
    if (!isOther) return;
    if (this.#course.world.settled.storms.length > 0)
      throw new Error(`a storm at ${atMs / 1000} s: the kernel is lost in that`);
    this.changes.push(atMs / 1000);
    this.#ask();
  }

  #ask(isUsed = false): readonly AskedExchange[] {
    const evaluation = momentOf(this.#course, true);
    this.#isPassing = false;
    this.#whole = new Set();
    return this.#documents.flatMap((document) =>
      kernelQuestions(document, evaluation).asked.flatMap(({ name, exchanges }, index) => {
        const assertion = document.assertions[index];
        const canAsk = exchanges.every(({ up, requests }) => up.length === 0 && requests.length > 0);
        if (canAsk && assertion !== undefined && isOfEndsAlone(assertion)) this.#whole.add(name);
        const arrives = assertion?.kind === "reach" && assertion.expect.value === "arrives";
        return exchanges
          .filter(({ up }) => up.length === 0)
          .flatMap(({ label, requests }) =>
            requests.map(({ world, request }) =>
              this.#exchange({ name, label, arrives, world, request, isUsed }, evaluation),
            ),
          );
      }),
    );
  }

  #exchange({ name, label, arrives, world, request: bare, isUsed }: Asked, evaluation: Evaluation): AskedExchange {
    const key = `${name} ${label} ${formatAddress(bare.destination)}`;
    const port = this.#ports.get(key) ?? FIRST_PORT + this.#ports.size;
    this.#ports.set(key, port);
    const request = bare.service.port === undefined ? bare : { ...bare, sourcePort: port };
    const told = (outcomes: ReturnType<typeof evaluation.exchange>["outcomes"]): ReadonlySet<string> =>
      new Set(outcomes.map(({ result }) => tellOutcome(result.outcome, request.sourcePort)));
    const [now, fresh] = [evaluation.converse(world, request), evaluation.exchange(world, request)];
    const lines = told(now.outcomes);
    this.#isPassing ||= [...lines].join() !== [...told(fresh.outcomes)].join();
    const isStopped = now.outcomes.every(({ result: { fate, answerFate = fate } }) => isByFilter(answerFate));
    const goesOn = isStopped ? now.outcomes.some((each) => each.goesOn !== undefined) : undefined;
    const asked = { assertion: name, label, arrives, request, lines, goesOn };
    const isNew = isUsed && isAnsweredIn(lines);
    return { ...asked, open: this.#openOf(world, request, evaluation, isNew) };
  }

  /** Where the one goes that is open. Where it does not go on another one is opened in its place, as the helper does it (`rack/hold.py`). */
  #openOf(
    world: World,
    request: ProbeRequest,
    evaluation: Evaluation,
    isNew: boolean,
  ): ReadonlySet<string> | undefined {
    const port = request.sourcePort;
    if (port === undefined) return undefined;
    const places = evaluation.goingOn(world, request, HOLDER).map(({ to }) => lastName(deviceOf(to)));
    const isOpen = this.#open.has(port);
    if (isNew && places.length === 0) {
      evaluation.keepOpen(world, request, HOLDER);
      this.#open.add(port);
    }
    return isOpen ? new Set(places) : undefined;
  }

  #shutNow(): readonly Ends[] {
    const evaluation = momentOf(this.#course);
    const devices = (stacks: readonly (Id | undefined)[]): ReadonlySet<string> =>
      new Set(stacks.flatMap((stack) => (stack === undefined ? [] : [lastName(deviceOf(stack))])));
    return this.#shut.map((assertion) => {
      const { from, to } = endPairOf(assertion, evaluation);
      const sources = from.flatMap((end) => sourcesOf(end, evaluation.network)).filter(({ up }) => up.length === 0);
      const targets = to.flatMap((end) => destinationsOf(end, evaluation.network));
      const begin = devices(sources.map(({ stack }) => stack));
      return { assertion: nameOf(assertion), from: begin, to: devices(targets.map(({ party }) => party?.stack)) };
    });
  }

  /** Addresses by advertisements now. */
  get advertised(): ReadonlyMap<Id, readonly string[]> {
    const told = new Map<Id, readonly string[]>();
    for (const { interface: id, family, value } of this.#course.world.settled.bindings) {
      if (family === 6 && value !== undefined)
        told.set(id, [...(told.get(id) ?? []), formatAddress({ family, value })]);
    }
    return told;
  }

  #legs(): readonly AskedLeg[] {
    const { network, settled } = this.#course.world;
    const live = new Set(
      settled.stacks.flatMap(({ interfaces }) => interfaces.filter(({ up }) => up).map((leg) => leg.interface)),
    );
    const racked = new Set(network.devices.filter(({ standIn }) => !standIn).map(({ id }) => id));
    const waiting = network.stacks
      .filter(({ device }) => racked.has(device))
      .flatMap(({ interfaces }) =>
        interfaces.filter(({ id, awaits }) => live.has(id) && awaits.some(({ from }) => from === "lease")),
      );
    const bound = settled.bindings.filter(({ family }) => family === 4);
    return waiting.map(({ id }) => {
      const value = bound.find((each) => each.interface === id)?.value;
      return { id, address: value === undefined ? "" : formatAddress({ family: 4, value }) };
    });
  }
}

function isByFilter(fate: Fate): boolean {
  return (fate.end === "dropped" || fate.end === "refused") && fate.reason === "filter";
}

/** Whether the kernel uses what is open of it, where that is used: where it is no filter that stops what is new, it would only use up what a router without a route says in a second. */
export function isHeld({ request: { service }, lines, goesOn }: AskedExchange): boolean {
  return service.port !== undefined && (goesOn !== undefined || isAnsweredIn(lines));
}

function isAnsweredIn(lines: ReadonlySet<string>): boolean {
  return [...lines].every((line) => line.startsWith("answered"));
}

type Assertion = AssertionsDocument["assertions"][number];
type ReachAssertion = Extract<Assertion, { readonly kind: "reach" }>;

/** Whether nothing at all is to get through. */
function isShut(assertion: Assertion): assertion is ReachAssertion {
  return assertion.kind === "reach" && assertion.expect.value === "blocked" && assertion.service === undefined;
}

function isToldOf(assertion: Assertion): boolean {
  return isAsked(assertion) || isShut(assertion);
}

/** What a kernel is asked: exchanges. What is blocked is a proof's to say. */
function isAsked(assertion: Assertion): boolean {
  return assertion.kind === "reach" && ["connects", "arrives"].includes(assertion.expect.value);
}

/** Whether nothing but how exchanges end is asked. */
function isOfEndsAlone(assertion: Assertion): boolean {
  if (assertion.kind !== "reach") return false;
  const { routed, through, avoids, bandwidth } = assertion;
  return [routed, through, avoids, bandwidth].every((each) => each === undefined);
}

function nameOf({ name }: Assertion): string {
  return name.value;
}
