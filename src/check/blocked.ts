/**
 * `blocked`: no packet that the source begins, whatever addresses and tags it chooses, reaches a stack at the far end
 * or is put on a segment of it. Proved over all packets; a failure is a packet that gets through, a pass names what
 * blocks and shows the packet that got furthest.
 */
import {
  addressKey,
  formatAddress,
  formatServices,
  isLinkLocal,
  keyAddress,
  rangesOf,
  unionRanges,
} from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { directoryOf, UNTRIED } from "../evaluate/index.ts";
import type { FateClass, Id, Network, PathStep } from "../network/index.ts";
import { eachOnce, groundOf, nameAt, packetOf, type Support, tellFate, tellPath, tellPicks } from "../result/index.ts";
import { delegatedAmong } from "./assumptions.ts";
import { blameFor, helpBetween } from "./blame.ts";
import { type CheckContext, type Finding, worstAmong } from "./context.ts";
import type { Demand } from "./demands.ts";
import { type End, type EndPair, isInternet } from "./ends.ts";
import { cellFamily, onlyFamily } from "./families.ts";
import { type Asked, assumedOfOpen, goingOnFinding, keepOpen } from "./open-before.ts";
import { type Proofs, type Proved, pairsOf, proofsOf } from "./proofs.ts";
import { helpByStrongHost } from "./strong.ts";
import { type CutOff, cutOff, emptyEnd } from "./vacuous.ts";
import { helpAtCable, noteOfNamed, vouchedFor } from "./vouched.ts";

/** Judges a `blocked` assertion between these ends. */
export function checkBlocked(assertion: Demand, ends: EndPair, context: CheckContext): Finding {
  const finding = blockedBy(assertion, ends, context);
  const help = helpByStrongHost(finding, context, (other) => blockedBy(assertion, ends, other));
  return help === undefined ? finding : { ...finding, help };
}

function blockedBy(assertion: Demand, ends: EndPair, context: CheckContext): Finding {
  const findings = pairsOf(ends).map(([from, to]) => blockedBetween({ assertion, from, to, context }));
  if (findings.length === 0) return vacuousFinding(itself(assertion));
  return {
    ...worstAmong(findings),
    restsOn: eachOnce(findings.flatMap(({ restsOn = [] }) => restsOn)),
    assumptions: [
      ...new Set([
        ...[...ends.from, ...ends.to].flatMap((end) => assumedOf(end, context)),
        ...findings.flatMap(({ assumptions = [] }) => assumptions),
        ...ends.from.flatMap(({ group }) => vouchedFor(group).map(({ text }) => text)),
      ]),
    ],
    cells: findings.flatMap(({ cells = [] }) => cells),
  };
}

function itself({ span }: Demand): CutOff {
  return { text: "both ends are the same device", origin: { by: "written", span } };
}

/** Of the internet no prefix is meant but what is beyond the upstreams. */
function assumedOf(end: End, { evaluation }: CheckContext): string[] {
  if (isInternet(end) || directoryOf(evaluation.network).delegated.length === 0) return [];
  const legs = new Set(end.group.interfaces);
  const { worlds } = evaluation.worlds();
  const held = worlds.flatMap(({ settled }) =>
    settled.stacks.flatMap(({ interfaces }) =>
      interfaces.filter((leg) => legs.has(leg.interface)).flatMap(({ addresses }) => addresses.map(addressKey)),
    ),
  );
  const isLost = (id: Id): boolean =>
    worlds.every(({ settled: { undelegated = [] } }) => undelegated.some((lack) => lack.interface === id));
  return delegatedAmong(unionRanges(end.group.addresses, rangesOf(held)), evaluation.network, isLost);
}

function blockedBetween(asked: Asked): Finding {
  const { assertion, from, to } = asked;
  const only = onlyFamily(assertion.family?.value);
  const empty = emptyEnd(from, to, asked.context.evaluation, only);
  const finding = empty === undefined ? judge(proofsOf(asked), asked) : emptyFinding(empty, asked);
  const expect = assertion.permitted === undefined ? ("blocked" as const) : ("only" as const);
  const { status } = finding;
  const cell = { from: from.label, to: to.label, service: questioned(assertion), ...cellFamily(only) };
  return { ...finding, cells: [{ ...cell, expect, status }] };
}

/** The packets under question, in words. */
function questioned({ service, permitted }: Demand): string {
  if (service !== undefined) return formatServices(service.value);
  return permitted === undefined ? "every packet" : `all but ${formatServices(permitted.value)}`;
}

// -- the verdict -------------------------------------------------------------------------------------------------

function judge(found: Proofs, asked: Asked): Finding {
  for (const proved of found.proofs) {
    const [first] = proved.proof.reached;
    if (first === undefined) continue;
    keepOpen(
      asked,
      found.proofs.flatMap(({ proof }) => proof.reached),
    );
    const { world, question } = proved;
    return breachFinding(asked.context.evaluation.smallest(world, question) ?? first, proved, asked);
  }
  const open = goingOnFinding(asked);
  if (open !== undefined) return open;
  for (const {
    proof: { undecided },
  } of found.proofs) {
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

function breachFinding(breach: FateClass, { world, isLed }: Proved, { assertion, from, to, context }: Asked): Finding {
  const packet = packetOf(breach);
  const picks = [...world.picks, ...breach.picks];
  const when = picks.length === 0 ? "" : ` when ${tellPicks(picks)}`;
  const leaders = isLed ? leadersOn(breach.path, context) : [];
  // What belongs to a connection is led as that was, by no rule of its own.
  const forwarded = leaders.length === 0 ? ", led as its connection was," : `, forwarded by ${leaders.join(" and ")},`;
  const led = isLed ? forwarded : "";
  const fate = tellFate(breach.fate, context.names, breach.path);
  const { permitted } = assertion;
  const blamed = { reached: breach, isFromOne: isOneHost(from), settled: world.settled };
  const { network } = context.evaluation;
  const help = [
    noteOfNamed(breach, from, network, world.settled) ?? noteOfLink(breach, from),
    helpAtCable(breach, from.group, network) ?? helpBetween(blamed, context),
  ].filter((text) => text !== undefined);
  const besides = permitted === undefined ? "" : `besides ${formatServices(permitted.value)}, `;
  return {
    status: "failed",
    by: "proof",
    headline: `${besides}a packet from ${from.label} gets to ${to.label}: ${packet.service} to ${packet.destination}${led} ${fate}${when}`,
    decidedBy: blameFor(blamed, context),
    ...(help.length === 0 ? {} : { help: help.join("; ") }),
    witness: packet,
    picks,
    path: tellPath(breach.path, context.names),
  };
}

/** What has a source of one link alone comes from nowhere but the link of the uplink itself: no router sends it on. */
function noteOfLink({ witness, sentAt }: FateClass, from: End): string | undefined {
  const source = new Map(witness.numbers).get("source");
  if (!isInternet(from) || source === undefined) return undefined;
  const address = keyAddress(source);
  const isOfLink = address.family === 6 && (isLinkLocal(address) || address.value === 0n);
  return isOfLink
    ? `only somebody on the link at ${sentAt} itself, such as a neighbour there, can send it: no router forwards a packet from ${formatAddress(address)} (RFC 4291 section 2.5)`
    : undefined;
}

/** The translations of destinations on a way, by their names. */
function leadersOn(path: readonly PathStep[], { evaluation: { network }, names }: CheckContext): readonly string[] {
  const { stacks } = directoryOf(network);
  const steps = path.filter(({ did, at, detail }) => {
    const stack = did === "translate" ? stacks.get(at) : undefined;
    const sequences = stack === undefined ? [] : [...stack.received, ...stack.sent];
    return sequences.some(
      (step) => step.op === "translate" && step.end === "destination" && holds(step.table, detail, network),
    );
  });
  return [...new Set(steps.map(({ origin }) => nameAt(origin, names) ?? "a translation"))];
}

function holds(table: Id, rule: Id, { tables }: Network): boolean {
  return tables.some(
    (each) => each.id === table && each.kind === "translate" && each.rules.some(({ id }) => id === rule),
  );
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

/** Of a source in which nobody but trusted hosts is nothing gets anywhere; with `even-if: cut-off` that is enough. */
function emptyFinding(empty: CutOff, { assertion, from, to }: Asked): Finding {
  if (empty.isCutOff !== true || assertion.evenIf === undefined) return vacuousFinding(empty);
  const { text, origin } = empty;
  return {
    status: "passed",
    by: "proof",
    headline: `nothing gets from ${from.label} to ${to.label}: ${text}`,
    decidedBy: [{ origin, text }],
    restsOn: vouchedFor(from.group),
  };
}

function vacuousFinding({ text, origin, help }: CutOff): Finding {
  const headline = `nothing is asked: ${text}`;
  return {
    status: "vacuous",
    by: "proof",
    headline,
    decidedBy: [{ origin, text }],
    ...(help === undefined ? {} : { help }),
  };
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
  const { nearest } = first.proof;
  const shown = decidersOf(stoppedIn(proofs), context);
  const untried = proofs.flatMap(({ proof }) => proof.untried);
  const others = eachOnce([...shown, ...decidersOf(untried, context)]).slice(shown.length);
  const deciders = [...shown, ...others.map((each) => ({ ...each, text: `${each.text} (${UNTRIED})` }))];
  const vouched = vouchedFor(from.group);
  const why =
    nearest === undefined ? "nothing there can be addressed" : tellFate(nearest.fate, context.names, nearest.path);
  return {
    status: "passed",
    by: "proof",
    headline: `no ${packet} gets from ${from.label} to ${to.label}; what gets furthest: ${why}`,
    decidedBy: deciders.slice(0, 1),
    restsOn: [...deciders, ...vouched],
    ...(nearest === undefined
      ? {}
      : {
          witness: packetOf(nearest),
          path: tellPath(nearest.path, context.names, nearest.fate),
        }),
  };
}

/** Classes that were stopped, the one that got furthest first. */
function stoppedIn(proofs: readonly Proved[]): readonly FateClass[] {
  return proofs.flatMap(({ proof: { nearest, stopped } }) => [...(nearest === undefined ? [] : [nearest]), ...stopped]);
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
