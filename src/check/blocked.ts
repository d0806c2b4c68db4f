/**
 * `blocked`: no packet that the source begins, whatever addresses and tags it chooses, reaches a stack at the far end
 * or is put on a segment of it. Proved over all packets; a failure is a packet that gets through, a pass names what
 * blocks and shows the packet that got furthest.
 */
import { formatService, rangeOf, type Service } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { ReachAssertion } from "../document/index.ts";
import type { ConfirmedProof, World } from "../evaluate/index.ts";
import type { Alternatives, Condition, FateClass, Match, Network } from "../network/index.ts";
import type { Target } from "../prove/index.ts";
import { type Evidence, packetOf, tellFate, tellPath, tellPicks } from "../result/index.ts";
import { blameFor } from "./blame.ts";
import { type CheckContext, type Finding, worstOf } from "./context.ts";
import type { End } from "./ends.ts";
import { sourcesOf } from "./exchange.ts";
import { cutOff } from "./vacuous.ts";

/** Judges a `blocked` assertion between these ends. */
export function checkBlocked(
  assertion: ReachAssertion,
  ends: { readonly from: readonly End[]; readonly to: readonly End[] },
  context: CheckContext,
): Finding {
  const findings = ends.from.flatMap((from) => ends.to.map((to) => blockedBetween(assertion, from, to, context)));
  const status = worstOf(findings.map((finding) => finding.status));
  const shown = findings.find((finding) => finding.status === status);
  if (shown === undefined) throw new Error(`no ends to judge in ${assertion.name.value}`);
  return { ...shown, cells: findings.flatMap((finding) => finding.cells ?? []) };
}

function blockedBetween(assertion: ReachAssertion, from: End, to: End, context: CheckContext): Finding {
  const proofs = proofsOf(assertion, from, to, context);
  const finding = judge(proofs, from, to, assertion, context);
  const services = assertion.service?.value.map((service) => formatService(service.value)).join(", ") ?? "every packet";
  return { ...finding, cells: [{ from: from.label, to: to.label, service: services, status: finding.status }] };
}

type Proofs = { readonly proofs: readonly (readonly [World, ConfirmedProof])[]; readonly limit?: string };

/** One proof a world, with and without the stand-in clients of the source. */
function proofsOf(assertion: ReachAssertion, from: End, to: End, context: CheckContext): Proofs {
  const { evaluation } = context;
  const guests = sourcesOf(from.group, evaluation.network).find((source) => source.up.length > 0);
  const { worlds, limit } = evaluation.worlds(guests?.up ?? []);
  const question = { ...startOf(from), packets: packetsOf(assertion, from), target: targetOf(to, evaluation.network) };
  const proofs = worlds.map((world) => [world, evaluation.prove(world, question)] as const);
  return limit === undefined ? { proofs } : { proofs, limit };
}

function startOf({ group }: End): { readonly entrances: readonly string[]; readonly senders: End["group"]["begins"] } {
  const entrances = [...new Set(group.entrances.map((entrance) => entrance.at))];
  return { entrances, senders: entrances.length === 0 || group.kind === "device" ? group.begins : [] };
}

/** Delivery counts at the stacks that stand in a network; at any stack for addresses that were written. */
function targetOf({ group, sources }: End, network: Network): Target {
  const standing = network.stacks.filter((stack) => stack.interfaces.some((leg) => group.interfaces.includes(leg.id)));
  const parties = group.parties.map((party) => party.stack);
  return {
    addresses: group.addresses,
    interfaces: group.interfaces,
    stacks: sources === undefined ? [...new Set([...parties, ...standing.map((stack) => stack.id)])] : [],
    segments: group.segments,
    upstreams: group.upstreams,
  };
}

// -- which packets -----------------------------------------------------------------------------------------------

function packetsOf(assertion: ReachAssertion, from: End): Alternatives {
  const origin: Origin = { by: "written", span: assertion.span };
  const sources: Match = from.sources === undefined ? [] : [{ field: "source", within: from.sources, origin }];
  if (assertion.service === undefined) return [sources];
  return assertion.service.value.map(({ value, span }) => [
    ...sources,
    ...conditionsOf(value, { by: "written", span }),
  ]);
}

/** The packets of a service as conditions. */
function conditionsOf(service: Service, origin: Origin): Condition[] {
  if (service.protocol === undefined) return [];
  const one = (field: "protocol" | "icmpType" | "icmpCode", value: number): Condition => ({
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

function judge(found: Proofs, from: End, to: End, assertion: ReachAssertion, context: CheckContext): Finding {
  for (const [world, proof] of found.proofs) {
    const [breach] = proof.reached;
    if (breach !== undefined) return breachFinding(breach, world, { from, to, assertion }, context);
  }
  for (const [, { undecided }] of found.proofs) {
    if (undecided !== undefined) return undecidedFinding(undecided, assertion);
  }
  if (found.limit !== undefined) return undecidedFinding({ note: found.limit }, assertion);
  const cut = assertion.evenIf?.value === "cut-off" ? undefined : cutOff(from, context);
  if (cut !== undefined) return cutFinding(cut, from, to);
  const [first] = found.proofs;
  if (first === undefined) throw new Error("a network with no world at all");
  return passedFinding(first[1], from, to, context);
}

type Asked = { readonly from: End; readonly to: End; readonly assertion: ReachAssertion };

function breachFinding(breach: FateClass, world: World, { from, to }: Asked, context: CheckContext): Finding {
  const packet = packetOf(breach.witness, breach.sentAt, breach.before);
  const picks = [...world.picks, ...breach.picks];
  const when = picks.length === 0 ? "" : ` when ${tellPicks(picks)}`;
  const headline = `${from.label} reaches ${to.label}: ${packet.service} to ${packet.destination} ${tellFate(breach.fate, context.names)}${when}`;
  return {
    status: "failed",
    by: "proof",
    headline,
    decidedBy: blameFor(breach, context),
    witness: packet,
    picks,
    path: tellPath(breach.path, context.names),
    repeat: [from.label, to.label, packet.service],
  };
}

function undecidedFinding(
  undecided: { readonly limit?: number; readonly note?: string; readonly origin?: Origin },
  assertion: ReachAssertion,
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

function cutFinding(cut: { readonly text: string; readonly origin: Origin }, from: End, to: End): Finding {
  return {
    status: "vacuous",
    by: "proof",
    headline: `nothing gets from ${from.label} to ${to.label}, but only because ${cut.text}`,
    help: "mend that first; where it is meant, say `even-if: cut-off`",
    decidedBy: [{ origin: cut.origin, text: cut.text }],
  };
}

function passedFinding(proof: ConfirmedProof, from: End, to: End, context: CheckContext): Finding {
  const { nearest } = proof;
  const deciders = decidersOf(nearest === undefined ? proof.stopped : [nearest, ...proof.stopped], context);
  const why = nearest === undefined ? "nothing there can be addressed" : tellFate(nearest.fate, context.names);
  return {
    status: "passed",
    by: "proof",
    headline: `no packet gets from ${from.label} to ${to.label}; nearest: ${why}`,
    decidedBy: deciders.slice(0, 1),
    restsOn: deciders,
    ...(nearest === undefined
      ? {}
      : {
          witness: packetOf(nearest.witness, nearest.sentAt, nearest.before),
          path: tellPath(nearest.path, context.names),
        }),
  };
}

/** What stopped these classes, each line once, in order. */
function decidersOf(classes: readonly FateClass[], context: CheckContext): Evidence[] {
  const seen = new Set<string>();
  return classes.flatMap(({ fate }) => {
    const { file, start, end } = fate.origin.span;
    const text = tellFate(fate, context.names);
    const key = `${file}:${start}:${end}:${text}`;
    if (seen.has(key)) return [];
    seen.add(key);
    return [{ origin: fate.origin, text }];
  });
}
