/**
 * States of a site's intent: as it was written, and after each change of a story. Trees are kept beside documents, so that edits by
 * path find what is written, and what they bring keeps its place in the storyline.
 */
import { type Diagnostic, hasErrors, type SourceFile, type Span } from "../diagnose/index.ts";
import {
  type Change,
  editTrees,
  type IntentDocument,
  type IntentTrees,
  type LoadedDocument,
  loadDocument,
  loadTree,
  openText,
  type TopologyDocument,
} from "../document/index.ts";

/** The files of a plan that load without an error, as a run numbers them. */
export type PlanFiles = {
  /** Files of the run: spans point into these. */
  readonly sources: readonly SourceFile[];
  /** Numbers of those that are the plan, in their order. */
  readonly files: readonly number[];
};

/** One state of the intent. */
export type Intents = {
  /** Trees of its documents, by number. */
  readonly trees: IntentTrees;
  /** What they say, in the same order. */
  readonly documents: readonly IntentDocument[];
};

/** A plan, read. */
export type ReadPlan = {
  /** What is racked and cabled. */
  readonly topologies: readonly TopologyDocument[];
  /** What the configuration should be. */
  readonly intents: Intents;
};

/** Reads a plan; errors in it are told where it was loaded first. */
export function readPlan({ sources, files }: PlanFiles): ReadPlan {
  const topologies: TopologyDocument[] = [];
  const trees = new Map<number, ReturnType<typeof rootOf>>();
  const documents: IntentDocument[] = [];
  for (const file of files) {
    const source = sources[file];
    if (source === undefined) throw new Error(`no file ${file} among ${sources.length}`);
    const { document } = loadDocument(source, file);
    if (document?.kind === "topology") topologies.push(document);
    if (document?.kind !== "intent") continue;
    trees.set(file, rootOf(source, file));
    documents.push(document);
  }
  return { topologies, intents: { trees, documents } };
}

function rootOf(source: SourceFile, file: number): NonNullable<ReturnType<typeof openText>>["root"] {
  const text = openText(source, file);
  if (text === undefined) throw new Error(`${source.path} was loaded and has no tree`);
  return text.root;
}

/** The intent after a change, and what is wrong with that. `plans` are those that changes name. */
export function intentsAfter(
  before: Intents,
  change: Change,
  devices: readonly string[],
  plans: ReadonlyMap<string, PlanFiles>,
): { readonly intents?: Intents; readonly diagnostics: readonly Diagnostic[] } {
  if (change.by === "plan") {
    const plan = plans.get(change.plan.value);
    if (plan === undefined) throw new Error(`nobody read the plan \`${change.plan.value}\``);
    return { intents: readPlan(plan).intents, diagnostics: [] };
  }
  let { trees } = before;
  for (const edit of change.edits.value) {
    const edited = editTrees(trees, edit, devices);
    if ("problem" in edited) return { diagnostics: [edited.problem] };
    trees = edited.trees;
  }
  return loaded(trees, before);
}

function loaded(
  trees: IntentTrees,
  before: Intents,
): { readonly intents?: Intents; readonly diagnostics: readonly Diagnostic[] } {
  const diagnostics: Diagnostic[] = [];
  const documents: IntentDocument[] = [];
  const known = new Map<number, LoadedDocument>();
  for (const [index, file] of [...before.trees.keys()].entries()) {
    const document = before.documents[index];
    if (document !== undefined) known.set(file, document);
  }
  for (const [file, root] of trees) {
    const start: Span = { file, start: 0, end: 1 };
    const isOther = before.trees.get(file) !== root;
    const { document, diagnostics: found } = isOther
      ? loadTree(root, start)
      : { document: known.get(file), diagnostics: [] };
    diagnostics.push(...found);
    if (document?.kind === "intent") documents.push(document);
  }
  return hasErrors(diagnostics) ? { diagnostics } : { intents: { trees, documents }, diagnostics };
}
