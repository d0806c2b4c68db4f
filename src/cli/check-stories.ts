/**
 * Storylines that `check` comes upon: each is looked through for what cannot be; one that is named by its own path is replayed, and what
 * it demands counts like the assertions of the site.
 */
import { resolve } from "node:path";
import type { Diagnostic, SourceFile } from "../diagnose/index.ts";
import { type LoadedSite, rootOf, type Shelf, type SitePlace, siteMeant } from "../load/index.ts";
import { examine, type Replayed, type ReplayRequest, replay } from "../rehearse/index.ts";
import {
  besides,
  type Demand,
  type Evidence,
  inWords,
  shellWord,
  tellBlameEach,
  tellTime,
  type Verdict,
} from "../result/index.ts";
import { loadScript } from "./load-story.ts";

/** What is to be replayed, and what is wrong with any of them. */
export type Stories = {
  /** Those that were named, in order. */
  readonly named: readonly ReplayRequest[];
  /** Of all. */
  readonly diagnostics: readonly Diagnostic[];
};

/** The storylines of a site that loads without an error. */
export function storiesOf(place: SitePlace, site: LoadedSite, shelf: Shelf): Stories {
  const root = rootOf(place);
  const whole = siteMeant(place.folder);
  const isStory = new Set(site.storylines.map(({ path }) => resolve(root, path)));
  const judges = "problem" in whole ? [] : whole.assertions.filter((file) => !isStory.has(resolve(file)));
  const named = new Set((place.files ?? []).map((file) => resolve(file)));
  const found = site.storylines.map((story) => {
    const file = resolve(root, story.path);
    const { request, diagnostics } = loadScript(place, story, file, judges, shelf);
    // What is said of the site's own files is said already.
    const errors = diagnostics.filter(({ severity }) => severity === "error");
    const told = request === undefined ? errors : [...errors, ...examine(request)];
    return { request, path: story.path, diagnostics: told, isNamed: named.has(file) };
  });
  return {
    named: found.flatMap(({ request, isNamed }) => (isNamed && request !== undefined ? [request] : [])),
    diagnostics: toldOnce(found, shelf),
  };
}

/** What is wrong with a story, by its path. */
type ToldOf = { readonly path: string; readonly diagnostics: readonly Diagnostic[] };

/** What several stories make of the same lines of the plan is told with the first of them, which names the others. */
function toldOnce(found: readonly ToldOf[], { sources }: Shelf): readonly Diagnostic[] {
  const told = new Map<string, { readonly first: Diagnostic; readonly others: string[] }>();
  for (const { path, diagnostics } of found) {
    for (const each of diagnostics) {
      const key = wordOf(each, path, sources);
      const known = told.get(key);
      if (known === undefined) told.set(key, { first: each, others: [] });
      else if (!known.others.includes(path)) known.others.push(path);
    }
  }
  return [...told.values()].map(({ first, others }) => {
    if (others.length === 0) return first;
    return { ...first, notes: [...first.notes, `so it is in ${inWords(others)}, too`] };
  });
}

/** What is said of which places, but for the step of the story from which on it is so. A plan that several stories name is loaded for each. */
function wordOf({ labels, ...rest }: Diagnostic, story: string, sources: readonly SourceFile[]): string {
  const places = labels.flatMap(({ span: { file, start, end }, text, primary }) => {
    const path = sources[file]?.path;
    return !primary && path === story ? [] : [[path, start, end, text]];
  });
  return JSON.stringify([rest.code, rest.severity, rest.message, places, rest.notes, rest.help]);
}

/** What comes of some stories, as verdicts. @throws EnginesDisagree */
export function judgeStories(named: readonly ReplayRequest[]): readonly Verdict[] {
  return named.flatMap((request) => {
    const replayed = replay(request);
    return replayed.demands.flatMap((demand) => verdictOf(demand, replayed) ?? []);
  });
}

/** What stands as the name of a demand among those of assertions. */
function callOf({ kind, name, atMs }: Demand): string {
  const when = tellTime(atMs);
  if (kind === "saw") return `as seen at ${when}: broken is \`${name}\``;
  return kind === "assert" ? `at ${when}: ${name}` : `from ${when} on: ${name}`;
}

function verdictOf(demand: Demand, { story }: Replayed): Verdict | undefined {
  const { verdict, status, at, text, cause } = demand;
  if (verdict === undefined) return undefined;
  const isAsWanted = status === "passed" || status === "skipped";
  const called = callOf(demand);
  const { repeat: _, ...rest } = verdict;
  return {
    ...rest,
    id: `${story}#${called}`,
    name: called,
    status,
    at,
    headline: text === verdict.headline || isAsWanted ? text : `${text}: ${verdict.headline}`,
    help: "",
    // A step that decided, too, is told once.
    decidedBy: [...linesOf(cause), ...besides(verdict.decidedBy, linesOf(cause))],
    ...(isAsWanted ? {} : { repeat: `dryrack replay ${shellWord(story)}` }),
  };
}

function linesOf(cause: Demand["cause"]): readonly Evidence[] {
  if (cause === undefined) return [];
  return cause.steps.map(({ at, text, atMs }) => ({
    origin: { by: "written", span: at },
    text: `${tellBlameEach(cause)}, at ${tellTime(atMs)}: ${text}`,
  }));
}
