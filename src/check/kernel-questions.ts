/**
 * What the assertions of a file ask, put so that a kernel can be asked the same: the very exchanges that `connects` and
 * `arrives` judge.
 */
import type { Diagnostic, Span } from "../diagnose/index.ts";
import type { Assertion, AssertionsDocument, ReachAssertion } from "../document/index.ts";
import type { Evaluation, World } from "../evaluate/index.ts";
import type { Id } from "../network/index.ts";
import type { ProbeRequest } from "../simulate/index.ts";
import { questionsOf } from "./connects.ts";
import { resolveEnds } from "./ends.ts";
import { addressesFor, boundSource, concreteServices } from "./exchange.ts";
import { waitingLegs } from "./lease.ts";
import { headOf, type Question } from "./question.ts";
import { unknownReferences } from "./references.ts";

/** One exchange in every world. */
export type AskedExchange = {
  /** Who asks whom for what. */
  readonly label: string;
  /** On-demand links that are up for it. */
  readonly up: readonly Id[];
  /** One request for each address that is tried in a world. */
  readonly requests: readonly { readonly world: World; readonly request: ProbeRequest }[];
};

/** What one assertion asks. */
export type AskedAssertion = {
  /** Its name. */
  readonly name: string;
  /** Where it stands. */
  readonly at: Span;
  /** Exchanges that it names. */
  readonly exchanges: readonly AskedExchange[];
  /** Ids of interfaces whose leases it looks at. */
  readonly leases: readonly Id[];
  /** What it asks beside, which cannot be put to a kernel; absent: nothing. */
  readonly unasked?: string;
};

/** Everything that a file asks; with a wrong name anywhere nothing. */
export function kernelQuestions(
  document: AssertionsDocument,
  evaluation: Evaluation,
): { readonly asked: readonly AskedAssertion[]; readonly diagnostics: readonly Diagnostic[] } {
  const diagnostics = document.assertions.flatMap((assertion) => [
    ...endFaults(assertion, evaluation),
    ...unknownReferences(assertion, evaluation.network),
  ]);
  const isWrong = diagnostics.some(({ severity }) => severity === "error");
  return { diagnostics, asked: isWrong ? [] : document.assertions.map((each) => askedBy(each, evaluation)) };
}

function endFaults(assertion: Assertion, evaluation: Evaluation): readonly Diagnostic[] {
  if (assertion.kind !== "reach") return [];
  return [assertion.from, assertion.to].flatMap((end) => resolveEnds(end, evaluation).diagnostics);
}

function askedBy(assertion: Assertion, evaluation: Evaluation): AskedAssertion {
  const head = { name: assertion.name.value, at: assertion.span };
  const nothing = { ...head, exchanges: [], leases: [] };
  switch (assertion.kind) {
    case "segment":
      return nothing;
    case "lease":
      return { ...nothing, leases: waitingLegs(evaluation.network, assertion.lease.client.value).map(({ id }) => id) };
    case "reach":
      return assertion.expect.value === "blocked"
        ? { ...nothing, unasked: "the packets of a proof" }
        : { ...nothing, exchanges: exchangesOf(assertion, evaluation) };
  }
}

function exchangesOf(assertion: ReachAssertion, evaluation: Evaluation): readonly AskedExchange[] {
  const ends = {
    from: resolveEnds(assertion.from, evaluation).ends,
    to: resolveEnds(assertion.to, evaluation).ends,
  };
  return questionsOf(assertion, ends, evaluation.network).map((question) => {
    const { worlds } = evaluation.worlds(question.source.up);
    const requests = worlds.flatMap((world) =>
      requestsIn(world, question, evaluation).map((request) => ({ world, request })),
    );
    return { label: headOf(question), up: question.source.up, requests };
  });
}

function requestsIn(world: World, { source, destination, service }: Question, evaluation: Evaluation): ProbeRequest[] {
  return addressesFor(evaluation.network, world, source, destination).flatMap((address) => {
    const bound = boundSource(source, world, address.family);
    return concreteServices(service, address.family).map((concrete) => {
      const request = { from: source.stack, destination: address, service: concrete };
      return bound === undefined ? request : { ...request, source: bound };
    });
  });
}
