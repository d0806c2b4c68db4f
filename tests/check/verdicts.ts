/**
 * A site in a few lines of YAML, and what becomes of assertions about it.
 *
 *     const site = siteFrom(RACK, INTENT);
 *     const [first] = judge(site, "from: a, to: b, service: tcp/80, expect: connects");
 *     expect(first).toMatchObject({ status: "passed" });
 */
import { type CheckRequest, checkAssertions } from "../../src/check/index.ts";
import { compile } from "../../src/compile/index.ts";
import type { Diagnostic } from "../../src/diagnose/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { Evaluation, type ProverMaker } from "../../src/evaluate/index.ts";
import type { Network } from "../../src/network/index.ts";
import type { Verdict } from "../../src/result/index.ts";
import { resolvedOf } from "../support/site.ts";

/** A site with its files. */
export type TestSite = {
  readonly network: Network;
  /** The text at a span of the site's files or of the assertions. */
  readonly textAt: (span: { readonly file: number; readonly start: number; readonly end: number }) => string;
};

/** A verdict in the few words that tests look at. */
export type Told = Pick<Verdict, "status" | "headline" | "picks" | "assumptions" | "restsOn" | "cells" | "path"> & {
  /** Text at the deciding lines, the primary one first; of what is absent, what is wanted. */
  readonly decided: readonly string[];
  /** What they did. */
  readonly why: readonly string[];
  /** What kept it undecided. */
  readonly limit: string | undefined;
  /** The packet shown, in short. */
  readonly packet: string;
  /** The whole verdict. */
  readonly verdict: Verdict;
};

/** The site of some texts; throws on any error of the documents. */
export function siteFrom(...texts: readonly string[]): TestSite {
  const { site, diagnostics, files } = resolvedOf(...texts);
  const wrong = diagnostics.filter(({ severity }) => severity === "error");
  if (site === undefined || wrong.length > 0) throw new Error(wrong.map(({ message }) => message).join("\n"));
  const textAt: TestSite["textAt"] = ({ file, start, end }) => files[file]?.text.slice(start, end) ?? "";
  return { network: compile(site), textAt };
}

const ASSERTIONS_FILE = 99;

/** What checking gives, with its diagnostics. */
export function check(
  site: TestSite,
  assertions: readonly string[],
  options: Pick<CheckRequest, "only" | "bail"> & { readonly proverMaker?: ProverMaker } = {},
): { readonly told: readonly Told[]; readonly diagnostics: readonly Diagnostic[] } {
  const lines = assertions.map((text, index) => `  - { name: "${index + 1}", ${text} }\n`);
  const text = `dryrack: assertions/1\nassertions:\n${lines.join("")}`;
  const { document, diagnostics: loading } = loadDocument({ path: "a.yaml", text }, ASSERTIONS_FILE);
  if (document?.kind !== "assertions" || loading.some(({ severity }) => severity === "error"))
    return { told: [], diagnostics: loading };
  const { proverMaker, ...rest } = options;
  const evaluation = new Evaluation(site.network, proverMaker);
  const result = checkAssertions({ document, file: "a.yaml", site: "test", evaluation, ...rest });
  const textAt: TestSite["textAt"] = (span) =>
    span.file === ASSERTIONS_FILE ? text.slice(span.start, span.end) : site.textAt(span);
  return {
    told: result.verdicts.map((verdict) => tell(verdict, textAt)),
    diagnostics: [...loading, ...result.diagnostics],
  };
}

/** The verdicts on some assertions, each without its name. */
export function judge(site: TestSite, ...assertions: readonly string[]): readonly Told[] {
  const { told, diagnostics } = check(site, assertions);
  const wrong = diagnostics.filter(({ severity }) => severity === "error");
  if (wrong.length > 0) throw new Error(wrong.map(({ message }) => message).join("\n"));
  return told;
}

/** Their statuses only. */
export function statuses(site: TestSite, ...assertions: readonly string[]): readonly string[] {
  return judge(site, ...assertions).map(({ status }) => status);
}

function tell(verdict: Verdict, textAt: TestSite["textAt"]): Told {
  const { status, headline, picks, assumptions, restsOn, cells, path, decidedBy, limit, witness } = verdict;
  const decided = decidedBy.map(({ origin }) => (origin.by === "absent" ? origin.wanted : textAt(origin.span)));
  const tag = witness?.tag === undefined ? "" : ` tagged ${witness.tag}`;
  const packet =
    witness === undefined
      ? ""
      : `${witness.service} from ${witness.source} to ${witness.destination} at ${witness.sentAt}${tag}`;
  const why = decidedBy.map(({ text }) => text);
  return { status, headline, picks, assumptions, restsOn, cells, path, decided, why, limit, packet, verdict };
}
