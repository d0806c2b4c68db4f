/**
 * What the assertions of a file ask, put so that a kernel can be asked the same: the very exchanges that `connects`,
 * `arrives` and `resolves` judge.
 */
import { type Address, addressKey, keyAddress, type Ranges, rangesContain } from "../address/index.ts";
import { type Diagnostic, hasErrors } from "../diagnose/index.ts";
import type { Assertion, AssertionsDocument, ResolvesAssertion } from "../document/index.ts";
import { type ConfirmedProof, type Evaluation, guestLinksOf, targetOf, type World } from "../evaluate/index.ts";
import type { KernelExchange, KernelPacket, KernelQuestion } from "../kernel/index.ts";
import type { FateClass, Id } from "../network/index.ts";
import { namesOf, oneLine, packetOf } from "../result/index.ts";
import type { ProbeRequest } from "../simulate/index.ts";
import { questionsOf } from "./connects.ts";
import { allDemandsOf, type Demand } from "./demands.ts";
import { endFaults, endPairOf } from "./ends.ts";
import { addressesFor, requestsTo } from "./exchange.ts";
import { onlyFamily } from "./families.ts";
import { waitingLegs } from "./lease.ts";
import { pairsOf, proofsOf } from "./proofs.ts";
import { headOf, type Question } from "./question.ts";
import { unknownReferences } from "./references.ts";
import { trialsOf } from "./resolves.ts";
import { emptyEnd } from "./vacuous.ts";

/** Everything that a file asks; with a wrong name anywhere nothing. */
export function kernelQuestions(
  document: AssertionsDocument,
  evaluation: Evaluation,
): { readonly asked: readonly KernelQuestion[]; readonly diagnostics: readonly Diagnostic[] } {
  const diagnostics = document.assertions.flatMap((assertion) => [
    ...endFaults(assertion, evaluation),
    ...unknownReferences(assertion, evaluation.network),
  ]);
  const isWrong = hasErrors(diagnostics);
  return { diagnostics, asked: isWrong ? [] : document.assertions.map((each) => askedBy(each, evaluation)) };
}

function askedBy(assertion: Assertion, evaluation: Evaluation): KernelQuestion {
  const head = { name: assertion.name.value, at: assertion.span };
  const nothing = { ...head, exchanges: [], leases: [], packets: [] };
  switch (assertion.kind) {
    case "segment":
      return nothing;
    case "lease":
      return { ...nothing, leases: waitingLegs(evaluation.network, assertion.lease.client.value).map(({ id }) => id) };
    case "resolves":
      return { ...nothing, exchanges: lookUpsOf(assertion, evaluation) };
    case "reach":
    case "policy": {
      const demands = allDemandsOf(assertion);
      const proved = demands.filter(({ expect }) => expect.value === "blocked");
      const exchanged = demands.filter(({ expect }) => expect.value !== "blocked");
      return {
        ...nothing,
        packets: proved.flatMap((demand) => packetsOf(demand, evaluation)),
        exchanges: exchanged.flatMap((demand) => exchangesOf(demand, evaluation)),
      };
    }
  }
}

/** Every exchange of a look-up: with a resolver, and of that one with whom it forwards to. */
function lookUpsOf(assertion: ResolvesAssertion, evaluation: Evaluation): readonly KernelExchange[] {
  const context = { evaluation, names: namesOf(evaluation.network), site: "", file: "" };
  const asked = new Map<string, { up: readonly Id[]; label: string; worlds: Map<World, readonly ProbeRequest[]> }>();
  trialsOf(assertion, context, (question, world) => {
    const { up } = question.source;
    const label = headOf(question);
    const key = JSON.stringify([label, up]);
    const known = asked.get(key) ?? { label, up, worlds: new Map() };
    known.worlds.set(world, requestsIn(world, question, evaluation));
    asked.set(key, known);
  });
  return [...asked.values()].map(({ label, up, worlds }) => {
    const requests = [...worlds].flatMap(([world, all]) => all.map((request) => ({ world, request })));
    return { label, up, requests };
  });
}

function exchangesOf(assertion: Demand, evaluation: Evaluation): readonly KernelExchange[] {
  return questionsOf(assertion, endPairOf(assertion, evaluation), evaluation.network).map((question) => {
    const { worlds } = evaluation.worlds(question.source.up);
    const requests = worlds.flatMap((world) =>
      requestsIn(world, question, evaluation).map((request) => ({ world, request })),
    );
    return { label: headOf(question), up: question.source.up, requests };
  });
}

function requestsIn(world: World, question: Question, evaluation: Evaluation): ProbeRequest[] {
  const { source, service, family } = question;
  return addressesFor(evaluation, world, question, family).flatMap((address) =>
    requestsTo(address, { source, service, world, network: evaluation.network }),
  );
}

// -- packets of proofs ---------------------------------------------------------------------------------------------

/** So many classes of a proof are looked at: those that get through and the nearest first. */
const MOST_CLASSES = 12;

function packetsOf(assertion: Demand, evaluation: Evaluation): readonly KernelPacket[] {
  const { network } = evaluation;
  const context = { evaluation, names: namesOf(network), site: "", file: "" };
  return pairsOf(endPairOf(assertion, evaluation))
    .filter(([from, to]) => emptyEnd(from, to, evaluation, onlyFamily(assertion.family?.value)) === undefined)
    .flatMap(([from, to]) => {
      const up = guestLinksOf(from.group, network);
      return proofsOf({ assertion, from, to, context }).proofs.flatMap(({ world, proof, isLed }) =>
        classesOf(proof).map((claimed): KernelPacket => {
          const label = `${from.label} to ${to.label}, ${oneLine(packetOf(claimed))}`;
          // What is led elsewhere is sent to nobody but the end itself.
          const destination = isLed ? undefined : somebody(claimed, targetOf(to, network).addresses, world);
          return { label, up, world, claimed, ...(destination === undefined ? {} : { destination }) };
        }),
      );
    });
}

function classesOf({ reached, permitted, nearest, stopped }: ConfirmedProof): readonly FateClass[] {
  const first = nearest === undefined ? [] : [nearest];
  return [...new Set([...reached, ...permitted, ...first, ...stopped])]
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
