/**
 * All assertions of a story judged at one moment after another: what looked at nothing that changed in between ends as before, and
 * is not asked again.
 */
import { type CheckResult, judgeAssertions, namingFaults } from "../check/index.ts";
import { hasErrors } from "../diagnose/index.ts";
import type { Assertion, AssertionsDocument } from "../document/index.ts";
import { Changes, type Evaluation } from "../evaluate/index.ts";
import type { Network } from "../network/index.ts";
import type { Verdict } from "../result/index.ts";
import type { AssertionFile } from "./cast.ts";

type Known = { readonly document: AssertionsDocument; readonly result: CheckResult };

/** Judges the assertions of some files, moment by moment. */
export class Judge {
  readonly #files: readonly AssertionFile[];
  readonly #site: string;
  readonly #only: ReadonlySet<string> | undefined;
  readonly #askable = new WeakMap<Network, readonly AssertionsDocument[]>();
  #known: readonly Known[] = [];
  #before: Evaluation | undefined;

  /** `only`: ids of the only assertions to judge. Default: all. */
  constructor(files: readonly AssertionFile[], site: string, only?: ReadonlySet<string>) {
    this.#files = files;
    this.#site = site;
    this.#only = only;
  }

  /**
   * Verdicts by id, in the order of the files; assertions that name what is not there now are left out. `anew`: devices have forgotten
   * something, which no change of the site tells. Default: what looked at nothing that changed ends as before. @throws EnginesDisagree
   */
  judge(evaluation: Evaluation, how: "anew" | "by-changes" = "by-changes"): ReadonlyMap<string, Verdict> {
    const changes = how === "anew" || this.#before === undefined ? undefined : new Changes(this.#before, evaluation);
    evaluation.outdate(changes ?? { meet: () => true });
    const documents = this.#documentsOn(evaluation);
    this.#known = this.#files.map(({ path }, index) => {
      const document = documents[index];
      if (document === undefined) throw new Error(`no document ${index}`);
      const known = this.#known[index];
      const earlier = known === undefined || changes === undefined ? {} : { earlier: { ...known, changes } };
      const result = judgeAssertions({ document, file: path, site: this.#site, evaluation, ...earlier });
      return { document, result: { ...result, diagnostics: [] } };
    });
    this.#before = evaluation;
    return this.#verdicts;
  }

  /** Whether some verdict rests on what devices will not remember for long. */
  get isPassing(): boolean {
    return this.#known.some(({ result }) => result.footprints.some(({ passing }) => passing));
  }

  /** The same site later: what rests on what devices remember is judged anew. @throws EnginesDisagree */
  again(): ReadonlyMap<string, Verdict> {
    this.#known = this.#known.map((known, index) => this.#renewed(known, this.#files[index]?.path ?? ""));
    return this.#verdicts;
  }

  #renewed({ document, result }: Known, file: string): Known {
    const evaluation = this.#before;
    const assertions = document.assertions.filter((_, index) => result.footprints[index]?.passing);
    if (evaluation === undefined || assertions.length === 0) return { document, result };
    const again = judgeAssertions({ document: { ...document, assertions }, file, site: this.#site, evaluation });
    const verdicts = [...result.verdicts];
    const footprints = [...result.footprints];
    for (const [place, assertion] of assertions.entries()) {
      const index = document.assertions.indexOf(assertion);
      const [before, verdict, footprint] = [verdicts[index], again.verdicts[place], again.footprints[place]];
      if (before === undefined || verdict === undefined || footprint === undefined)
        throw new Error(`no verdict ${place}`);
      // What is told of what devices remember changes while they forget it.
      if (before.status !== verdict.status || before.headline !== verdict.headline) verdicts[index] = verdict;
      footprints[index] = footprint;
    }
    return { document, result: { ...result, verdicts, footprints } };
  }

  get #verdicts(): ReadonlyMap<string, Verdict> {
    return new Map(
      this.#known.flatMap(({ result }) => result.verdicts.map((verdict) => [verdict.id, verdict] as const)),
    );
  }

  /** What can be asked of a site: in the story networks and devices may come and go. */
  #documentsOn(evaluation: Evaluation): readonly AssertionsDocument[] {
    const { network } = evaluation;
    const known = this.#askable.get(network);
    if (known !== undefined) return known;
    const documents = this.#files.map(({ path, document }) => ({
      ...document,
      assertions: document.assertions.filter(
        (each) => this.#isAsked(path, each) && isAskable(each, document, evaluation),
      ),
    }));
    this.#askable.set(network, documents);
    return documents;
  }

  #isAsked(path: string, { name }: Assertion): boolean {
    return this.#only === undefined || this.#only.has(`${path}#${name.value}`);
  }
}

function isAskable(assertion: Assertion, document: AssertionsDocument, evaluation: Evaluation): boolean {
  return !hasErrors(namingFaults({ ...document, assertions: [assertion] }, evaluation));
}

/**
 * Whether an assertion does not hold at a moment. What is blocked and vacuous still lets nothing through: a pulled cable that cuts
 * the source off is no breach.
 */
export function isBroken({ status, kind }: Verdict): boolean {
  return status === "failed" || (status === "vacuous" && kind !== "blocked");
}
