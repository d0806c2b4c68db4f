/**
 * One site that is looked at again and again while its files are edited: what an edit does not touch is taken over from the last
 * time that all of it could be judged, down to the documents of files that stayed.
 */
import { type CheckResult, checkAssertions, runOf } from "../check/index.ts";
import { compile, recompile } from "../compile/index.ts";
import { type Diagnostic, hasErrors, movesBetween, type SourceFile } from "../diagnose/index.ts";
import { type AssertionsDocument, type LoadedFile, loadDocument } from "../document/index.ts";
import { Changes, EnginesDisagree, Evaluation, type Work } from "../evaluate/index.ts";
import { type LoadedSite, loadFiles, type ReadSite, type Shelf } from "../load/index.ts";
import { blankCheck, changesOf, type Run, type Verdict, type VerdictChanges } from "../result/index.ts";
import { VERSION } from "./version.ts";

/** What a site came to, and what is new in it. */
export type SiteLook = {
  /** Name of its folder. */
  readonly name: string;
  /** Files that were edited, added or deleted since the last look, as reports call them; empty: this is the first one. */
  readonly edited: readonly string[];
  /** All that it came to. */
  readonly run: Run;
  /** What differs from the last run that was judged; absent: there was none. */
  readonly changes?: VerdictChanges;
  /** What it took. */
  readonly work: LookWork;
  /** Its diagnostics: every error, and of the others those that were not told at the last look. */
  readonly told: readonly Diagnostic[];
};

/** Counted work of one look: the same on every machine. */
export type LookWork = {
  /** Assertions that were asked; verdicts on all others were taken over. */
  readonly asked: number;
  /** Worlds settled. */
  readonly worlds: number;
  /** Events of exchanges and leases. */
  readonly events: number;
  /** Steps of proofs. */
  readonly proverSteps: number;
};

const NO_WORK: LookWork = { asked: 0, worlds: 0, events: 0, proverSteps: 0 };

/** A site of which every assertion was judged. */
type Judged = {
  readonly sources: readonly SourceFile[];
  /** How many of them are its plan. */
  readonly planned: number;
  readonly evaluation: Evaluation;
  readonly results: ReadonlyMap<string, { readonly document: AssertionsDocument; readonly result: CheckResult }>;
};

/** A file as it was read last. */
type Known = { readonly source: SourceFile; readonly file: number; readonly loaded: LoadedFile };

/** So many plans are remembered, for whoever breaks a line and mends it again. */
const REMEMBERED = 4;

/** A site between two looks. */
export class WatchedSite {
  /** Its assertions at the last look. */
  assertions: LoadedSite["assertions"] = [];
  /** What the last look came to; undefined: there was none. */
  run: Run | undefined;
  readonly #only: readonly string[];
  #read: ReadSite | undefined;
  #documents: ReadonlyMap<string, Known> = new Map();
  /** The last one first; no two of one plan. */
  #judged: readonly Judged[] = [];
  #verdicts: readonly Verdict[] | undefined;
  #work = NO_WORK;

  /** `only`: names of the only assertions to judge; empty: all. */
  constructor(only: readonly string[]) {
    this.#only = only;
  }

  /** Looks at the files as they are now; undefined: none of them is another than at the last look. */
  look(read: ReadSite): SiteLook | undefined {
    const edited = this.#read === undefined ? [] : editedBetween(this.#read, read);
    if (this.#read !== undefined && edited.length === 0) return undefined;
    const before = { run: this.run, verdicts: this.#verdicts };
    this.#read = read;
    this.#work = NO_WORK;
    const run = this.#runOf(read);
    this.run = run;
    const isJudged = run.fault === undefined && !hasErrors(run.diagnostics);
    if (isJudged) this.#verdicts = run.verdicts;
    return {
      name: read.name,
      edited,
      run,
      work: this.#work,
      ...(isJudged && before.verdicts !== undefined ? { changes: changesOf(before.verdicts, run.verdicts) } : {}),
      told: freshIn(run, before.run),
    };
  }

  #runOf(read: ReadSite): Run {
    const shelf: Shelf = { sources: [] };
    const loaded = this.#load(read, shelf);
    const { diagnostics, network } = loaded;
    this.assertions = loaded.assertions;
    const blank = blankCheck({ version: VERSION, ...shelf, diagnostics });
    if (network === undefined) return blank;
    try {
      return this.#judge(loaded, { network, planned: read.plan.length }, blank);
    } catch (error) {
      if (!(error instanceof EnginesDisagree)) throw error;
      this.#judged = [];
      return { ...blank, fault: error.message };
    }
  }

  #load(read: ReadSite, shelf: Shelf): LoadedSite {
    const documents = new Map<string, Known>();
    const load = (source: SourceFile, file: number): LoadedFile => {
      const known = this.#documents.get(source.path);
      const isKnown = known?.file === file && known.source.text === source.text;
      const loaded = isKnown ? known.loaded : loadDocument(source, file);
      documents.set(source.path, { source, file, loaded });
      return loaded;
    };
    const loaded = loadFiles(read, shelf, {
      load,
      compile: (site) => {
        const { before, isSamePlan } = this.#before(shelf.sources, read.plan.length);
        if (before === undefined) return compile(site);
        return isSamePlan ? before.evaluation.network : recompile(before.evaluation.network, site);
      },
    });
    this.#documents = documents;
    return loaded;
  }

  /** What is nearest to some files: the same plan, else the last one. */
  #before(
    sources: readonly SourceFile[],
    planned: number,
  ): { readonly before: Judged | undefined; readonly isSamePlan: boolean } {
    const same = this.#judged.find((each) => each.planned === planned && arePlansAlike(each.sources, sources, planned));
    return { before: same ?? this.#judged[0], isSamePlan: same !== undefined };
  }

  #judge(
    loaded: LoadedSite,
    { network, planned }: { readonly network: NonNullable<LoadedSite["network"]>; readonly planned: number },
    blank: Run,
  ): Run {
    const { sources } = blank;
    const { before, isSamePlan } = this.#before(sources, planned);
    const evaluation = isSamePlan && before !== undefined ? before.evaluation : new Evaluation(network);
    const changes = before && new Changes(before.evaluation, evaluation, movesBetween(before.sources, sources));
    const begun = { ...evaluation.work };
    const asked = this.#only.length > 0 ? { only: this.#only } : {};
    const results = loaded.assertions.map(({ path, document }) => {
      const known = before?.results.get(path);
      const earlier = known === undefined || changes === undefined ? {} : { earlier: { ...known, changes } };
      const request = { document, file: path, site: loaded.name, evaluation, ...asked, ...earlier };
      return [path, { document, result: checkAssertions(request) }] as const;
    });
    this.#work = workOf(
      begun,
      evaluation.work,
      results.map(([, { result }]) => result),
    );
    const run = runOf(
      results.map(([, { result }]) => result),
      blank,
    );
    if (hasErrors(run.diagnostics)) return run;
    const others = isSamePlan ? this.#judged.filter((each) => each !== before) : this.#judged;
    const judged: Judged = { sources, planned, evaluation, results: new Map(results) };
    this.#judged = [judged, ...others].slice(0, REMEMBERED);
    return run;
  }
}

function workOf(begun: Work, { events, worlds, proverSteps }: Work, results: readonly CheckResult[]): LookWork {
  return {
    asked: results.reduce((sum, { verdicts, reused }) => sum + verdicts.length - reused, 0),
    worlds: worlds - begun.worlds,
    events: events - begun.events,
    proverSteps: proverSteps - begun.proverSteps,
  };
}

/** Paths that are not what they were. */
function editedBetween(before: ReadSite, after: ReadSite): readonly string[] {
  const [old, now] = [before, after].map(({ plan, judges }) => {
    return new Map(
      [...plan, ...judges].map(({ path, read }) => [path, "text" in read ? `text ${read.text}` : read.problem]),
    );
  });
  const paths = new Set([...(old?.keys() ?? []), ...(now?.keys() ?? [])]);
  return [...paths].filter((path) => old?.get(path) !== now?.get(path));
}

function arePlansAlike(before: readonly SourceFile[], after: readonly SourceFile[], planned: number): boolean {
  return after.slice(0, planned).every(({ path, text }, number) => {
    const old = before[number];
    return old?.path === path && old.text === text;
  });
}

function freshIn({ diagnostics, sources }: Run, before: Run | undefined): readonly Diagnostic[] {
  const known = new Set(before?.diagnostics.map((each) => keyOf(each, before.sources)));
  return diagnostics.filter((each) => each.severity === "error" || !known.has(keyOf(each, sources)));
}

/** Where a diagnostic stands in its file is no news. */
function keyOf({ code, message, labels }: Diagnostic, sources: readonly SourceFile[]): string {
  const [label] = labels;
  return `${label === undefined ? "" : sources[label.span.file]?.path} ${code} ${message}`;
}
