/**
 * `lease`: what a client is handed, in every outcome: address, router, resolvers, and by whom.
 */
import { formatAddress, keyAddress } from "../address/index.ts";
import type { Origin, Span } from "../diagnose/index.ts";
import type { AddressOrName, LeaseAssertion, Located, NameReference } from "../document/index.ts";
import { directoryOf, type Evaluation, type World } from "../evaluate/index.ts";
import { deviceOf, type Id, type Interface, idOf, type Lease, type Network } from "../network/index.ts";
import { tellPicks } from "../result/index.ts";
import type { CheckContext, Finding } from "./context.ts";
import { reasonsWithoutLease, strayReason } from "./lease-reason.ts";
import { routerLine } from "./rest.ts";
import { withModes } from "./unlike-bonds.ts";

type Fault = {
  readonly text: string;
  readonly origins: readonly Origin[];
  /** What nobody knows, where that decides. */
  readonly unknown?: string;
};

/** Judges a `lease` assertion. */
export function checkLease(assertion: LeaseAssertion, context: CheckContext): Finding {
  const { network } = context.evaluation;
  noteNames(assertion, context.evaluation);
  const client = assertion.lease.client.value;
  const legs = waitingLegs(network, client);
  const name = client.part === undefined ? client.name : `${client.name}/${client.part}`;
  for (const { id } of legs) context.evaluation.footprint.leases.add(id);
  if (legs.length === 0) return notWaiting(assertion.lease.client.span, name);
  const { worlds, limit } = context.evaluation.worlds();
  const faults = worlds.flatMap((world) =>
    legs.flatMap((leg) => {
      const fault = faultIn(world, leg, assertion, context);
      return fault === undefined ? [] : [{ fault, world }];
    }),
  );
  const shown = faults.find(({ fault }) => fault.unknown === undefined) ?? faults[0];
  if (shown !== undefined) return failed(shown.fault, shown.world, name);
  return limit === undefined ? passed(worlds, legs, name) : undecided(limit, assertion.span);
}

/** Who is named: their interfaces, and the addresses of these. */
function noteNames({ lease: { client, router, resolvers } }: LeaseAssertion, { footprint, network }: Evaluation): void {
  const listed = resolvers?.value.by === "list" ? resolvers.value.items : [];
  const named = [client, ...(router === undefined ? [] : [router]), ...listed].map(({ value }) => value);
  for (const reference of named) {
    const stack = reference.by === "name" ? directoryOf(network).stackAt.get(idOf(reference.name)) : undefined;
    if (stack !== undefined) footprint.stack(stack.id);
  }
}

function undecided(limit: string, span: Span): Finding {
  const headline = `nobody can tell: ${limit}`;
  const decidedBy = [{ origin: { by: "written", span } as const, text: limit }];
  return { status: "undecided", by: "simulation", headline, decidedBy, limit };
}

/** The interfaces of the client that ask for a lease. */
export function waitingLegs(network: Network, client: NameReference): readonly Interface[] {
  const stack = network.stacks.find((candidate) => candidate.device === idOf(client.name));
  const legs = stack?.interfaces.filter((leg) => leg.awaits.some((wait) => wait.from === "lease")) ?? [];
  return client.part === undefined ? legs : legs.filter((leg) => leg.id === idOf(client.name, client.part ?? ""));
}

function notWaiting(span: Span, name: string): Finding {
  const text = `${name} asks for no lease`;
  return {
    status: "vacuous",
    by: "simulation",
    headline: text,
    decidedBy: [{ origin: { by: "written", span }, text }],
  };
}

function failed(fault: Fault, world: World, name: string): Finding {
  const when = world.picks.length === 0 ? "" : ` when ${tellPicks(world.picks)}`;
  return {
    status: fault.unknown === undefined ? "failed" : "undecided",
    by: "simulation",
    headline: `${name}: ${fault.text}${when}`,
    decidedBy: fault.origins.map((origin) => ({ origin, text: fault.text })),
    picks: world.picks,
    ...(fault.unknown === undefined ? {} : { limit: fault.unknown }),
  };
}

function passed(worlds: readonly World[], legs: readonly Interface[], name: string): Finding {
  const [leg] = legs;
  const binding = leg === undefined ? undefined : bindingOf(worlds[0], leg.id);
  const text =
    binding === undefined
      ? `${name} gets no lease, as it should`
      : `${name} gets ${formatAddress({ family: 4, value: binding.value })} from ${deviceOf(binding.server)}`;
  return {
    status: "passed",
    by: "simulation",
    headline: text,
    decidedBy: binding === undefined ? [] : [{ origin: binding.origin, text }],
  };
}

function bindingOf(world: World | undefined, leg: Id): Lease | undefined {
  return world?.settled.bindings.find((binding): binding is Lease => binding.interface === leg && binding.family === 4);
}

// -- what is expected --------------------------------------------------------------------------------------------

function otherThan(first: bigint, last: bigint): string {
  return first === last ? `not ${told(first)}` : `outside ${told(first)}-${told(last)}`;
}

function faultIn(world: World, leg: Interface, { lease }: LeaseAssertion, context: CheckContext): Fault | undefined {
  const { network } = context.evaluation;
  const binding = bindingOf(world, leg.id);
  const expected = lease.address?.value;
  if (expected?.by === "none")
    return binding === undefined
      ? notKnown(world, leg, network)
      : fault(`gets ${told(binding.value)}, and should get none`, binding);
  if (binding === undefined) return withoutLease(world, leg, network, expected?.first);
  if (expected !== undefined && (binding.value < expected.first || binding.value > expected.last)) {
    const outside = fault(`gets ${told(binding.value)}, ${otherThan(expected.first, expected.last)}`, binding);
    const stray = strayReason(binding, expected.first, { network, settled: world.settled });
    return stray === undefined ? outside : { ...outside, origins: [stray, ...outside.origins] };
  }
  return (
    routerFault(binding, lease.router, network) ??
    resolverFault(binding, lease, network) ??
    serverFault(binding, lease.server)
  );
}

/** That no lease comes is certain only where nothing unknown decides it. */
function notKnown(world: World, leg: Interface, network: Network): Fault | undefined {
  const fault = withoutLease(world, leg, network);
  return fault.unknown === undefined ? undefined : fault;
}

function told(value: bigint): string {
  return formatAddress({ family: 4, value });
}

function fault(text: string, { origin }: Pick<Lease, "origin">): Fault {
  return { text, origins: [origin] };
}

function withoutLease(world: World, leg: Interface, network: Network, wanted?: bigint): Fault {
  const failure = world.failures.find((each) => each.interface === leg.id);
  const because = failure === undefined || failure.because.length === 0 ? [leg.origin] : failure.because;
  const origins = [...reasonsWithoutLease(leg.id, { network, settled: world.settled }, wanted), ...because].map(
    (origin) => withModes(origin, network),
  );
  const text = `gets no lease: ${failure?.text ?? "no server answers"}`;
  return { text, origins, ...(failure?.unknown === undefined ? {} : { unknown: failure.unknown }) };
}

function routerFault(binding: Lease, router: LeaseAssertion["lease"]["router"], network: Network): Fault | undefined {
  if (router === undefined) return undefined;
  const given = binding.routes.find((route) => route.length === 0)?.via;
  const line = given === undefined ? undefined : routerLine(binding.server, given, network);
  const at = line === undefined ? binding : { origin: line };
  if (router.value.by === "none")
    return given === undefined ? undefined : fault(`is told the router ${told(given)}, and should be told none`, at);
  const wanted = addressesNamed(router.value, network);
  if (given !== undefined && wanted.includes(given)) return undefined;
  const is = given === undefined ? "no router" : `the router ${told(given)}`;
  return fault(`is told ${is}, not ${wanted.map(told).join(" or ")}`, at);
}

function resolverFault(binding: Lease, lease: LeaseAssertion["lease"], network: Network): Fault | undefined {
  const expected = lease.resolvers?.value;
  if (expected === undefined) return undefined;
  const given = binding.resolvers.map((key) => formatAddress(keyAddress(key)));
  const wanted =
    expected.by === "none"
      ? []
      : expected.items.map((item: Located<AddressOrName>) => addressesNamed(item.value, network).map(told));
  const fits = given.length === wanted.length && wanted.every((options, index) => options.includes(given[index] ?? ""));
  return fits
    ? undefined
    : fault(
        `is told the resolvers ${given.join(", ") || "none"}, not ${wanted.map((options) => options.join(" or ")).join(", ") || "none"}`,
        binding,
      );
}

function serverFault(binding: Lease, server: Located<NameReference> | undefined): Fault | undefined {
  if (server === undefined || deviceOf(binding.server) === server.value.name) return undefined;
  return fault(`is answered by ${deviceOf(binding.server)}, not ${server.value.name}`, binding);
}

/** IPv4 addresses that a name or an address stands for. */
function addressesNamed(reference: AddressOrName, network: Network): bigint[] {
  if (reference.by === "address") return [reference.value];
  const id = reference.part === undefined ? undefined : idOf(reference.name, reference.part);
  return network.stacks
    .filter((stack) => stack.device === idOf(reference.name))
    .flatMap((stack) => stack.interfaces.filter((leg) => id === undefined || leg.id === id))
    .flatMap((leg) => leg.addresses.filter((address) => address.family === 4).map((address) => address.value));
}
