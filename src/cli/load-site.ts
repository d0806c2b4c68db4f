/**
 * From a site's folder to its network: every file read, loaded, resolved and compiled, with all diagnostics at once.
 */
import { dirname, resolve } from "node:path";
import { compile } from "../compile/index.ts";
import { type Diagnostic, diagnosticAt, type SourceFile } from "../diagnose/index.ts";
import {
  type AssertionsDocument,
  type IntentDocument,
  loadDocument,
  type TopologyDocument,
} from "../document/index.ts";
import type { Network } from "../network/index.ts";
import { LARGEST_FILE_BYTES, readInside, repositoryAround, shownPath, yamlFilesIn } from "../outside/index.ts";
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
  /** Loaded files of assertions with their shown paths, in the order asked for. */
  readonly assertions: readonly { readonly path: string; readonly document: AssertionsDocument }[];
  /** Everything found wrong, in the order of files. */
  readonly diagnostics: readonly Diagnostic[];
};

/** Files read so far: spans of all sites of a run point into one list. */
export type Shelf = {
  /** Files by their number. */
  readonly sources: SourceFile[];
};

type Loaded = ReturnType<typeof loadDocument>["document"];

/** Reads and resolves one site and the assertion files asked for. */
export function loadSite(place: SitePlace, shelf: Shelf): LoadedSite {
  // `topologies/NAME` and `assertions/NAME` lie in one folder.
  const root = repositoryAround(dirname(dirname(place.folder)));
  const load = (path: string): LoadedPath => ({ path: shownPath(path, root), ...loadFile(path, root, shelf) });
  const plan = yamlFilesIn(place.folder).map(load);
  const judges = place.assertions.map(load);
  const diagnostics = [...plan, ...judges].flatMap((file) => file.diagnostics);
  diagnostics.push(...plan.flatMap(misplacedInPlan), ...judges.flatMap(misplacedAmongAssertions));
  const resolved = resolvePlan(plan);
  if (!resolved.hasTopology && diagnostics.length === 0) diagnostics.push(withoutTopology(place, root, shelf));
  diagnostics.push(...resolved.diagnostics);
  const broken = diagnostics.some((diagnostic) => diagnostic.severity === "error");
  const site = broken ? undefined : resolved.site;
  return {
    name: place.name,
    ...(site === undefined ? {} : { site, network: compile(site) }),
    assertions: judges.flatMap(({ path, document }) => (document?.kind === "assertions" ? [{ path, document }] : [])),
    diagnostics,
  };
}

type LoadedPath = ReturnType<typeof loadDocument> & { readonly path: string };

/** A broken plan is resolved too, so that everything wrong with it is told at once. */
function resolvePlan(plan: readonly LoadedPath[]): ReturnType<typeof resolveSite> & { readonly hasTopology: boolean } {
  const documents = plan.map(({ document }) => document);
  const topologies = documents.filter(isTopology);
  const resolved = resolveSite({
    topologies,
    intents: documents.filter(isIntent),
    incomplete: plan.flatMap(({ incomplete }) => incomplete),
    incompleteRacks: plan.flatMap(({ document, incomplete }) => (isTopology(document) ? incomplete : [])),
    unread: documents.includes(undefined),
  });
  return { ...resolved, hasTopology: topologies.length > 0 };
}

function misplacedInPlan({ document }: LoadedPath): Diagnostic[] {
  return document?.kind === "assertions" ? [misplaced(document, "a site's own folder under `topologies/`")] : [];
}

function misplacedAmongAssertions({ document }: LoadedPath): Diagnostic[] {
  return document === undefined || document.kind === "assertions"
    ? []
    : [misplaced(document, "a folder under `assertions/`")];
}

function misplaced({ kind, span }: Exclude<Loaded, undefined>, place: string): Diagnostic {
  const help = `move it to \`${kind === "assertions" ? "assertions" : "topologies"}/NAME\``;
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

function loadFile(path: string, root: string, shelf: Shelf): ReturnType<typeof loadDocument> {
  const read = readInside(path, root);
  const file = shelf.sources.length;
  const source = { path: shownPath(path, root), text: "text" in read ? read.text : "" };
  shelf.sources.push(source);
  if ("text" in read) return loadDocument(source, file);
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

function withoutTopology(place: SitePlace, root: string, shelf: Shelf): Diagnostic {
  const path = shownPath(resolve(place.folder), root);
  const file = shelf.sources.push({ path, text: "" }) - 1;
  const help = "a site needs a file that begins with `dryrack: topology/1`";
  return diagnosticAt("unreadable", { file, start: 0, end: 0 }, `there is no topology in \`${path}\``, { help });
}
