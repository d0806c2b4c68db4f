/**
 * Empty questions and passes that say nothing (semantics, section 1): a service that nobody serves, and a source that
 * cannot even reach its own gateway, or has none.
 */
import { type Address, type Family, formatService, isLinkLocal, prefixKeys, prefixOf } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { ReachAssertion } from "../document/index.ts";
import { directoryOf, type Evaluation, homesOf, sendersOf, settledStack, type World } from "../evaluate/index.ts";
import {
  type DropReason,
  deviceOf,
  type Fate,
  type Group,
  type InterfaceAddress,
  type Network,
  type Settled,
  type SettledStack,
  type Stack,
} from "../network/index.ts";
import { listensOn, stoppedFor, type Wanted } from "./assumptions.ts";
import type { CheckContext } from "./context.ts";
import { type End, isInternet } from "./ends.ts";
import type { Source } from "./exchange.ts";
import { isFailureOf, isReachableOver } from "./families.ts";
import { reasonsWithoutLease } from "./lease-reason.ts";
import { lostSsid } from "./lost-network.ts";
import { reasonsFor } from "./reason.ts";
import { namingLine, ownersOf, type Place } from "./rest.ts";
import { withModes } from "./unlike-bonds.ts";
import { askedSources, vouchedFor } from "./vouched.ts";

/** A sentence when a service of the assertion is served by nobody among the targets; one that was stopped is served by the plan. */
export function nobodyServes(
  assertion: ReachAssertion,
  to: readonly End[],
  { network, footprint }: Evaluation,
): string | undefined {
  for (const { value } of assertion.service?.value ?? []) {
    if (value.protocol === undefined || value.icmp !== undefined || value.protocol === 1 || value.protocol === 58)
      continue;
    const service = { protocol: value.protocol, ...(value.ports === undefined ? {} : { ports: value.ports }) };
    for (const { group } of to) for (const { stack } of group.parties) footprint.listeners(stack);
    const deaf = to.find((end) => !isBeyond(end) && !servedBy(end.group, network, service));
    if (deaf !== undefined) return `nobody in \`${deaf.label}\` serves ${formatService(value)}`;
  }
  return undefined;
}

/** Addresses that were written and that no stack of the site owns: the exchange itself shows who answers. */
function isBeyond({ group, addresses }: End): boolean {
  return addresses !== undefined && group.parties.length === 0;
}

function servedBy(group: Group, network: Network, service: Wanted): boolean {
  if (group.upstreams.length > 0) return true;
  return group.parties.some(
    ({ stack }) =>
      listensOn(network, stack, service) ||
      stoppedFor(network, stack, service) !== undefined ||
      runsForwards(network, stack),
  );
}

/** A router that forwards a port answers for a host behind it. */
function runsForwards(network: Network, stackId: string): boolean {
  const stack = directoryOf(network).stacks.get(stackId);
  return stack?.received.some((step) => step.op === "translate" && hasRules(network, step.table)) === true;
}

function hasRules(network: Network, tableId: string): boolean {
  const table = network.tables.find((candidate) => candidate.id === tableId);
  return table?.kind === "translate" && table.rules.length > 0;
}

/** Why a question is empty, or a source cut off, with the line that makes it so. */
export type CutOff = {
  /** A sentence fragment: who is cut off, and how. */
  readonly text: string;
  /** The line that cuts it. */
  readonly origin: Origin;
  /** What nobody knows, where that decides. */
  readonly unknown?: string;
  /** What to do, where that is no matter of mending anything. */
  readonly help?: string;
  /** Somebody is there, and nobody who might send: `even-if: cut-off` is said of it. Default: there is nobody, and nothing is said. */
  readonly isCutOff?: true;
};

/** An end of a `blocked` assertion that nothing can begin in, or that nothing belongs to; `only`: the version of IP that is asked alone. */
export function emptyEnd(from: End, to: End, evaluation: Evaluation, only?: Family): CutOff | undefined {
  const { network } = evaluation;
  const { entrances, vouched } = from.group;
  const isSilent = sendersOf(from.group, network).length === 0 && entrances.length === 0;
  if (isSilent && vouched.length === 0) return because(from, withoutAnybody(from), lostSsid(from.group, network));
  const { addresses, interfaces, segments, upstreams } = to.group;
  if (isInternet(to) && upstreams.length === 0) return because(to, "is nowhere: there is no upstream");
  const isNothing = [addresses, interfaces, segments, upstreams].every((each) => each.length === 0);
  if (isNothing) return because(to, "holds nothing that could be reached");
  const isMute = only !== undefined && !isReachableOver(to.group, only, evaluation);
  if (isMute) return because(to, `holds nothing that IPv${only} could reach`);
  return isSilent ? nobodyLeft(from) : undefined;
}

/** Whoever could send there is trusted not to. */
function nobodyLeft(from: End): CutOff | undefined {
  const [first, ...more] = vouchedFor(from.group);
  if (first === undefined) return undefined;
  const others = more.length === 0 ? "" : `, and ${more.length} more likewise`;
  const [host] = from.group.vouched;
  return {
    ...because(from, `has nobody left who might send: ${first.text}${others}`, first.origin),
    help: `name whom you mean: \`from: ${host?.device}\` asks what that host might send; where it is meant, say \`even-if: cut-off\``,
    isCutOff: true,
  };
}

function withoutAnybody({ group }: End): string {
  const isHost = group.kind === "host" || group.kind === "device";
  return isHost ? "has no leg to send by" : "has no host, and nothing can be plugged in";
}

/** Finds out whether no source of an end reaches its own gateway; `only`: one of that version of IP. */
export function cutOff(end: End, context: CheckContext, only?: Family): CutOff | undefined {
  if (isInternet(end)) return withoutUplink(end, context, only);
  const { network } = context.evaluation;
  const declared = askedSources(end, network);
  const sources = declared.filter((source) => !isManaged(source, network));
  if (sources.length === 0)
    return end.addresses === undefined && declared.length > 0 ? undefined : withoutHosts(end, context);
  const reasons = sources.map((source) => gatewayFault(source, context, only));
  return reasons.every((reason) => reason !== undefined) ? reasons[0] : undefined;
}

/** Routers have routes of their own, and upstreams stand for a world of hosts. */
function isManaged(source: Source, network: Network): boolean {
  const device = directoryOf(network).devices.get(deviceOf(source.stack));
  return device?.is === "router" || device?.is === "upstream";
}

/** Nobody declared there: alive when a stack that forwards stands in it and something can be plugged in. */
function withoutHosts(end: End, context: CheckContext): CutOff | undefined {
  const { network } = context.evaluation;
  if (end.addresses !== undefined && homesOf(end.addresses, network).some(({ kind }) => kind === "internet"))
    return undefined;
  // Whose homes these are rests on all groups, which was noted with the addresses.
  const homes = end.addresses === undefined ? [end.group] : homesOf(end.addresses, network);
  for (const { interfaces } of homes) for (const leg of interfaces) context.evaluation.footprint.wiring(leg);
  const routed = network.stacks.some(
    (stack) =>
      stack.interfaces.some((leg) => homes.some(({ interfaces }) => interfaces.includes(leg.id))) &&
      stack.onward.some((step) => step.op === "transmit"),
  );
  if (routed && end.group.entrances.length > 0) return undefined;
  const [trusted] = vouchedFor(end.group);
  const but = trusted === undefined ? "" : `; ${trusted.text}`;
  return because(end, `has no host${but === "" ? "" : " that is asked"} and no gateway${but}`);
}

function because(end: End, what: string, origin: Origin = { by: "written", span: end.span }): CutOff {
  return { text: `\`${end.label}\` ${what}`, origin };
}

/** Nothing begins in an internet that gives no uplink of the site an address; `only`: one of that version of IP. */
export function withoutUplink(end: End, { evaluation }: CheckContext, only?: Family): CutOff | undefined {
  if (!isInternet(end)) return undefined;
  const { network } = evaluation;
  const upstreams = network.stacks.filter((stack) => stack.answersFor === "everywhere");
  noteUpstreams(upstreams, evaluation);
  const hasCustomer = evaluation
    .worlds()
    .worlds.some(({ settled }) => upstreams.some((stack) => hasCustomerAt(stack, settled, network, only)));
  return hasCustomer
    ? undefined
    : because(end, `gives no uplink of this site an${only === undefined ? "" : ` IPv${only}`} address`);
}

/** Who is a customer rests on the upstreams, their links, and who has an address in their prefixes. */
function noteUpstreams(upstreams: readonly Stack[], evaluation: Evaluation): void {
  const { footprint, network } = evaluation;
  for (const { id, device, interfaces } of upstreams) {
    footprint.stack(id);
    for (const leg of interfaces) footprint.wiring(leg.id);
    for (const port of network.ports) if (port.device === device) footprint.wiring(port.id);
    for (const { settled } of evaluation.worlds().worlds) {
      const near = settledStack(settled, id)?.interfaces.flatMap(({ addresses }) => addresses) ?? [];
      for (const address of near) footprint.owners([prefixKeys(prefixOf(address, address.prefixLength))]);
    }
  }
}

/** An interface with an address at the other end of an upstream's link or session, or in its prefix. */
function hasCustomerAt(upstream: Stack, settled: Settled, network: Network, only: Family | undefined): boolean {
  const far = network.links.flatMap(({ ends }) =>
    ends.some((port) => deviceOf(port) === upstream.device) ? ends : [],
  );
  const near = settledStack(settled, upstream.id)?.interfaces.flatMap(({ addresses }) => addresses) ?? [];
  return network.stacks.some(
    (stack) =>
      stack.id !== upstream.id &&
      stack.interfaces.some((leg) => {
        const atRest = settledStack(settled, stack.id)?.interfaces.find(({ interface: id }) => id === leg.id);
        if (only === 6 && leg.delegated !== undefined && deviceOf(leg.delegated.from) === upstream.device) return true;
        const own =
          atRest?.addresses.filter((each) => !isLinkLocal(each) && (only === undefined || each.family === only)) ?? [];
        const inSession = atRest?.peers?.some((id) => deviceOf(id) === upstream.device) === true;
        return (
          own.length > 0 &&
          (inSession || far.includes(leg.on) || own.some((one) => near.some((two) => isOnLink(one, two))))
        );
      }),
  );
}

function isOnLink(one: InterfaceAddress, two: InterfaceAddress): boolean {
  if (one.family !== two.family || one.prefixLength !== two.prefixLength) return false;
  const host = (one.family === 4 ? 32n : 128n) - BigInt(one.prefixLength);
  return one.value >> host === two.value >> host;
}

function gatewayFault(source: Source, context: CheckContext, only: Family | undefined): CutOff | undefined {
  const { worlds } = context.evaluation.worlds(source.up);
  for (const world of worlds) {
    const fault = gatewayFaultIn(source, world, context, only);
    if (fault !== undefined) return fault;
  }
  return undefined;
}

function gatewayFaultIn(
  source: Source,
  world: World,
  { evaluation }: CheckContext,
  only: Family | undefined,
): CutOff | undefined {
  const stack = settledStack(world.settled, source.stack);
  if (stack === undefined) throw new Error(`no stack ${source.stack}`);
  const hops = defaultHops(stack, only);
  if (hops.length === 0) return withoutGateway(source, world, evaluation, only);
  const faults = hops.map((gateway) => {
    if (gateway === "on-link") return undefined;
    const request = { from: source.stack, destination: gateway, service: ECHO[gateway.family] };
    const { outcomes } = evaluation.exchange(world, request);
    return outcomes.find(({ result }) => isUnheard(result.fate, source))?.result;
  });
  const [first] = faults;
  if (first === undefined || faults.includes(undefined)) return undefined;
  const place = { network: evaluation.network, settled: world.settled };
  const [reason = first.fate.origin] = [
    ...reasonsFor(first, place),
    ...namedInVain(stack, first.request.destination, place),
    ...first.decidedBy,
  ];
  const origin = withModes(reason, evaluation.network);
  return { text: `${source.label} does not even reach its own gateway`, origin };
}

function withoutGateway(
  source: Source,
  { failures, settled }: World,
  { network, footprint }: Evaluation,
  only: Family | undefined,
): CutOff {
  const lease = failures.find(
    (failure) => source.interfaces.includes(failure.interface) && (only === undefined || isFailureOf(failure, only)),
  );
  for (const leg of source.interfaces) footprint.leases.add(leg);
  const reasons =
    lease === undefined ? [] : [...reasonsWithoutLease(lease.interface, { network, settled }), ...lease.because];
  const origin =
    reasons.map((line) => withModes(line, network))[0] ?? network.stacks.find(({ id }) => id === source.stack)?.origin;
  if (origin === undefined) throw new Error(`no stack ${source.stack}`);
  const unknown = lease?.unknown === undefined ? {} : { unknown: lease.unknown };
  const gateway = only === undefined ? "gateway" : `gateway of IPv${only}`;
  return { text: `${source.label} has no ${gateway} to reach`, origin, ...unknown };
}

/** The line that names a gateway which nobody is. */
function namedInVain(stack: SettledStack, gateway: Address, place: Place): readonly Origin[] {
  if (ownersOf(gateway, place.settled).length > 0) return [];
  const way = stack.routes
    .filter(({ length, family }) => length === 0 && family === gateway.family)
    .flatMap(({ action, origin }) => {
      const hop = action.do === "forward" ? action.hops.find(({ via }) => via === gateway.value) : undefined;
      return hop === undefined ? [] : [{ origin, egress: hop.egress, hop: gateway, isRouted: true }];
    });
  return way.slice(0, 1).map((each) => namingLine(each, place));
}

function isUnheard(fate: Fate, source: Source): boolean {
  return deviceOf(fate.at) === deviceOf(source.stack) || (fate.end === "dropped" && UNHEARD.has(fate.reason));
}

const ECHO = {
  4: { protocol: 1, icmp: { type: 8, code: 0 } },
  6: { protocol: 58, icmp: { type: 128, code: 0 } },
} as const;
/** Ends of a packet that its gateway never got. */
const UNHEARD: ReadonlySet<DropReason> = new Set([
  "no-neighbour",
  "no-route",
  "not-member",
  "link-down",
  "nobody-connected",
  "no-taker",
  "storm",
]);

/** Where default routes lead; on a link without a next hop nobody can be asked. */
function defaultHops({ routes }: SettledStack, only: Family | undefined): (Address | "on-link")[] {
  return routes.flatMap(({ length, family, action }) => {
    if (length !== 0 || action.do !== "forward" || (only !== undefined && family !== only)) return [];
    return action.hops.map(({ via }) => (via === undefined ? ("on-link" as const) : { family, value: via }));
  });
}
