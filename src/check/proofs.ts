/**
 * The questions of a `blocked`, and their proofs. One asks what gets to the far end by itself. Who names an address, a leg or a device
 * also means what is sent to that and led elsewhere by a forward: that is a question of its own, about the packets that are sent to
 * one of its addresses, to all that translations of destinations can make of these.
 *
 * The second is about services as they are sent, which is what whoever names an address knows: what is permitted is not asked about, so
 * that a forward from another port is not hidden by the service that it leads to. Errors are not either: they are led nowhere but with the
 * connection that they are about (RFC 5508 section 4.2), which is asked about itself.
 */
import { type Ranges, type Service, single } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { List } from "../document/index.ts";
import {
  addressTarget,
  type ConfirmedProof,
  guestLinksOf,
  ledBetween,
  startOf,
  targetOf,
  type World,
} from "../evaluate/index.ts";
import { type AskedField, type AskedPackets, askedOf, type Condition } from "../network/index.ts";
import { boxesWithout, ERRORS, matchOf, type Question } from "../prove/index.ts";
import type { Demand } from "./demands.ts";
import type { End, EndPair } from "./ends.ts";
import { onlyFamily } from "./families.ts";
import type { Asked } from "./open-before.ts";

/** One question, answered in one world. */
export type Proved = {
  /** The world. */
  readonly world: World;
  /** What was asked. */
  readonly question: Question;
  /** The answer. */
  readonly proof: ConfirmedProof;
  /** It is about what is sent to the end and led elsewhere. */
  readonly isLed: boolean;
};

/** One proof or two a world; `limit` is set when there are more worlds. */
export type Proofs = {
  /** By what is picked in their worlds, whatever the order of the documents; in a world what gets there by itself comes first. */
  readonly proofs: readonly Proved[];
  /** Why worlds were left out. */
  readonly limit?: string;
};

/** The pairs of ends that are asked about: a host, a device, a leg or an address with itself is left out, as a policy leaves it out. */
export function pairsOf({ from, to }: EndPair): readonly (readonly [from: End, to: End])[] {
  return from.flatMap((one) => to.filter((other) => !isItself(one, other)).map((other) => [one, other] as const));
}

function isItself({ group }: End, other: End): boolean {
  return group.id === other.group.id && (group.kind === "host" || group.kind === "device" || group.kind === "leg");
}

/** The proofs of a pair of ends, with the stand-in client of the source plugged in. */
export function proofsOf(asked: Asked): Proofs {
  const { assertion, from, to, context } = asked;
  const { evaluation } = context;
  const { worlds, limit } = evaluation.worlds(guestLinksOf(from.group, evaluation.network));
  const straight: Question = {
    ...startOf(from, evaluation.network),
    packets: packetsOf(assertion, from),
    target: targetOf(to, evaluation.network),
    ...(assertion.permitted === undefined ? {} : { permitted: permittedOf(assertion.permitted) }),
  };
  const proofs = [...worlds].sort(byPicks).flatMap((world) => {
    const led = ledQuestion(straight, world, asked);
    return [straight, ...(led === undefined ? [] : [led])].map((question): Proved => {
      const proof = evaluation.prove(world, question);
      return { world, question, proof, isLed: question === led };
    });
  });
  return { proofs, ...(limit === undefined ? {} : { limit }) };
}

function byPicks(a: World, b: World): number {
  const [one, other] = [a, b].map(({ picks }) =>
    picks
      .map(({ choice, option }) => `${choice} ${option}`)
      .sort()
      .join("\n"),
  );
  return one === other ? 0 : (one ?? "") < (other ?? "") ? -1 : 1;
}

// -- what is led elsewhere ---------------------------------------------------------------------------------------

/** The same about what is sent to the end and led elsewhere; undefined: no such packet is led anywhere. */
function ledQuestion(straight: Question, world: World, { assertion, from, to, context }: Asked): Question | undefined {
  const { evaluation } = context;
  const led = ledBetween(from, to, world, evaluation);
  const packets = led === undefined ? [] : packetsTo(led.sent, straight, { by: "written", span: assertion.span });
  if (led === undefined || packets.length === 0) return undefined;
  const { permitted: _permitted, ...question } = straight;
  return { ...question, packets, target: addressTarget(led.to, evaluation.network) };
}

/** Of the packets asked about those that are sent to these addresses, are not permitted and are no errors. */
function packetsTo(sent: Ranges, { packets, permitted = [] }: Question, origin: Origin): AskedPackets {
  const destination: Condition<AskedField> = { field: "destination", within: sent, origin };
  const there = packets.map((match) => [...match, destination]);
  const boxes = boxesWithout(there, [...permitted, ...errorsBy(origin)], Number.POSITIVE_INFINITY) ?? [];
  return boxes.map(({ numbers }) => askedOf(matchOf(numbers, origin)));
}

function errorsBy(origin: Origin): AskedPackets {
  return ([4, 6] as const).map((family) => [
    only("family", family, origin),
    { field: "icmpType", within: ERRORS[family], origin },
  ]);
}

// -- which packets -----------------------------------------------------------------------------------------------

function packetsOf(assertion: Demand, from: End): AskedPackets {
  const origin: Origin = { by: "written", span: assertion.span };
  const within = from.group.kind === "internet-public" ? from.group.addresses : from.addresses;
  const { family, service } = assertion;
  const asksOf = onlyFamily(family?.value);
  const asked: AskedPackets[number] = [
    ...(within === undefined ? [] : [{ field: "source" as const, within, origin }]),
    ...(family === undefined || asksOf === undefined
      ? []
      : [only("family", asksOf, { by: "written", span: family.span })]),
  ];
  if (service === undefined) return [asked];
  return service.value.map(({ value, span }) => [...asked, ...conditionsOf(value, { by: "written", span })]);
}

/** A field of one value. */
function only(
  field: "family" | "protocol" | "icmpType" | "icmpCode",
  value: number,
  origin: Origin,
): Condition<AskedField> {
  return { field, within: single(BigInt(value)), origin };
}

function permittedOf(services: List<Service>): AskedPackets {
  return services.value.map(({ value, span }) => conditionsOf(value, { by: "written", span }));
}

/** The packets of a service as conditions. */
function conditionsOf(service: Service, origin: Origin): Condition<AskedField>[] {
  if (service.protocol === undefined) return [];
  return [
    only("protocol", service.protocol, origin),
    ...(service.ports === undefined ? [] : [{ field: "destinationPort" as const, within: service.ports, origin }]),
    ...(service.icmp === undefined ? [] : [only("icmpType", service.icmp.type, origin)]),
    ...(service.icmp?.code === undefined ? [] : [only("icmpCode", service.icmp.code, origin)]),
  ];
}
