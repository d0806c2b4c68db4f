/**
 * `blocked`: no packet that the source begins, whatever addresses and tags it chooses, reaches a stack at the far end
 * or is put on a segment of it. Proved over all packets; a failure is a packet that gets through, a pass names what
 * blocks and shows the packet that got furthest.
 */
import {
  addressKey,
  type Family,
  formatServices,
  normalizeRanges,
  rangeOf,
  type Service,
  single,
  unionRanges,
} from "../address/index.ts";
import type { Origin, Span } from "../diagnose/index.ts";
import type { List } from "../document/index.ts";
import {
  type ConfirmedProof,
  directoryOf,
  guestLinksOf,
  startOf,
  targetOf,
  UNTRIED,
  type World,
} from "../evaluate/index.ts";
import type { AskedField, AskedPackets, Condition, FateClass, Id } from "../network/index.ts";
import type { Question } from "../prove/index.ts";
import { eachOnce, groundOf, packetOf, type Support, tellFate, tellPath, tellPicks } from "../result/index.ts";
import { delegatedAmong } from "./assumptions.ts";
import { blameFor, helpBetween } from "./blame.ts";
import { type CheckContext, type Finding, worstAmong } from "./context.ts";
import type { Demand } from "./demands.ts";
import { type End, type EndPair, isInternet } from "./ends.ts";
import { onlyFamily } from "./families.ts";
import { type Asked, assumedOfOpen, goingOnFinding, keepOpen } from "./open-before.ts";
import { type CutOff, cutOff, emptyEnd } from "./vacuous.ts";

/** Judges a `blocked` assertion between these ends. */
export function checkBlocked(assertion: Demand, { from, to }: EndPair, context: CheckContext): Finding {
  const findings = from.flatMap((one) =>
    to.map((other) => blockedBetween({ assertion, from: one, to: other, context })),
  );
  return {
    ...worstAmong(findings),
    restsOn: eachOnce(findings.flatMap(({ restsOn = [] }) => restsOn)),
    assumptions: [
      ...new Set([
        ...[...from, ...to].flatMap((end) => assumedOf(end, context)),
        ...findings.flatMap(({ assumptions = [] }) => assumptions),
      ]),
    ],
    cells: findings.flatMap(({ cells = [] }) => cells),
  };
}

/** Of the internet no prefix is meant but what is beyond the upstreams. */
function assumedOf(end: End, { evaluation }: CheckContext): string[] {
  if (isInternet(end) || directoryOf(evaluation.network).delegated.length === 0) return [];
  const legs = new Set(end.group.interfaces);
  const held = evaluation
    .worlds()
    .worlds.flatMap(({ settled }) =>
      settled.stacks.flatMap(({ interfaces }) =>
        interfaces.filter((leg) => legs.has(leg.interface)).flatMap(({ addresses }) => addresses.map(addressKey)),
      ),
    );
  const keys = normalizeRanges(held.map((key) => [key, key] as const));
  const { worlds } = evaluation.worlds();
  const isLost = (id: Id): boolean =>
    worlds.every(({ settled: { undelegated = [] } }) => undelegated.some((lack) => lack.interface === id));
  return delegatedAmong(unionRanges(end.group.addresses, keys), evaluation.network, isLost);
}

function blockedBetween(asked: Asked): Finding {
  const { assertion, from, to } = asked;
  const only = onlyFamily(assertion.family?.value);
  const empty = emptyEnd(from, to, asked.context.evaluation, only);
  const finding = empty === undefined ? judge(proofsOf(asked), asked) : emptyFinding(empty);
  const expect = assertion.permitted === undefined ? ("blocked" as const) : ("only" as const);
  const { status } = finding;
  const service = questioned(assertion);
  const cell = {
    from: from.label,
    to: to.label,
    service,
    ...(only === undefined ? {} : { family: `ipv${only}` as const }),
  };
  return { ...finding, cells: [{ ...cell, expect, status }] };
}

/** The packets under question, in words. */
function questioned({ service, permitted }: Demand): string {
  if (service !== undefined) return formatServices(service.value);
  return permitted === undefined ? "every packet" : `all but ${formatServices(permitted.value)}`;
}

/** One proof a world; `limit` is set when there are more worlds. */
export type Proofs = {
  /** What was asked. */
  readonly question: Question;
  /** By what is picked in their worlds, whatever the order of the documents. */
  readonly proofs: readonly (readonly [World, ConfirmedProof])[];
  /** Why worlds were left out. */
  readonly limit?: string;
};

/** One proof a world, with the stand-in client of the source plugged in. */
export function proofsOf({ assertion, from, to, context: { evaluation } }: Asked): Proofs {
  const { network } = evaluation;
  const { worlds, limit } = evaluation.worlds(guestLinksOf(from.group, network));
  const question = {
    ...startOf(from, network),
    packets: packetsOf(assertion, from),
    target: targetOf(to, network),
    ...(assertion.permitted === undefined ? {} : { permitted: permittedOf(assertion.permitted) }),
  };
  const proofs = [...worlds].sort(byPicks).map((world) => [world, evaluation.prove(world, question)] as const);
  return { question, proofs, ...(limit === undefined ? {} : { limit }) };
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

// -- which packets -----------------------------------------------------------------------------------------------

function packetsOf(assertion: Demand, from: End): AskedPackets {
  const origin: Origin = { by: "written", span: assertion.span };
  const within = from.group.kind === "internet-public" ? from.group.addresses : from.addresses;
  const { family, service } = assertion;
  const only = onlyFamily(family?.value);
  const asked: AskedPackets[number] = [
    ...(within === undefined ? [] : [{ field: "source" as const, within, origin }]),
    ...(family === undefined || only === undefined ? [] : [familyAsked(only, family.span)]),
  ];
  if (service === undefined) return [asked];
  return service.value.map(({ value, span }) => [...asked, ...conditionsOf(value, { by: "written", span })]);
}

function familyAsked(family: Family, span: Span): Condition<AskedField> {
  return { field: "family", within: single(BigInt(family)), origin: { by: "written", span } };
}

function permittedOf(services: List<Service>): AskedPackets {
  return services.value.map(({ value, span }) => conditionsOf(value, { by: "written", span }));
}

/** The packets of a service as conditions. */
function conditionsOf(service: Service, origin: Origin): Condition<AskedField>[] {
  if (service.protocol === undefined) return [];
  const one = (field: "protocol" | "icmpType" | "icmpCode", value: number): Condition<AskedField> => ({
    field,
    within: rangeOf(BigInt(value), BigInt(value)),
    origin,
  });
  return [
    one("protocol", service.protocol),
    ...(service.ports === undefined ? [] : [{ field: "destinationPort" as const, within: service.ports, origin }]),
    ...(service.icmp === undefined ? [] : [one("icmpType", service.icmp.type)]),
    ...(service.icmp?.code === undefined ? [] : [one("icmpCode", service.icmp.code)]),
  ];
}

// -- the verdict -------------------------------------------------------------------------------------------------

function judge(found: Proofs, asked: Asked): Finding {
  for (const [world, { reached }] of found.proofs) {
    const [first] = reached;
    if (first === undefined) continue;
    keepOpen(
      asked,
      found.proofs.flatMap(([, proof]) => proof.reached),
    );
    return breachFinding(asked.context.evaluation.smallest(world, found.question) ?? first, world, asked);
  }
  const open = goingOnFinding(asked);
  if (open !== undefined) return open;
  for (const [, { undecided }] of found.proofs) {
    if (undecided !== undefined) return undecidedFinding(undecided, asked);
  }
  if (found.limit !== undefined) return undecidedFinding({ note: found.limit }, asked);
  const cut =
    asked.assertion.evenIf?.value === "cut-off"
      ? undefined
      : cutOff(asked.from, asked.context, onlyFamily(asked.assertion.family?.value));
  if (cut === undefined) return { ...passedFinding(found, asked), assumptions: assumedOfOpen(asked) };
  return cut.unknown === undefined
    ? cutFinding(cut, asked)
    : undecidedFinding({ note: cut.unknown, origin: cut.origin }, asked);
}

function breachFinding(breach: FateClass, world: World, { assertion, from, to, context }: Asked): Finding {
  const packet = packetOf(breach);
  const picks = [...world.picks, ...breach.picks];
  const when = picks.length === 0 ? "" : ` when ${tellPicks(picks)}`;
  const fate = tellFate(breach.fate, context.names, breach.path);
  const { permitted } = assertion;
  const blamed = { reached: breach, isFromOne: isOneHost(from), settled: world.settled };
  const help = helpBetween(blamed, context);
  const besides = permitted === undefined ? "" : `besides ${formatServices(permitted.value)}, `;
  return {
    status: "failed",
    by: "proof",
    headline: `${besides}a packet from ${from.label} gets to ${to.label}: ${packet.service} to ${packet.destination} ${fate}${when}`,
    decidedBy: blameFor(blamed, context),
    ...(help === undefined ? {} : { help }),
    witness: packet,
    picks,
    path: tellPath(breach.path, context.names),
  };
}

/** One host, or one leg of it, by its name. */
export function isOneHost({ group: { kind }, addresses }: End): boolean {
  return addresses === undefined && (kind === "host" || kind === "leg");
}

function undecidedFinding(
  undecided: { readonly limit?: number; readonly note?: string; readonly origin?: Origin },
  { assertion }: Asked,
): Finding {
  const limit = undecided.note ?? `more than ${undecided.limit} steps of proof`;
  const origin: Origin = undecided.origin ?? { by: "written", span: assertion.span };
  return {
    status: "undecided",
    by: "proof",
    headline: `nobody can tell: ${limit}`,
    decidedBy: [{ origin, text: limit }],
    limit,
  };
}

function emptyFinding({ text, origin }: CutOff): Finding {
  return { status: "vacuous", by: "proof", headline: `nothing is asked: ${text}`, decidedBy: [{ origin, text }] };
}

function cutFinding(cut: CutOff, { from, to }: Asked): Finding {
  return {
    status: "vacuous",
    by: "proof",
    headline: `nothing gets from ${from.label} to ${to.label}, but only because ${cut.text}`,
    help: "mend that first; where it is meant, say `even-if: cut-off`",
    decidedBy: [{ origin: cut.origin, text: cut.text }],
  };
}

function passedFinding({ proofs }: Proofs, { assertion, from, to, context }: Asked): Finding {
  const [first] = proofs;
  if (first === undefined) throw new Error("a network with no world at all");
  const only = onlyFamily(assertion.family?.value);
  const packet = only === undefined ? "packet" : `packet of IPv${only}`;
  const [, { nearest }] = first;
  const classes = proofs.flatMap(([, proof]) => [
    ...(proof.nearest === undefined ? [] : [proof.nearest]),
    ...proof.stopped,
  ]);
  const shown = decidersOf(classes, context);
  const untried = proofs.flatMap(([, proof]) => proof.untried);
  const others = eachOnce([...shown, ...decidersOf(untried, context)]).slice(shown.length);
  const deciders = [...shown, ...others.map((each) => ({ ...each, text: `${each.text} (${UNTRIED})` }))];
  const why =
    nearest === undefined ? "nothing there can be addressed" : tellFate(nearest.fate, context.names, nearest.path);
  return {
    status: "passed",
    by: "proof",
    headline: `no ${packet} gets from ${from.label} to ${to.label}; what gets furthest: ${why}`,
    decidedBy: deciders.slice(0, 1),
    restsOn: deciders,
    ...(nearest === undefined
      ? {}
      : {
          witness: packetOf(nearest),
          path: tellPath(nearest.path, context.names),
        }),
  };
}

/** What stopped these classes, each line once, in order. */
function decidersOf(classes: readonly FateClass[], { names }: CheckContext): readonly Support[] {
  return eachOnce(
    classes.map(({ fate, path }) => ({
      origin: fate.origin,
      text: tellFate(fate, names, path),
      ground: groundOf(fate),
    })),
  );
}
