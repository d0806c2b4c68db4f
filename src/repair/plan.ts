/**
 * The plan under repair: its files as they are written, what they come to, and the same after an edit. An edited file gets a
 * number of its own behind all others, so that places before and after the edit can be told apart.
 */
import { compile } from "../compile/index.ts";
import { type Diagnostic, hasErrors, type SourceFile, type Span } from "../diagnose/index.ts";
import {
  type EditableText,
  type LoadedDocument,
  loadDocument,
  nodeAt,
  openText,
  type Path,
  pathAt,
  type TextEdit,
  withEdits,
} from "../document/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import { resolveSite, type Site } from "../site/index.ts";

/** A plan that loads without an error. */
export type Plan = {
  /** Files of the run, which spans point into. */
  readonly sources: readonly SourceFile[];
  /** Numbers of those that are the plan, in their order. */
  readonly files: readonly number[];
  /** What they say, by number. */
  readonly documents: ReadonlyMap<number, LoadedDocument>;
  /** What they come to. */
  readonly site: Site;
  /** Questions to it. */
  readonly evaluation: Evaluation;
  /** What is said of it: code and message of each. */
  readonly remarks: ReadonlySet<string>;
};

/** Where something stands in a file of the plan. */
export type Placed = {
  /** Number of the file. */
  readonly file: number;
  /** Its text, to be edited. */
  readonly document: EditableText;
  /** The path to it. */
  readonly path: Path;
};

/** The plan of these files; undefined: it does not load. `evaluation`: of the same plan, where it was compiled already. */
export function planOf(
  sources: readonly SourceFile[],
  files: readonly number[],
  evaluation?: Evaluation,
): Plan | undefined {
  const loaded = files.map((file) => [file, loadDocument(sources[file] ?? { path: "", text: "" }, file)] as const);
  const documents = new Map(
    loaded.flatMap(([file, { document }]) => (document === undefined ? [] : [[file, document] as const])),
  );
  const remarks = loaded.flatMap(([, { diagnostics }]) => diagnostics);
  return documents.size < files.length ? undefined : built({ sources, files, documents }, remarks, evaluation);
}

/** A plan that was loaded elsewhere, of files without an error, with everything that was said of it. */
export function planFrom({
  diagnostics,
  ...loaded
}: Omit<Plan, "remarks"> & { readonly diagnostics: readonly Diagnostic[] }): Plan {
  return { ...loaded, remarks: remarksOf(diagnostics) };
}

function remarksOf(diagnostics: readonly Diagnostic[]): Plan["remarks"] {
  return new Set(diagnostics.map(({ code, message }) => `${code} ${message}`));
}

type Read = Pick<Plan, "sources" | "files" | "documents">;

function built(read: Read, remarks: readonly Diagnostic[], evaluation?: Evaluation): Plan | undefined {
  const all = [...read.documents.values()];
  const { site, diagnostics } = resolveSite({
    topologies: all.filter((document) => document.kind === "topology"),
    intents: all.filter((document) => document.kind === "intent"),
  });
  const said = [...remarks, ...diagnostics];
  if (site === undefined || hasErrors(said)) return undefined;
  return {
    ...read,
    site,
    evaluation: evaluation ?? new Evaluation(compile(site)),
    remarks: remarksOf(said),
  };
}

/** The plan after an edit of one file; undefined: it does not load, or something is said of it that was not said before. */
export function planAfter(plan: Plan, file: number, edits: readonly TextEdit[]): Plan | undefined {
  const source = plan.sources[file];
  if (source === undefined) throw new Error(`no file ${file}`);
  const number = plan.sources.length;
  const edited = { path: source.path, text: withEdits(source.text, edits) };
  const { document, diagnostics } = loadDocument(edited, number);
  if (document === undefined) return undefined;
  const documents = new Map(
    plan.files.flatMap((each) => {
      const known = each === file ? document : plan.documents.get(each);
      return known === undefined ? [] : [[each === file ? number : each, known] as const];
    }),
  );
  const files = plan.files.map((each) => (each === file ? number : each));
  const after = built({ sources: [...plan.sources, edited], files, documents }, diagnostics);
  const isSaidAnew = after !== undefined && [...after.remarks].some((remark) => !plan.remarks.has(remark));
  return isSaidAnew ? undefined : after;
}

// -- finding places --------------------------------------------------------------------------------------------------

const opened = new WeakMap<SourceFile, EditableText>();

/** A file of the plan, to be edited; undefined: it is none, an assertion's for example. */
export function textOf({ sources, files }: Plan, file: number): EditableText | undefined {
  const source = files.includes(file) ? sources[file] : undefined;
  if (source === undefined) return undefined;
  const known = opened.get(source) ?? openText(source, file);
  if (known !== undefined) opened.set(source, known);
  return known;
}

/** Where a span stands in the plan; undefined: in no file of it. */
export function placeIn(plan: Plan, span: Span): Placed | undefined {
  const document = textOf(plan, span.file);
  return document && { file: span.file, document, path: pathAt(document, span) };
}

/** Where the intent of a device stands; undefined: it is told nothing. */
export function intentOf(plan: Plan, device: string): Placed | undefined {
  for (const file of plan.files) {
    const document = textOf(plan, file);
    if (document === undefined || plan.documents.get(file)?.kind !== "intent") continue;
    const path = ["devices", device];
    if (nodeAt(document, path)?.kind === "map") return { file, document, path };
  }
  return undefined;
}

/** A place below another one. */
export function below(place: Placed, ...steps: Path): Placed {
  return { ...place, path: [...place.path, ...steps] };
}

/** Words at a place that holds one or a list of them; none where nothing is written. */
export function wordsAt({ document, path }: Placed): readonly string[] {
  const node = nodeAt(document, path);
  if (node?.kind === "text") return [node.text];
  return node?.kind === "list" ? node.items.flatMap((item) => (item.kind === "text" ? [item.text] : [])) : [];
}
