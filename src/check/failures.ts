/**
 * Why an assertion does not hold, as engines told it: the exchanges that came to nothing, the packets that got through, or
 * the lines that decided where neither was asked. What looks for a mending begins here.
 */
import type { Assertion, Located, ResolvesAssertion, Target } from "../document/index.ts";
import type { Evaluation } from "../evaluate/index.ts";
import { deviceOf, type FateClass, type Settled } from "../network/index.ts";
import { type Evidence, namesOf } from "../result/index.ts";
import type { ProbeResult } from "../simulate/index.ts";
import { blameFor } from "./blame.ts";
import { isOneHost } from "./blocked.ts";
import { questionsOf } from "./connects.ts";
import type { CheckContext, Finding } from "./context.ts";
import { allDemandsOf, type Demand } from "./demands.ts";
import { endPairOf } from "./ends.ts";
import { checkLease } from "./lease.ts";
import { pairsOf, proofsOf } from "./proofs.ts";
import { type Answer, answerTo, type Question } from "./question.ts";
import { checkDemand } from "./reach.ts";
import { trialsOf } from "./resolves.ts";
import { checkSegment } from "./segment.ts";

/** One thing that went wrong. */
export type Failure = {
  /** Deciding lines, the most telling first; uses of roles and sets stand in their origins. */
  readonly evidence: readonly Evidence[];
  /** The site at rest, as it was then. */
  readonly settled: Settled;
  /** What was demanded; absent: a lease or a segment. */
  readonly demand?: Demand;
  /** The exchange that came to nothing; absent: none, or it had no address to try. */
  readonly result?: ProbeResult;
  /** The packets that got through. */
  readonly reached?: FateClass;
};

/** Everything that keeps one assertion from holding, in the order in which it is asked. @throws EnginesDisagree */
export function failuresOf(assertion: Assertion, evaluation: Evaluation): readonly Failure[] {
  const context: CheckContext = { evaluation, names: namesOf(evaluation.network), site: "", file: "" };
  switch (assertion.kind) {
    case "lease":
      return told(checkLease(assertion, context), context);
    case "segment":
      return told(checkSegment(assertion, context), context);
    case "resolves":
      return unresolved(assertion, context);
    case "reach":
    case "policy":
      return allDemandsOf(assertion).flatMap((demand) => failuresAgainst(demand, context));
  }
}

/** What passes in it: the exchanges that work as they should. */
export function workingOf(assertion: Assertion, evaluation: Evaluation): readonly ProbeResult[] {
  const context: CheckContext = { evaluation, names: namesOf(evaluation.network), site: "", file: "" };
  if (assertion.kind === "resolves") return trialsOf(assertion, context).flatMap(({ results }) => results);
  const demands = allDemandsOf(assertion).filter(({ expect }) => expect.value !== "blocked");
  return demands.flatMap((demand) =>
    answersTo(demand, context).flatMap(({ status, outcome }) =>
      status === "passed" && outcome !== undefined ? [outcome.result] : [],
    ),
  );
}

/** Look-ups that fail, each by the exchange that does: what was demanded is that exchange. */
function unresolved(assertion: ResolvesAssertion, context: CheckContext): readonly Failure[] {
  return trialsOf(assertion, context).flatMap(({ status, question, hop, decidedBy, outcome }) => {
    const [world] = context.evaluation.worlds(question.source.up).worlds;
    if (status !== "failed" || world === undefined) return [];
    const failure = { evidence: decidedBy, settled: world.settled };
    const demand = outcome && demandIn(hop, assertion);
    if (demand === undefined || outcome === undefined) return [failure];
    return [{ ...failure, demand, result: outcome.result }];
  });
}

function demandIn(
  { source, destination, service }: Question,
  { span, name, from, expect }: ResolvesAssertion,
): Demand | undefined {
  const { address } = destination;
  if (address === undefined || service === undefined) return undefined;
  const { family, value } = address;
  const asker: Located<Target> = { value: { by: "name", name: deviceOf(source.stack) }, span: from.span };
  const asked: Located<Target> = { value: { by: "addresses", family, first: value, last: value }, span };
  return {
    kind: "reach",
    name,
    span,
    from: { value: [asker], span: from.span },
    to: { value: [asked], span },
    service: { value: [{ value: service, span }], span },
    expect: { value: "connects", span: expect.span },
  };
}

function failuresAgainst(demand: Demand, context: CheckContext): readonly Failure[] {
  const found = demand.expect.value === "blocked" ? breaches(demand, context) : lost(demand, context);
  if (found.length > 0) return found;
  return told(checkDemand(demand, context), context).map((failure) => ({ ...failure, demand }));
}

/** A finding that is told by its lines alone. */
function told({ status, decidedBy }: Finding, { evaluation }: CheckContext): readonly Failure[] {
  const [world] = evaluation.worlds().worlds;
  if (status === "passed" || status === "undecided" || world === undefined) return [];
  return [{ evidence: decidedBy, settled: world.settled }];
}

function lost(demand: Demand, context: CheckContext): readonly Failure[] {
  return answersTo(demand, context).flatMap(({ status, question, decidedBy, outcome }) => {
    const [world] = context.evaluation.worlds(question.source.up).worlds;
    if (status !== "failed" || world === undefined) return [];
    const { settled } = world;
    return [{ evidence: decidedBy, settled, demand, ...(outcome === undefined ? {} : { result: outcome.result }) }];
  });
}

function answersTo(demand: Demand, context: CheckContext): readonly Answer[] {
  const { evaluation } = context;
  return questionsOf(demand, endPairOf(demand, evaluation), evaluation.network).map((question) =>
    answerTo(question, demand, context),
  );
}

function breaches(demand: Demand, context: CheckContext): readonly Failure[] {
  const { evaluation } = context;
  return pairsOf(endPairOf(demand, evaluation)).flatMap(([from, to]) =>
    proofsOf({ assertion: demand, from, to, context }).proofs.flatMap(({ world: { settled }, proof }) =>
      proof.reached.slice(0, 1).map((first): Failure => {
        const evidence = blameFor({ reached: first, isFromOne: isOneHost(from), settled }, context);
        return { evidence, settled, demand, reached: first };
      }),
    ),
  );
}
