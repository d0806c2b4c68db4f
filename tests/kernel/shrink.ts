/**
 * Makes a difference small: leaves out questions, devices, then keys and entries of the documents from the outside in, as
 * long as both still differ at the last question, each about as before. Of each kind half is tried first, then quarters and so
 * on, all pieces of a size at once, and what can go by itself goes together where it may. What the model alone finds
 * otherwise is not built. It ends in time: with what was found by then.
 */
import { parse, stringify } from "yaml";
import type { Rack } from "../../src/kernel/index.ts";
import type { Told } from "./case-file.ts";
import { modelForms, modelLends, modelSays } from "./model-alone.ts";
import type { Question } from "./question.ts";
import { type Asked, type Found, runSite } from "./run-site.ts";

/** A site made small. */
export type Small = {
  /** Topology and intent. */
  readonly texts: readonly [string, string];
  /** In their order; the last shows the difference. */
  readonly questions: readonly Told[];
  /** How many sites were built for it on the kernel, and how many by the model alone. */
  readonly tries: { readonly built: number; readonly thought: number };
};
/** Documents as plain values, with the questions. */
type State = { readonly topology: unknown; readonly intent: unknown; readonly questions: readonly Question[] };
/** Where something is: keys and indexes from the top. */
type Place = readonly (string | number)[];
/** What can be left out: everything of one kind, in document order, and how some of it is. */
type Kind<Piece = unknown> = {
  readonly pieces: (state: State) => readonly Piece[];
  readonly without: (state: State, pieces: readonly Piece[]) => State;
};
type Differs = (state: State) => Promise<boolean>;

/** Sites built at once; a machine of its own has one processor. */
const AT_ONCE = { plain: 8, full: 1 } as const;
const MOST_BUILT = 400;
const MOST_SECONDS = 300;

/** The smallest site found. */
export async function shrink(rack: Rack, asked: Asked, found: Found): Promise<Small> {
  const tries = { built: 0, thought: 0 };
  const deadline = Date.now() + 1000 * MOST_SECONDS;
  const inTurn = turnsOf(AT_ONCE[asked.kind ?? "plain"]);
  const differs: Differs = async (state) => {
    tries.thought++;
    if (tries.built > MOST_BUILT || Date.now() > deadline || !(await mayDiffer(state, asked, found))) return false;
    const again = await inTurn(async () => {
      if (Date.now() > deadline) return undefined;
      tries.built++;
      return attempt(rack, state, asked);
    });
    return again !== undefined && again.at === state.questions.length - 1 && isAlike(again, found);
  };
  const [topology, intent] = asked.texts;
  let state: State = {
    topology: parse(topology),
    intent: parse(intent),
    questions: asked.questions.slice(0, found.at + 1),
  };
  for (let before: State | undefined; before !== state; ) {
    before = state;
    for (const kind of KINDS) state = await minimise(state, kind, differs);
  }
  const last = (await attempt(rack, state, asked)) ?? found;
  return {
    texts: textsOf(state),
    questions: state.questions.map((question, index) => told(question, state, index, last)),
    tries,
  };
}

function told(question: Question, { questions }: State, index: number, { said }: Found): Told {
  return { ...question, says: index === questions.length - 1 ? (said?.kernel ?? "") : "?" };
}

/** Has at most so many work at once. */
function turnsOf(atOnce: number): <Result>(work: () => Promise<Result>) => Promise<Result> {
  let free = atOnce;
  const waiting: (() => void)[] = [];
  return async (work) => {
    if (free > 0) free--;
    else await new Promise<void>((resolve) => void waiting.push(resolve));
    try {
      return await work();
    } finally {
      const next = waiting.shift();
      if (next === undefined) free++;
      else next();
    }
  };
}

/** Leaves out all that can go of a kind. */
async function minimise<Piece>(before: State, kind: Kind<Piece>, differs: Differs): Promise<State> {
  let state = before;
  let size = kind.pieces(state).length;
  while (size > 0) {
    const runs = runsOf(kind.pieces(state), size);
    const verdicts = await Promise.all(runs.map((run) => differs(kind.without(state, run))));
    const hits = runs.filter((_, index) => verdicts[index]);
    const [first] = hits;
    if (first === undefined) size = size === 1 ? 0 : Math.ceil(size / 2);
    else state = await together(state, kind, hits, differs);
    size = Math.min(size, kind.pieces(state).length);
  }
  return state;
}

/** Without all that could go by itself, or the first of it. */
async function together<Piece>(
  state: State,
  kind: Kind<Piece>,
  hits: readonly (readonly Piece[])[],
  differs: Differs,
): Promise<State> {
  const all = kind.without(state, hits.flat());
  return hits.length === 1 || (await differs(all)) ? all : kind.without(state, hits[0] ?? []);
}

function runsOf<Piece>(pieces: readonly Piece[], size: number): readonly (readonly Piece[])[] {
  return Array.from({ length: Math.ceil(pieces.length / size) }, (_, index) =>
    pieces.slice(index * size, (index + 1) * size),
  );
}

// -- what can be left out ------------------------------------------------------------------------------------------

const QUESTIONS: Kind<Question> = {
  pieces: ({ questions }) => questions.slice(0, -1),
  without: (state, gone) => ({ ...state, questions: state.questions.filter((each) => !gone.includes(each)) }),
};

const DEVICES: Kind<string> = {
  // The documents are of our own making.
  pieces: ({ topology }) => Object.keys((topology as { readonly devices: object }).devices),
  without: lacking,
};

function lacking(state: State, names: readonly string[]): State {
  const topology = structuredClone(state.topology) as { devices: Record<string, unknown>; cables: string[][] };
  const intent = structuredClone(state.intent) as { devices: Record<string, unknown> };
  for (const name of names) {
    delete topology.devices[name];
    delete intent.devices[name];
  }
  const isGone = (end: string): boolean => names.some((name) => end.startsWith(`${name}:`));
  topology.cables = topology.cables.filter((ends) => !ends.some(isGone));
  return { ...state, topology, intent };
}

/** Entries of a document so many steps below its top. */
function entries(of: "topology" | "intent", depth: number): Kind<Place> {
  return {
    pieces: (state) => placesAt(state[of], depth),
    // From the last, so that the places of the others stay.
    without: (state, gone) => ({ ...state, [of]: gone.reduceRight(without, state[of]) }),
  };
}

const DEEPEST = 8; // a list within a rule of a device's filter

const KINDS = [
  QUESTIONS,
  DEVICES,
  ...Array.from({ length: DEEPEST - 1 }, (_, index) => entries("intent", index + 2)),
  ...[2, 3, 4].map((depth) => entries("topology", depth)),
] as readonly Kind[]; // each gets back pieces of its own

function placesAt(value: unknown, depth: number): readonly Place[] {
  if (typeof value !== "object" || value === null) return [];
  const keys: Place = Array.isArray(value) ? value.map((_, index) => index) : Object.keys(value);
  if (depth === 1) return keys.map((key) => [key]);
  return keys.flatMap((key) =>
    placesAt((value as Readonly<Record<string | number, unknown>>)[key], depth - 1).map((place) => [key, ...place]),
  );
}

function without(value: unknown, [key, ...rest]: Place): unknown {
  if (key === undefined) return value;
  if (Array.isArray(value)) {
    return rest.length === 0
      ? value.toSpliced(Number(key), 1)
      : value.with(Number(key), without(value[Number(key)], rest));
  }
  const { [key]: inner, ...others } = value as Record<string | number, unknown>;
  return rest.length === 0 ? others : { ...(value as object), [key]: without(inner, rest) };
}

// -- whether both still differ --------------------------------------------------------------------------------------

function textsOf({ topology, intent }: Omit<State, "questions">): readonly [string, string] {
  return [stringify(topology), stringify(intent)];
}

/** Whether the model still says what it said; which of several worlds a site that lends comes to only a kernel tells. */
async function mayDiffer({ questions, ...state }: State, asked: Asked, { said }: Found): Promise<boolean> {
  if (said === undefined) return true;
  const told = { ...asked, texts: textsOf(state), questions };
  const last = questions.at(-1);
  const isAsBefore = (model: string | undefined) => model !== undefined && shape(model) === shape(said.model);
  if (last !== undefined && "lease" in last) return modelLends(told, last.lease).some(isAsBefore);
  if (last !== undefined && "advertised" in last) return modelForms(told, last.advertised).some(isAsBefore);
  return told.texts[1].includes("lease") || isAsBefore(await modelSays(told));
}

/** Undefined, too, where the documents make no site. */
async function attempt(rack: Rack, state: State, asked: Asked): Promise<Found | undefined> {
  try {
    return await runSite(rack, { ...asked, texts: textsOf(state), questions: state.questions });
  } catch {
    return undefined;
  }
}

/** Both end as before, whatever addresses they name. */
function isAlike({ said: now }: Found, { said: before }: Found): boolean {
  if (now === undefined || before === undefined) return now === before;
  return shape(now.kernel) === shape(before.kernel) && shape(now.model) === shape(before.model);
}

function shape(text: string): string {
  return text.replaceAll(/[0-9a-f]*[.:][0-9a-f.:]+/g, "A").replaceAll(/\b[rh]\d+/g, "D");
}
