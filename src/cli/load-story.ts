/**
 * From the path of a storyline to everything that a replay needs: the site it plays on, the assertions of the site, and the plans
 * that its changes name.
 */

import { dirname, resolve } from "node:path";
import { type Diagnostic, diagnosticAt, hasErrors } from "../diagnose/index.ts";
import type { Located, StorylineDocument } from "../document/index.ts";
import { loadFiles, loadPath, type ReadSite, readFile, rootOf, type Shelf, type SitePlace } from "../load/index.ts";
import { shownPath } from "../outside/index.ts";
import type { PlanFiles, ReplayRequest } from "../rehearse/index.ts";
import { readSide } from "./sides.ts";

/** A storyline that was loaded. */
export type LoadedStory = {
  /** As reports call it. */
  readonly path: string;
  /** What it says. */
  readonly document: StorylineDocument;
};

/** What a replay needs, where nothing is wrong so far. */
export type LoadedScript = {
  /** It; absent after an error. */
  readonly request?: ReplayRequest;
  /** Names of the devices of the site. */
  readonly devices: readonly string[];
  /** What is wrong. */
  readonly diagnostics: readonly Diagnostic[];
};

/** A storyline's own file. */
export function loadStory(
  place: SitePlace,
  file: string,
  shelf: Shelf,
): { readonly story?: LoadedStory; readonly kind?: string; readonly diagnostics: readonly Diagnostic[] } {
  const { path, document, diagnostics } = loadPath(readFile(file, rootOf(place)), shelf);
  if (document?.kind !== "storyline")
    return { ...(document === undefined ? {} : { kind: document.kind }), diagnostics };
  return { story: { path, document }, diagnostics };
}

/** Everything around a storyline; `place` is its site, `file` where it lies, `judges` the files of assertions. */
export function loadScript(
  place: SitePlace,
  { path, document }: LoadedStory,
  file: string,
  judges: readonly string[],
  shelf: Shelf,
): LoadedScript {
  const base = sideOf(place, document.site, file);
  if ("diagnostic" in base) return { devices: [], diagnostics: [base.diagnostic] };
  const root = rootOf(place);
  const read = { ...base, judges: judges.map((each) => readFile(each, root)) };
  const site = loadFiles(read, shelf);
  const plans = loadPlans(place, document, file, shelf);
  const diagnostics = [...site.diagnostics, ...plans.diagnostics];
  const devices = site.site?.devices.map(({ name }) => name) ?? [];
  if (hasErrors(diagnostics)) return { devices, diagnostics };
  const plan = { sources: shelf.sources, files: site.files };
  const request = { document, path, site: place.name, assertions: site.assertions, plan, plans: plans.plans };
  return { request, devices, diagnostics };
}

/** The plans that changes of a story name. */
function loadPlans(
  place: SitePlace,
  { story }: StorylineDocument,
  file: string,
  shelf: Shelf,
): { readonly plans: ReadonlyMap<string, PlanFiles>; readonly diagnostics: readonly Diagnostic[] } {
  const plans = new Map<string, PlanFiles>();
  const diagnostics: Diagnostic[] = [];
  for (const { does } of story) {
    if (does.kind !== "change" || does.change.by !== "plan" || plans.has(does.change.plan.value)) continue;
    const word = does.change.plan;
    const side = sideOf(place, word, file);
    if ("diagnostic" in side) diagnostics.push(side.diagnostic);
    else {
      const first = shelf.sources.length;
      const loaded = side.plan.map((each) => loadPath(each, shelf));
      diagnostics.push(...loaded.flatMap((each) => each.diagnostics));
      if (!loaded.some((each) => each.document?.kind === "intent")) diagnostics.push(withoutIntent(word));
      plans.set(word.value, { sources: shelf.sources, files: loaded.map((_, index) => first + index) });
    }
  }
  return { plans, diagnostics };
}

function withoutIntent({ value, span }: Located<string>): Diagnostic {
  return diagnosticAt("no-plan", span, `no intent is in \`${value}\``, { help: HELP });
}

const HELP = "write a folder as `./next`, counted from this file, or a revision of git";

/** The files of a plan that a storyline names, from its own folder on; not written: the site's as they are. */
function sideOf(
  place: SitePlace,
  word: Located<string> | undefined,
  file: string,
): ReadSite | { readonly diagnostic: Diagnostic } {
  const isFolder = word?.value.startsWith(".") === true || word?.value.startsWith("/") === true;
  const meant = word && (isFolder ? resolve(dirname(file), word.value) : word.value);
  if (word !== undefined && meant !== undefined && isFolder && shownPath(meant, rootOf(place)).startsWith(".."))
    return {
      diagnostic: diagnosticAt("outside-repository", word.span, `\`${word.value}\` leads out of the repository`),
    };
  const side = readSide(place, meant);
  if (!("problem" in side)) return side;
  if (word === undefined) throw new Error(`the site ${place.name} cannot be read: ${side.problem}`);
  const [message = ""] = side.problem.split("\n   ");
  const told = isFolder ? message.replace(`\`${meant}\``, () => `\`${word.value}\``) : message;
  return { diagnostic: diagnosticAt("no-plan", word.span, told, { help: HELP }) };
}
