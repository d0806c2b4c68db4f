/**
 * Empty questions and passes that say nothing (semantics, section 1): a service that nobody serves, and a source that
 * cannot even reach its own gateway, or has none.
 */

import { formatService } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { ReachAssertion } from "../document/index.ts";
import type { World } from "../evaluate/index.ts";
import { deviceOf, type Group, type Network, type SettledStack } from "../network/index.ts";
import { listensOn } from "./assumptions.ts";
import type { CheckContext } from "./context.ts";
import type { End } from "./ends.ts";
import { type Source, sourcesOf } from "./exchange.ts";

/** A sentence when a service of the assertion is served by nobody among the targets. */
export function nobodyServes(assertion: ReachAssertion, to: readonly End[], network: Network): string | undefined {
  for (const { value } of assertion.service?.value ?? []) {
    if (value.protocol === undefined || value.icmp !== undefined || value.protocol === 1 || value.protocol === 58)
      continue;
    const port = value.ports?.[0]?.[0];
    const service = { protocol: value.protocol, ...(port === undefined ? {} : { port: Number(port) }) };
    const deaf = to.find((end) => !isBeyond(end) && !servedBy(end.group, network, service));
    if (deaf !== undefined) return `nobody in \`${deaf.label}\` serves ${formatService(value)}`;
  }
  return undefined;
}

/** Addresses that were written and that no stack of the site owns: the exchange itself shows who answers. */
function isBeyond({ group, sources }: End): boolean {
  return sources !== undefined && group.parties.length === 0;
}

function servedBy(
  group: Group,
  network: Network,
  service: { readonly protocol: number; readonly port?: number },
): boolean {
  if (group.upstreams.length > 0) return true;
  return group.parties.some((party) => listensOn(network, party.stack, service) || runsForwards(network, party.stack));
}

/** A router that forwards a port answers for a host behind it. */
function runsForwards(network: Network, stackId: string): boolean {
  const stack = network.stacks.find((candidate) => candidate.id === stackId);
  return stack?.received.some((step) => step.op === "translate" && hasRules(network, step.table)) === true;
}

function hasRules(network: Network, tableId: string): boolean {
  const table = network.tables.find((candidate) => candidate.id === tableId);
  return table?.kind === "translate" && table.rules.length > 0;
}

/** Why a source is cut off from everything, with the line that cuts it; undefined: one of its hosts reaches its gateway. */
export type CutOff = {
  /** A sentence fragment: who is cut off, and how. */
  readonly text: string;
  /** The line that cuts it. */
  readonly origin: Origin;
};

/** Finds out whether any source of an end reaches its own gateway. */
export function cutOff(end: End, context: CheckContext): CutOff | undefined {
  const { network } = context.evaluation;
  if (end.group.kind === "internet" || end.group.kind === "internet-public") return uplinkWithout(context, end);
  const sources = sourcesOf(end.group, network).filter((source) => !isRouter(source, network));
  if (sources.length === 0) return withoutHosts(end, network);
  const reasons = sources.map((source) => gatewayFault(source, context));
  return reasons.every((reason) => reason !== undefined) ? reasons[0] : undefined;
}

function isRouter(source: Source, network: Network): boolean {
  return network.devices.some((device) => device.id === deviceOf(source.stack) && device.is === "router");
}

/** Nobody declared there: alive when a stack that forwards stands in it and something can be plugged in. */
function withoutHosts(end: End, network: Network): CutOff | undefined {
  if (end.group.kind === "device" || end.group.kind === "host" || end.group.kind === "leg") {
    return end.group.begins.length > 0 ? undefined : none(end, "cannot begin anything");
  }
  const routers = network.stacks.some(
    (stack) =>
      stack.interfaces.some((leg) => end.group.interfaces.includes(leg.id)) &&
      stack.onward.some((step) => step.op === "transmit"),
  );
  return routers && end.group.entrances.length > 0 ? undefined : none(end, "has no host and no gateway");
}

function none(end: End, what: string): CutOff {
  return { text: `\`${end.label}\` ${what}`, origin: { by: "written", span: end.span } };
}

function uplinkWithout(context: CheckContext, end: End): CutOff | undefined {
  const { network } = context.evaluation;
  const { worlds } = context.evaluation.worlds();
  const upstreams = network.stacks.filter((stack) => stack.answersFor === "everywhere");
  const served = worlds.some((world) =>
    world.settled.bindings.some((binding) => upstreams.some((stack) => deviceOf(binding.server) === stack.device)),
  );
  const stated = upstreams.some((stack) => hasStatedCustomer(network, stack.device));
  return served || stated ? undefined : none(end, "gives no uplink of this site an address");
}

/** An interface with a stated address at the other end of an upstream's link. */
function hasStatedCustomer(network: Network, upstream: string): boolean {
  const ports = network.links
    .filter((link) => link.ends.some((port) => deviceOf(port) === upstream))
    .flatMap((link) => link.ends.filter((port) => deviceOf(port) !== upstream));
  return network.stacks.some((stack) =>
    stack.interfaces.some((leg) => ports.includes(leg.on) && leg.addresses.some((address) => address.family === 4)),
  );
}

function gatewayFault(source: Source, context: CheckContext): CutOff | undefined {
  const { worlds } = context.evaluation.worlds(source.up);
  for (const world of worlds) {
    const fault = gatewayFaultIn(source, world, context);
    if (fault !== undefined) return fault;
  }
  return undefined;
}

function gatewayFaultIn(source: Source, world: World, context: CheckContext): CutOff | undefined {
  const stack = world.settled.stacks.find((candidate) => candidate.stack === source.stack);
  const origin = context.evaluation.network.stacks.find((each) => each.id === source.stack)?.origin;
  if (stack === undefined || origin === undefined) throw new Error(`no stack ${source.stack}`);
  const gateways = gatewaysOf(stack);
  if (gateways.length === 0)
    return { text: `${source.label} has no gateway to reach`, origin: leaseOrigin(source, world) ?? origin };
  const faults = gateways.map((gateway) => {
    const { outcomes } = context.evaluation.exchange(world, {
      from: source.stack,
      destination: gateway,
      service: ECHO[gateway.family],
    });
    const lost = outcomes.find(
      ({ result }) =>
        deviceOf(result.fate.at) === deviceOf(source.stack) ||
        UNHEARD.has(result.fate.end === "dropped" ? result.fate.reason : ""),
    );
    return lost?.result.fate;
  });
  const first = faults.find((fault) => fault !== undefined);
  return first === undefined || faults.includes(undefined)
    ? undefined
    : { text: `${source.label} does not even reach its own gateway`, origin: first.origin };
}

const ECHO = {
  4: { protocol: 1, icmp: { type: 8, code: 0 } },
  6: { protocol: 58, icmp: { type: 128, code: 0 } },
} as const;
const UNHEARD: ReadonlySet<string> = new Set([
  "no-neighbour",
  "no-route",
  "not-member",
  "link-down",
  "nobody-connected",
  "no-taker",
  "storm",
]);

function gatewaysOf(stack: SettledStack): { readonly family: 4 | 6; readonly value: bigint }[] {
  return stack.routes.flatMap((route) => {
    if (route.length !== 0 || route.action.do !== "forward") return [];
    return route.action.hops.flatMap((hop) =>
      hop.via === undefined ? [] : [{ family: route.family, value: hop.via }],
    );
  });
}

function leaseOrigin(source: Source, world: World): Origin | undefined {
  return world.failures.find((failure) => source.interfaces.includes(failure.interface))?.because[0];
}
