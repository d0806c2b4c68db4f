/**
 * The files of a site as a program holds them, and what they come to: loaded anew after each change, with all diagnostics
 * thrown at once. Where a file lies is decided when the site is read; a change only puts another text in its place.
 */
import { type Diagnostic, hasErrors, nearestWord, type SourceFile } from "../diagnose/index.ts";
import { Evaluation } from "../evaluate/index.ts";
import { type LoadedSite, loadFiles, loadTexts, type ReadFile, type ReadSite, type Shelf } from "../load/index.ts";
import { diagnosticOf, NO_INK, renderDiagnostics } from "../report/index.ts";
import { WrongInput } from "./wrong-input.ts";

/** Where the files of a site came from, with the texts that a change put in their places. */
export type Origin =
  | {
      /** They were read from a folder. */
      readonly from: "folder";
      /** What was read. */
      readonly read: ReadSite;
      /** Texts were put in the place of some: it is no longer what lies there. */
      readonly isChanged: boolean;
    }
  | {
      /** They are texts of a program. */
      readonly from: "texts";
      /** Name of the site. */
      readonly name: string;
      /** By their paths. */
      readonly texts: readonly SourceFile[];
    };

/** A site without an error. */
export type Sound = Pick<LoadedSite, "name" | "assertions" | "diagnostics"> & {
  /** Where it came from. */
  readonly origin: Origin;
  /** Its files, which spans point into. */
  readonly sources: readonly SourceFile[];
  /** Questions to it. */
  readonly evaluation: Evaluation;
};

/** Loads a site. @throws WrongInput with everything that is wrong */
export function loaded(origin: Origin): Sound {
  const shelf: Shelf = { sources: [] };
  const site = origin.from === "folder" ? loadFiles(origin.read, shelf) : loadTexts(origin.texts, origin.name, shelf);
  refuseErrors(site.diagnostics, shelf.sources);
  const { name, assertions, diagnostics, network } = site;
  if (network === undefined) throw new Error(`${name} has no network and no error`);
  return { name, assertions, diagnostics, origin, sources: shelf.sources, evaluation: new Evaluation(network) };
}

/** Throws where an error is among the diagnostics. @throws WrongInput */
export function refuseErrors(diagnostics: readonly Diagnostic[], sources: readonly SourceFile[]): void {
  if (!hasErrors(diagnostics)) return;
  const text = renderDiagnostics(diagnostics, sources, NO_INK);
  throw new WrongInput(
    text,
    diagnostics.map((each) => diagnosticOf(each, sources)),
  );
}

/** The files with other texts in the place of some. @throws WrongInput for a file that is not there */
export function changed(origin: Origin, texts: ReadonlyMap<string, string>): Origin {
  const paths = pathsOf(origin);
  for (const path of texts.keys()) if (!paths.includes(path)) throw withoutFile(path, paths);
  if (origin.from === "texts")
    return { ...origin, texts: origin.texts.map(({ path, text }) => ({ path, text: texts.get(path) ?? text })) };
  const now = (file: ReadFile): ReadFile => {
    const text = texts.get(file.path);
    return text === undefined ? file : { path: file.path, read: { text } };
  };
  const { read } = origin;
  return { ...origin, isChanged: true, read: { ...read, plan: read.plan.map(now), judges: read.judges.map(now) } };
}

function pathsOf(origin: Origin): readonly string[] {
  const files = origin.from === "texts" ? origin.texts : [...origin.read.plan, ...origin.read.judges];
  return files.map(({ path }) => path);
}

/** What is told of a file that a site does not have. */
export function withoutFile(path: string, paths: readonly string[]): WrongInput {
  const nearest = nearestWord(path, paths);
  const help = nearest === undefined ? `it has ${paths.map((each) => `\`${each}\``).join(", ")}` : `try \`${nearest}\``;
  return new WrongInput(`this site has no file \`${path}\`\n   ${help}`);
}
