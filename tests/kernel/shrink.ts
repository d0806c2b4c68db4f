/**
 * Makes a difference small: leaves out questions, devices, cables and every key and entry of the documents, one after the
 * other, as long as both still differ at the last question, each about as before.
 */
import { parse, stringify } from "yaml";
import type { Rack } from "../../src/kernel/index.ts";
import type { Told } from "./case-file.ts";
import type { Question } from "./question.ts";
import { type Asked, type Found, runSite } from "./run-site.ts";

type Small = { readonly texts: readonly [string, string]; readonly questions: readonly Told[] };
/** Documents as plain values, with the questions. */
type State = { readonly topology: unknown; readonly intent: unknown; readonly questions: readonly Question[] };
/** Where something is: keys and indexes from the top. */
type Place = readonly (string | number)[];

/** A machine of its own has one processor. */
const AT_ONCE = 8;
const MOST_TRIES = 900;

/** The smallest site found. */
export async function shrink(rack: Rack, asked: Asked, found: Found): Promise<Small> {
  let tries = 0;
  const differs = async (state: State): Promise<boolean> => {
    if (tries++ > MOST_TRIES) return false;
    const again = await attempt(rack, state, asked);
    return again !== undefined && again.at === state.questions.length - 1 && isAlike(again, found);
  };
  const [topology, intent] = asked.texts;
  let state: State = {
    topology: parse(topology),
    intent: parse(intent),
    questions: asked.questions.slice(0, found.at + 1),
  };
  for (;;) {
    const smaller = await pass(state, differs, asked.kind === "full" ? 1 : AT_ONCE);
    if (smaller === state) break;
    state = smaller;
  }
  const last = (await attempt(rack, state, asked)) ?? found;
  return {
    texts: textsOf(state),
    questions: state.questions.map((question, index) => told(question, state, index, last)),
  };
}

function told(question: Question, { questions }: State, index: number, { said }: Found): Told {
  return { ...question, says: index === questions.length - 1 ? (said?.kernel ?? "") : "?" };
}

/** Tries what can be left out, several at once; what was found first is kept. Answers with the same state when nothing can. */
async function pass(before: State, differs: (state: State) => Promise<boolean>, atOnce: number): Promise<State> {
  let state = before;
  const candidates = (): readonly State[] => [
    ...withoutQuestions(state),
    ...withoutDevices(state),
    ...withoutParts(state),
  ];
  for (let from = 0, all = candidates(); from < all.length; ) {
    const batch = all.slice(from, from + atOnce);
    const verdicts = await Promise.all(batch.map(differs));
    const hit = verdicts.indexOf(true);
    const next = batch[hit];
    if (next === undefined) from += atOnce;
    else {
      state = next;
      all = candidates();
      from = Math.min(from + hit, all.length);
    }
  }
  return state;
}

function withoutQuestions(state: State): readonly State[] {
  const { questions } = state;
  if (questions.length < 2) return [];
  const only = { ...state, questions: questions.slice(-1) };
  return [only, ...questions.slice(0, -1).map((_, index) => ({ ...state, questions: questions.toSpliced(index, 1) }))];
}

/** Halves, quarters and so on, then single devices. */
function withoutDevices(state: State): readonly State[] {
  // The documents are of our own making.
  const { devices } = state.topology as { readonly devices: Readonly<Record<string, unknown>> };
  const names = Object.keys(devices);
  const states: State[] = [];
  for (let size = Math.ceil(names.length / 2); size >= 1; size = size === 1 ? 0 : Math.ceil(size / 2)) {
    for (let from = 0; from < names.length; from += size) states.push(lacking(state, names.slice(from, from + size)));
  }
  return states;
}

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

function withoutParts(state: State): readonly State[] {
  const ofIntent = placesIn(state.intent).map((place) => ({ ...state, intent: without(state.intent, place) }));
  const ofTopology = placesIn(state.topology).map((place) => ({ ...state, topology: without(state.topology, place) }));
  return [...ofIntent, ...ofTopology];
}

/** Every entry of every mapping and list, outer ones first. */
function placesIn(value: unknown, at: Place = []): readonly Place[] {
  if (typeof value !== "object" || value === null) return [];
  const keys: Place = Array.isArray(value) ? value.map((_, index) => index) : Object.keys(value);
  const inner = keys.flatMap((key) =>
    placesIn((value as Readonly<Record<string | number, unknown>>)[key], [...at, key]),
  );
  return [...keys.map((key) => [...at, key]), ...inner];
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

function textsOf({ topology, intent }: State): readonly [string, string] {
  return [stringify(topology), stringify(intent)];
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
