/**
 * What the assertions of a file ask, put so that a kernel can be asked the same: the very exchanges that `connects` and
 * `arrives` judge.
 */
import { type Address, addressKey, keyAddress, type Ranges, rangesContain } from "../address/index.ts";
import type { Diagnostic, Span } from "../diagnose/index.ts";
import type { Assertion, AssertionsDocument, ReachAssertion } from "../document/index.ts";
import { type ConfirmedProof, type Evaluation, guestLinksOf, targetOf, type World } from "../evaluate/index.ts";
import type { FateClass, Id } from "../network/index.ts";
import { namesOf, oneLine, packetOf } from "../result/index.ts";
import type { ProbeRequest } from "../simulate/index.ts";
import { proofsOf } from "./blocked.ts";
import { questionsOf } from "./connects.ts";
import { resolveEnds } from "./ends.ts";
import { addressesFor, boundSource, concreteServices } from "./exchange.ts";
import { waitingLegs } from "./lease.ts";
import { headOf, type Question } from "./question.ts";
import { unknownReferences } from "./references.ts";
import { emptyEnd } from "./vacuous.ts";

/** One exchange in every world. */
export type AskedExchange = {
  /** Who asks whom for what. */
  readonly label: string;
  /** On-demand links that are up for it. */
  readonly up: readonly Id[];
  /** One request for each address that is tried in a world. */
  readonly requests: readonly { readonly world: World; readonly request: ProbeRequest }[];
};

/** A packet of a proof, with what must be sent before it. */
export type AskedPacket = {
  /** Who sends whom what. */
  readonly label: string;
  /** On-demand links that are up for it. */
  readonly up: readonly Id[];
  /** The world it was proved in. */
  readonly world: World;
  /** The class whose witness it is. */
  readonly claimed: FateClass;
  /** Sent there instead of where nobody is; absent: as the witness says. */
  readonly destination?: Address;
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
  /** Packets of its proofs: those that get through, and those that got furthest or are stopped. */
  readonly packets: readonly AskedPacket[];
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
  const nothing = { ...head, exchanges: [], leases: [], packets: [] };
  switch (assertion.kind) {
    case "segment":
      return nothing;
    case "lease":
      return { ...nothing, leases: waitingLegs(evaluation.network, assertion.lease.client.value).map(({ id }) => id) };
    case "reach":
      return assertion.expect.value === "blocked"
        ? { ...nothing, packets: packetsOf(assertion, evaluation) }
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

// -- packets of proofs ---------------------------------------------------------------------------------------------

/** So many classes of a proof are looked at: those that get through and the nearest first. */
const MOST_CLASSES = 12;

function packetsOf(assertion: ReachAssertion, evaluation: Evaluation): readonly AskedPacket[] {
  const { network } = evaluation;
  const context = { evaluation, names: namesOf(network), site: "", file: "" };
  const targets = resolveEnds(assertion.to, evaluation).ends;
  return resolveEnds(assertion.from, evaluation).ends.flatMap((from) =>
    targets
      .filter((to) => emptyEnd(from, to, network) === undefined)
      .flatMap((to) => {
        const up = guestLinksOf(from.group, network);
        return proofsOf({ assertion, from, to, context }).proofs.flatMap(([world, proof]) =>
          classesOf(proof).map((claimed): AskedPacket => {
            const { witness, sentAt, before } = claimed;
            const label = `${from.label} to ${to.label}, ${oneLine(packetOf(witness, sentAt, before))}`;
            const destination = somebody(claimed, targetOf(to, network).addresses, world);
            return { label, up, world, claimed, ...(destination === undefined ? {} : { destination }) };
          }),
        );
      }),
  );
}

function classesOf({ reached, nearest, stopped }: ConfirmedProof): readonly FateClass[] {
  const first = nearest === undefined ? [] : [nearest];
  return [...new Set([...reached, ...first, ...stopped])]
    .filter(({ fate }) => fate.end !== "unknown")
    .slice(0, MOST_CLASSES);
}

/** An address of the target that somebody has, for a witness that is sent to one that nobody has: there nothing could be seen. */
function somebody({ witness }: FateClass, target: Ranges, { settled }: World): Address | undefined {
  const sent = witness.numbers.find(([field]) => field === "destination")?.[1];
  if (sent === undefined) return undefined;
  const owned = settled.stacks.flatMap(({ interfaces }) => interfaces.flatMap(({ addresses }) => addresses));
  const { family } = keyAddress(sent);
  if (owned.some((address) => addressKey(address) === sent)) return undefined;
  const found = owned.find((address) => address.family === family && rangesContain(target, addressKey(address)));
  return found === undefined ? undefined : { family, value: found.value };
}
