/**
 * One question of a program: written as an assertion, loaded as a document of its own, judged and told as any other. So a name
 * that is not there, or a service that does not parse, is refused in the words of `dryrack check`.
 */
import { type CheckRequest, type CheckResult, checkAssertions, runOf } from "../check/index.ts";
import { loadDocument } from "../document/index.ts";
import { EnginesDisagree, ToldDisagreement } from "../evaluate/index.ts";
import { jsonOf, NO_INK, NO_VERDICT, renderAlone } from "../report/index.ts";
import { blankCheck, type Verdict } from "../result/index.ts";
import { refuseErrors, type Sound } from "./loaded.ts";
import type { Answer, Client, Question } from "./site.ts";
import { type AssertionWritten, documentOf, type LeaseDemands, type NameDemands, type OneOrMore } from "./written.ts";

/** How reports call what stands in no file. */
const IN_CODE = "asked in code";

/** Judges one assertion. */
export type Judge = (assertion: AssertionWritten) => Answer;

/** Who begins, who is meant, and on what. */
type Ends = Pick<AssertionWritten, "from" | "to" | "service">;

/** What may be asked of two ends. */
export function questionOf(ends: Ends, judge: Judge): Question {
  const ask = (
    expect: Exclude<AssertionWritten["expect"], undefined | "resolves">,
    demands: Partial<AssertionWritten> = {},
  ): Answer => judge({ name: `${titleOf(ends)}: ${expect}`, ...ends, expect, ...demands });
  return {
    kind: "question",
    connects: (demands) => ask("connects", demands),
    arrives: (demands) => ask("arrives", demands),
    blocked: (demands) => ask("blocked", demands),
    only: (demands) => ask("only", demands),
  };
}

/** Whether names work for those who ask. */
export function namesFrom(from: OneOrMore, judge: Judge, demands: NameDemands = {}): Answer {
  return judge({ name: `${listed(from)}: resolves`, from, expect: "resolves", ...demands });
}

/** What may be asked of a client. */
export function clientOf(client: string, judge: Judge): Client {
  const leases = ({ survives, recovers, ...lease }: LeaseDemands = {}): Answer =>
    judge({
      name: `${client}: lease`,
      lease: { client, ...lease },
      ...(survives === undefined ? {} : { survives }),
      ...(recovers === undefined ? {} : { recovers }),
    });
  return { kind: "client", leases };
}

function titleOf({ from, to, service }: Ends): string {
  const said = service === undefined ? "" : `, ${listed(service)}`;
  return `${listed(from)} to ${listed(to)}${said}`;
}

function listed(words: OneOrMore | undefined): string {
  return typeof words === "string" ? words : (words ?? []).join(", ");
}

/** One assertion, judged. @throws WrongInput, EnginesDisagree */
export function answerTo(
  assertion: AssertionWritten,
  { name, sources: files, evaluation }: Sound,
  version: string,
): Answer {
  const sources = [...files, { path: IN_CODE, text: documentOf(assertion) }];
  const source = sources[files.length] ?? { path: IN_CODE, text: "" };
  const { document, diagnostics } = loadDocument(source, files.length);
  refuseErrors(diagnostics, sources);
  if (document?.kind !== "assertions") throw new Error("an assertion was written that is none");
  const result = judged({ document, file: IN_CODE, site: name, evaluation });
  refuseErrors(result.diagnostics, sources);
  const [found] = result.verdicts;
  if (found === undefined) throw new Error("one assertion was asked and none judged");
  const verdict = unrepeatable(found);
  const loadedRun = blankCheck({ version, sources, diagnostics: [] });
  const run = runOf([{ ...result, verdicts: [verdict] }], loadedRun);
  const [told] = jsonOf(run).results;
  if (told === undefined) throw new Error("a verdict that no report tells");
  const { status } = verdict;
  return {
    kind: "answer",
    status,
    holds: status === "passed",
    text: renderAlone(verdict, run, { ink: NO_INK, verbose: false }),
    result: told,
  };
}

/** A fault of ours says that it is one. @throws EnginesDisagree */
function judged(request: CheckRequest): CheckResult {
  try {
    return checkAssertions(request);
  } catch (error) {
    throw error instanceof EnginesDisagree ? new ToldDisagreement(`${NO_VERDICT}\n${error.message}`) : error;
  }
}

/** No command shows again what stands on no disk. */
export function unrepeatable({ repeat: _, ...verdict }: Verdict): Verdict {
  return verdict;
}
