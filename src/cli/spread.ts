/**
 * Assertions of all sites, judged by workers: slices of a fixed size in document order, whoever takes which. Each worker gets
 * a copy of the sites as they were compiled, so that no file is read or compiled twice.
 */
import { type CheckResult, namingFaults } from "../check/index.ts";
import { type Diagnostic, hasErrors } from "../diagnose/index.ts";
import { Evaluation, joinedLooks, type Looks, ToldDisagreement } from "../evaluate/index.ts";
import type { LoadedSite } from "../load/index.ts";
import type { Network } from "../network/index.ts";
import type { Pool } from "../outside/index.ts";
import type { Verdict } from "../result/index.ts";

/** A site as workers know it. */
export type SpreadSite = Pick<LoadedSite, "name" | "assertions"> & {
  /** Its description. */
  readonly network: Network;
};

/** What every worker gets. */
export type SpreadData = {
  /** The sites. */
  readonly sites: readonly SpreadSite[];
  /** Names of the only assertions to judge; empty: all. */
  readonly only: readonly string[];
  /** Takes down what questions look at. */
  readonly facts: boolean;
};

/** Some assertions of one file. */
export type Slice = {
  /** Number of the site. */
  readonly site: number;
  /** Number of the file in it. */
  readonly file: number;
  /** Number of the first one. */
  readonly from: number;
  /** Number behind the last one. */
  readonly to: number;
};

/** What came of a slice. */
export type JudgedSlice = {
  /** One for each assertion; empty after a fault. */
  readonly verdicts: readonly Verdict[];
  /** What all questions to the site so far looked at, whoever asked them here; absent: nobody took it down. */
  readonly looks?: Looks;
  /** Why the engines disagree. */
  readonly fault?: string;
};

/** What came of all slices. */
export type JudgedSpread = {
  /** One for each file, in document order. */
  readonly results: readonly CheckResult[];
  /** What the questions to each site looked at; empty: nobody took it down. */
  readonly looks: readonly Looks[];
};

/** Assertions beside one another are often about one part of a site, and share questions. */
const ASSERTIONS_EACH = 32;

/** All slices, in document order. */
export function slicesOf(sites: readonly Pick<LoadedSite, "assertions">[]): readonly Slice[] {
  return sites.flatMap(({ assertions }, site) =>
    assertions.flatMap(({ document }, file) => {
      const count = document.assertions.length;
      return Array.from({ length: Math.ceil(count / ASSERTIONS_EACH) }, (_, index): Slice => {
        const from = index * ASSERTIONS_EACH;
        return { site, file, from, to: Math.min(count, from + ASSERTIONS_EACH) };
      });
    }),
  );
}

/** Is told of so many assertions that were judged, or failures that were tried. */
export type Step = (step: "judged" | "tried", count?: number) => void;

const NOBODY: Step = () => {};

/** The same results as in this process, file by file. The workers of the pool hold the data. @throws EnginesDisagree */
export async function judgeSpread(
  { sites, facts }: SpreadData,
  pool: Pool,
  onStep: Step = NOBODY,
): Promise<JudgedSpread> {
  const named = sites.map(faultsOf);
  const slices = slicesOf(sites).filter(({ site, file }) => !hasErrors(named[site]?.[file] ?? []));
  const answers = await pool.all<Slice, JudgedSlice>("judgeSlice", slices, (index) => {
    const { from, to } = slices[index] ?? { from: 0, to: 0 };
    onStep("judged", to - from);
  });
  const fault = answers.find((answer) => answer.fault !== undefined)?.fault;
  if (fault !== undefined) throw new ToldDisagreement(fault);
  const verdictsOf = (site: number, file: number): readonly Verdict[] =>
    answers.flatMap(({ verdicts }, index) => {
      const slice = slices[index];
      return slice?.site === site && slice.file === file ? verdicts : [];
    });
  const results = named.flatMap((files, site) =>
    files.map((diagnostics, file) => ({ verdicts: verdictsOf(site, file), diagnostics, footprints: [], reused: 0 })),
  );
  const looksAt = (site: number): Looks =>
    joinedLooks(answers.flatMap(({ looks }, index) => (slices[index]?.site === site ? (looks ?? []) : [])));
  return { results, looks: facts ? sites.map((_, site) => looksAt(site)) : [] };
}

function faultsOf({ network, assertions }: SpreadSite): readonly (readonly Diagnostic[])[] {
  const evaluation = new Evaluation(network);
  return assertions.map(({ document }) => namingFaults(document, evaluation));
}
