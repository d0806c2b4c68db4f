/**
 * From a site's folder to its network: every file read, loaded, resolved and compiled, with all diagnostics at once.
 */
import { compile } from "../compile/index.ts";
import { type Diagnostic, diagnosticAt, hasErrors, type SourceFile } from "../diagnose/index.ts";
import {
  type AssertionsDocument,
  type IntentDocument,
  type LoadedDocument,
  loadDocument,
  type StorylineDocument,
  type TopologyDocument,
} from "../document/index.ts";
import type { Network } from "../network/index.ts";
import {
  dirname,
  type FileRead,
  LARGEST_FILE_BYTES,
  readInside,
  repositoryAround,
  resolve,
  shownPath,
  yamlFilesIn,
} from "../outside/index.ts";
import { resolveSite, type Site } from "../site/index.ts";
import type { SitePlace } from "./places.ts";

/** A loaded site with its assertions; `network` is absent when an error stands in its documents. */
export type LoadedSite = {
  /** Name of its folder. */
  readonly name: string;
  /** Its description; absent after an error. */
  readonly network?: Network;
  /** What is written, resolved; absent after an error. */
  readonly site?: Site;
  /** Numbers of the files of its plan on the shelf, in their order. */
  readonly files: readonly number[];
  /** What they say, by number; a file with an error is left out. */
  readonly documents: ReadonlyMap<number, LoadedDocument>;
  /** Loaded files of assertions with their shown paths, in the order asked for. */
  readonly assertions: readonly { readonly path: string; readonly document: AssertionsDocument }[];
  /** Loaded storylines among them, likewise. */
  readonly storylines: readonly { readonly path: string; readonly document: StorylineDocument }[];
  /** Everything found wrong, in the order of files. */
  readonly diagnostics: readonly Diagnostic[];
};

/** Files read so far: spans of all sites of a run point into one list. */
export type Shelf = {
  /** Files by their number. */
  readonly sources: SourceFile[];
};

type Loaded = ReturnType<typeof loadDocument>["document"];

/** A file of a site, wherever it was read. */
export type ReadFile = {
  /** As reports call it. */
  readonly path: string;
  /** What reading gave. */
  readonly read: FileRead;
};

/** Files of a site and of its assertions, read. */
export type ReadSite = {
  /** Name of its folder. */
  readonly name: string;
  /** As reports call its folder. */
  readonly folder: string;
  /** Its topology and intent. */
  readonly plan: readonly ReadFile[];
  /** Its assertions. */
  readonly judges: readonly ReadFile[];
};

/** Reads and resolves one site and the assertion files asked for. */
export function loadSite(place: SitePlace, shelf: Shelf): LoadedSite {
  return loadFiles(readSite(place), shelf);
}

/** Reads the files of a site from the disk. */
export function readSite(place: SitePlace): ReadSite {
  const { name, folder, assertions } = place;
  const root = rootOf(place);
  return {
    name,
    folder: shownPath(resolve(folder), root),
    plan: yamlFilesIn(folder).map((path) => readFile(path, root)),
    judges: assertions.map((path) => readFile(path, root)),
  };
}

/** The repository of a site: `topologies/NAME` and `assertions/NAME` lie in one folder. */
export function rootOf({ folder }: SitePlace): string {
  return repositoryAround(dirname(dirname(folder)));
}

/** Reads one file of a repository. */
export function readFile(path: string, root: string): ReadFile {
  return { path: shownPath(path, root), read: readInside(path, root) };
}

/** Reads more assertions of a site that was loaded; undefined: an error stands in them. */
export function loadMore(
  place: SitePlace,
  paths: readonly string[],
  shelf: Shelf,
): LoadedSite["assertions"] | undefined {
  const root = rootOf(place);
  const judges = paths.map((path) => loadPath(readFile(path, root), shelf));
  const faults = judges.flatMap((judge) => [...judge.diagnostics, ...misplacedAmongAssertions(judge)]);
  return hasErrors(faults) ? undefined : assertionsIn(judges);
}

/** How texts become documents, and a site its description. */
export type Making = {
  /** Default: `loadDocument`. */
  readonly load: typeof loadDocument;
  /** Default: `compile`. */
  readonly compile: typeof compile;
};

const AFRESH: Making = { load: loadDocument, compile };

/** Loads and resolves the files of one site. Default: all of it afresh. */
export function loadFiles(
  { plan: planned, judges: judging, ...site }: ReadSite,
  shelf: Shelf,
  making: Making = AFRESH,
): LoadedSite {
  const load = (file: ReadFile): LoadedPath => loadPath(file, shelf, making);
  const plan = planned.map(load);
  const judges = judging.map(load);
  const misplaced = [...plan.flatMap(misplacedInPlan), ...judges.flatMap(misplacedAmongAssertions)];
  return assembled({ ...site, plan, judges, misplaced }, shelf, making);
}

/** Loads and resolves the texts of one site, which lie in no folder: what is assertions says so itself. */
export function loadTexts(texts: readonly SourceFile[], name: string, shelf: Shelf): LoadedSite {
  const loaded = texts.map(({ path, text }) => loadPath({ path, read: { text } }, shelf));
  const isJudge = ({ document }: LoadedPath): boolean =>
    document?.kind === "assertions" || document?.kind === "storyline";
  const plan = loaded.filter((file) => !isJudge(file));
  return assembled({ name, folder: name, plan, judges: loaded.filter(isJudge), misplaced: [] }, shelf, AFRESH);
}

/** Files of one site, loaded. */
type LoadedFiles = Pick<ReadSite, "name" | "folder"> & {
  readonly plan: readonly LoadedPath[];
  readonly judges: readonly LoadedPath[];
  readonly misplaced: readonly Diagnostic[];
};

function assembled({ name, folder, plan, judges, misplaced }: LoadedFiles, shelf: Shelf, making: Making): LoadedSite {
  const diagnostics = [...plan, ...judges].flatMap((file) => file.diagnostics);
  diagnostics.push(...misplaced);
  const resolved = resolvePlan(plan);
  if (!resolved.hasTopology && diagnostics.length === 0) diagnostics.push(withoutTopology(folder, shelf));
  diagnostics.push(...resolved.diagnostics);
  const broken = hasErrors(diagnostics);
  const site = broken ? undefined : resolved.site;
  return {
    name,
    ...(site === undefined ? {} : { site, network: making.compile(site) }),
    files: plan.map(({ file }) => file),
    documents: new Map(
      plan.flatMap(({ document, file }) => (document === undefined ? [] : [[file, document] as const])),
    ),
    assertions: assertionsIn(judges),
    storylines: judges.flatMap(({ path, document }) => (document?.kind === "storyline" ? [{ path, document }] : [])),
    diagnostics,
  };
}

/** Loads one document that was read, and puts its text on the shelf. Default: afresh. */
export function loadPath(file: ReadFile, shelf: Shelf, making: Making = AFRESH): LoadedPath {
  const number = shelf.sources.length;
  return { path: file.path, file: number, ...loadFile(file, shelf, making) };
}

function assertionsIn(judges: readonly LoadedPath[]): LoadedSite["assertions"] {
  return judges.flatMap(({ path, document }) => (document?.kind === "assertions" ? [{ path, document }] : []));
}

/** A file, loaded. */
export type LoadedPath = ReturnType<typeof loadDocument> & {
  /** As reports call it. */
  readonly path: string;
  /** Its number on the shelf. */
  readonly file: number;
};

/** A broken plan is resolved too, so that everything wrong with it is told at once. */
function resolvePlan(plan: readonly LoadedPath[]): ReturnType<typeof resolveSite> & { readonly hasTopology: boolean } {
  const documents = plan.map(({ document }) => document);
  const topologies = documents.filter(isTopology);
  const resolved = resolveSite({
    topologies,
    intents: documents.filter(isIntent),
    incomplete: plan.flatMap(({ incomplete }) => incomplete),
    incompleteRacks: plan.flatMap(({ document, incomplete }) => (isTopology(document) ? incomplete : [])),
    // Where a section or all that is racked is missing, no name can be held to be a mistake.
    unread: documents.includes(undefined) || topologies.length === 0 || plan.some(({ lost }) => lost === true),
  });
  return { ...resolved, hasTopology: topologies.length > 0 };
}

function misplacedInPlan({ document }: LoadedPath): Diagnostic[] {
  return document?.kind === "assertions" || document?.kind === "storyline"
    ? [misplaced(document, "a site's own folder under `topologies/`")]
    : [];
}

function misplacedAmongAssertions({ document }: LoadedPath): Diagnostic[] {
  return document === undefined || document.kind === "assertions" || document.kind === "storyline"
    ? []
    : [misplaced(document, "a folder under `assertions/`")];
}

function misplaced({ kind, span }: Exclude<Loaded, undefined>, place: string): Diagnostic {
  const folder = kind === "assertions" || kind === "storyline" ? "assertions" : "topologies";
  const help = `move it to \`${folder}/NAME\``;
  const start = { ...span, end: Math.min(span.end, span.start + 1) };
  return diagnosticAt("misplaced-document", start, `a document of the kind \`${kind}\` has no meaning in ${place}`, {
    help,
  });
}

function isTopology(document: Loaded): document is TopologyDocument {
  return document?.kind === "topology";
}

function isIntent(document: Loaded): document is IntentDocument {
  return document?.kind === "intent";
}

function loadFile({ path, read }: ReadFile, shelf: Shelf, making: Making): ReturnType<typeof loadDocument> {
  const file = shelf.sources.length;
  const source = { path, text: "text" in read ? read.text : "" };
  shelf.sources.push(source);
  if ("text" in read) return making.load(source, file);
  return { diagnostics: [unreadable(read.problem, source.path, file)], incomplete: [] };
}

function unreadable(
  problem: "missing" | "unreadable" | "too-large" | "outside",
  path: string,
  file: number,
): Diagnostic {
  const span = { file, start: 0, end: 0 };
  switch (problem) {
    case "too-large":
      return diagnosticAt("file-too-large", span, `\`${path}\` is larger than ${LARGEST_FILE_BYTES} bytes`);
    case "outside":
      return diagnosticAt("outside-repository", span, `\`${path}\` leads out of the repository`);
    default:
      return diagnosticAt("unreadable", span, `\`${path}\` cannot be read`);
  }
}

function withoutTopology(path: string, shelf: Shelf): Diagnostic {
  const file = shelf.sources.push({ path, text: "" }) - 1;
  const help = "a site needs a file that begins with `dryrack: topology/1`";
  return diagnosticAt("unreadable", { file, start: 0, end: 0 }, `there is no topology in \`${path}\``, { help });
}
