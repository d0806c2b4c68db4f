/**
 * Assertions: what people write about a network, judged. One file a kind: `connects` (and `arrives`), `blocked`,
 * `lease`, `segment`. An assertion holds only when it holds in every outcome that the documents leave open, and a
 * pass that says nothing (an empty question, a source that is cut off anyway) is `vacuous`, which fails.
 */
export {
  type BegunFile,
  beginAssertions,
  type CheckRequest,
  checkAssertions,
  type Ending,
  judgeAssertions,
  judgeOne,
  namingFaults,
} from "./check.ts";
export { allDemandsOf } from "./demands.ts";
export { endText } from "./ends.ts";
export { type Failure, failuresOf, workingOf } from "./failures.ts";
export { kernelQuestions } from "./kernel-questions.ts";
export { tellLookUps } from "./names-work.ts";
export type { CheckResult, Earlier } from "./recollection.ts";
export { ownersOf, stackIn } from "./rest.ts";
export { runOf } from "./run.ts";
export { joinedSurvivals, type Stretch, type Survival } from "./sweep.ts";
export { type TraceRequest, traceExchanges } from "./trace.ts";
