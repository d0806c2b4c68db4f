/**
 * Advertisements at rest (RFC 4861 section 6.2.4): every advertiser speaks to its link, unasked, and each interface that
 * waits makes what it hears into addresses, routes and resolvers (RFC 4862). Rules of both ends may stop them.
 */
import type { Address, Prefix } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import {
  type Advertise,
  type AdvertisedBinding,
  type Awaits,
  type Choice,
  deviceOf,
  type Id,
  type Interface,
  joinIds,
  type Network,
  type Pick as Picked,
  type Route,
  type Service,
  type Settled,
  splitIds,
  type Undelegated,
} from "../network/index.ts";
import {
  type AutoconfigurationState,
  advertisementOf,
  NEW_AUTOCONFIGURATION,
  stepAutoconfiguration,
} from "../protocol/index.ts";
import { lackOf, makeChoice, taken } from "../settle/index.ts";
import type { IpPacket, RouterAdvertisement } from "../wire/index.ts";
import { askersIn, failureBy } from "./delegations.ts";
import { gapBetween } from "./gap.ts";
import { type Journey, rankOf } from "./journal.ts";
import { nowMs } from "./memory.ts";
import { discoveryPacket, isLinkScope } from "./packets.ts";
import type { InterfacePlan, Plan, StackPlan } from "./plan.ts";
import type { BindingFailure, SimulationOptions } from "./results.ts";
import { LIMIT_EVENTS, newWorld, runWorld } from "./run-world.ts";
import { withoutSession } from "./session-lease.ts";
import type { Passage, Watcher, World } from "./world.ts";

const ALL_NODES: Address = { family: 6, value: (0xff02n << 112n) | 1n }; // RFC 4291 section 2.7.1

/** An advertisement as it came to an interface. */
export type Heard = {
  /** Who sent it. */
  readonly server: Service & Advertise;
  /** Its source. */
  readonly from: Address;
  /** What it says. */
  readonly message: RouterAdvertisement;
};

type Waiting = { readonly leg: InterfacePlan; readonly awaits: Awaits };

/**
 * Bindings from advertisements, interface by interface in document order. Of several advertisers on a link any may be heard
 * first, and by that be the router or the last to bring an address: a choice, one for all who hear the same ones.
 */
export function advertisedBindings(network: Network, settled: Settled, options: SimulationOptions): Advertised {
  const awaiting = network.stacks.some(({ interfaces }) => interfaces.some(({ awaits }) => awaits.some(isAdvertised)));
  if (!awaiting) return { bindings: [], choices: [], failures: [] };
  // Who has no default router of its own is known once all have spoken, and may have been one for the next.
  let without: ReadonlySet<Id> = new Set();
  for (;;) {
    const heard = heardAtRest(network, settled, options, without);
    const now = withoutDefault(network, settled, heard.bindings);
    if (now.size === without.size) return heard;
    without = now;
  }
}

/** The same, where these devices advertise and are no default routers. */
function heardAtRest(
  network: Network,
  settled: Settled,
  options: SimulationOptions,
  without: ReadonlySet<Id>,
): Advertised {
  const world = newWorld(network, settled, options);
  const watch = new AdvertisementWatch(world);
  for (const service of advertisersOf(world.plan, without)) watch.advertise(service);
  runWorld(world, options.limitEvents ?? LIMIT_EVENTS);
  const choices = new Map<Id, Choice>();
  const results = watch.waiting.map((waiting) => {
    const { leg } = waiting;
    const bringing = watch.heardBy(leg).filter((each) => bindingsOf(world, leg, [each]).length > 0);
    const { choice, inOrder } = orderOf(bringing, leg.interface, options.picks ?? []);
    if (choice !== undefined) choices.set(choice.id, choice);
    return { waiting, bindings: bindingsOf(world, leg, inOrder) };
  });
  return {
    bindings: results.flatMap(({ bindings }) => bindings),
    choices: [...choices.values()],
    failures: results.flatMap(({ waiting, bindings }) =>
      bindings.some(({ value }) => value !== undefined) ? [] : [failureOf(world, watch, waiting)],
    ),
  };
}

/**
 * Every advertiser, with those of its prefixes that there are. A device that takes its prefix by an uplink and is `without` a default
 * router is none itself: its router lifetime is 0 by default (RFC 7084 G-4); one that is written stays, and so do the prefixes. Route information
 * options (L-3) are not sent: a kernel takes none by default (its `accept_ra_rt_info_max_plen` is 0).
 */
export function advertisersOf(
  { network, settled }: Pick<Plan, "network" | "settled">,
  without: ReadonlySet<Id> = withoutDefault(network, settled, []),
): readonly Advertiser[] {
  const all = network.services.filter((service): service is Advertiser => service.kind === "advertise");
  const { undelegated = [] } = settled;
  if (undelegated.length === 0 && without.size === 0) return all;
  return all.map((service) => {
    const prefixes = service.prefixes.filter((prefix) => lackOf(undelegated, prefix) === undefined);
    const isSame = prefixes.length === service.prefixes.length;
    if (service.whileLed && without.has(deviceOf(service.interface))) return { ...service, prefixes, routerSeconds: 0 };
    return isSame ? service : { ...service, prefixes };
  });
}

/**
 * Devices that take their prefix by an uplink and have no default route of IPv6 over a link that is up, neither at rest nor by what was
 * heard: routers of customers without a default router, or whose uplink is lost (RFC 7084 G-4, G-5).
 */
function withoutDefault(network: Network, { stacks }: Settled, heard: readonly AdvertisedBinding[]): ReadonlySet<Id> {
  const uplinks = askersIn(network).map(({ leg }) => deviceOf(leg.id));
  if (uplinks.length === 0) return new Set();
  const led = new Set([
    ...stacks.flatMap((rest) => (rest.routes.some((route) => leadsOut(rest, route)) ? [deviceOf(rest.stack)] : [])),
    ...heard.flatMap(({ interface: id, routes }) =>
      routes.some(({ length }) => length === 0) && takesRouters(network, id) ? [deviceOf(id)] : [],
    ),
  ]);
  return new Set(uplinks.filter((device) => !led.has(device)));
}

/** Whether it is a default route over a link that is up: of a dead one a kernel keeps what is written, and yet it leads nowhere. */
function leadsOut({ interfaces }: Settled["stacks"][number], { family, length, action }: Route): boolean {
  if (family !== 6 || length !== 0 || action.do !== "forward") return false;
  return action.hops.some(({ egress }) => interfaces.some(({ interface: id, up }) => id === egress && up));
}

function takesRouters({ stacks }: Network, id: Id): boolean {
  return stacks.some(({ interfaces }) =>
    interfaces.some((leg) => leg.id === id && leg.awaits.some((awaits) => isAdvertised(awaits) && awaits.gateway)),
  );
}

type Advertiser = Service & Advertise;

type Advertised = {
  readonly bindings: readonly AdvertisedBinding[];
  readonly choices: readonly Choice[];
  readonly failures: readonly BindingFailure[];
};

/**
 * What an interface heard at one time, in the order that is taken: which advertiser is heard first and which last, the others
 * between them make no difference.
 */
export function orderOf<Each extends Heard>(
  heard: readonly Each[],
  { awaits }: Interface,
  picks: readonly Picked[],
): Ordered<Each> {
  const servers = [...new Set(heard.map(({ server }) => server.id))];
  const origin = awaits.find(isAdvertised)?.origin;
  if (servers.length < 2 || origin === undefined) return { choice: undefined, inOrder: heard };
  const orders = servers.flatMap((first) => {
    const others = servers.filter((id) => id !== first);
    return others.toReversed().map((last) => joinIds([first, ...others.filter((id) => id !== last), last]));
  });
  const choice = makeChoice("advertiser", joinIds(servers), orders, origin);
  const option = taken(choice, picks);
  const order = option === undefined ? servers : splitIds(option);
  return { choice, inOrder: order.flatMap((id) => heard.filter(({ server }) => server.id === id)) };
}

type Ordered<Each> = {
  /** Which is the first; undefined: there is one at most. */
  readonly choice: Choice | undefined;
  readonly inOrder: readonly Each[];
};

/** Whether an interface waits for an advertisement. */
export function isAdvertised({ from }: Awaits): boolean {
  return from === "advertisement";
}

/** Interfaces that wait for advertisements, and what each of them has heard. */
export class AdvertisementWatch implements Watcher {
  readonly waiting: readonly Waiting[];
  readonly services: Map<Journey, Service & Advertise> = new Map();
  readonly #world: World;
  readonly #heard = new Map<InterfacePlan, Heard[]>();
  readonly #stacks: readonly StackPlan[];

  constructor(world: World) {
    this.#world = world;
    this.waiting = [...world.plan.interfaces.values()].flatMap((leg) => {
      const awaits = leg.interface.awaits.find(isAdvertised);
      return awaits === undefined ? [] : [{ leg, awaits }];
    });
    this.#stacks = [...new Set(this.waiting.map(({ leg }) => leg.stack))];
    world.watcher = this;
  }

  heardBy(leg: InterfacePlan): readonly Heard[] {
    return this.#heard.get(leg) ?? [];
  }

  /** Sends one advertisement, if the interface is up and has the link-local address that it comes from. `said`: in place of the usual one. */
  advertise(service: Service & Advertise, said?: RouterAdvertisement): void {
    const leg = this.#world.plan.interfaces.get(service.interface);
    const source = leg?.addresses.find(isLinkScope);
    if (leg === undefined || source === undefined || !leg.up) return;
    const journey: Journey = { descent: "sent", parent: undefined };
    this.services.set(journey, service);
    const message = said ?? advertisementOf({ service, hardware: leg.interface.hardware });
    const packet = discoveryPacket({ family: 6, value: source.value }, ALL_NODES, message);
    this.#world.send({ stack: leg.stack, packet, journey, begun: "discovery", egress: leg });
  }

  hears({ packet, ingress, journey }: Passage): boolean {
    const server = this.services.get(journey);
    if (server === undefined || ingress === undefined || packet.body.kind !== "neighbour") return false;
    const { message } = packet.body;
    if (message.kind !== "router-advertisement") return false;
    this.#heard.set(ingress, [...this.heardBy(ingress), { server, from: packet.source, message }]);
    return true;
  }

  fails(): void {}

  taps(): boolean {
    return false;
  }

  concerns({ body }: IpPacket): readonly StackPlan[] | undefined {
    return body.kind === "neighbour" && body.message.kind === "router-advertisement" ? this.#stacks : undefined;
  }
}

function bindingsOf(world: World, leg: InterfacePlan, heard: readonly Heard[]): readonly AdvertisedBinding[] {
  return heard.flatMap(({ server, from, message }) => {
    const event = { kind: "received", from, message } as const;
    const { state } = stepAutoconfiguration(leg.interface, NEW_AUTOCONFIGURATION, event, nowMs(world));
    return boundBy(leg, server, state, message);
  });
}

/** What an interface made of the advertisements of one router, of which this is the latest. */
export function boundBy(
  leg: InterfacePlan,
  server: Service & Advertise,
  state: AutoconfigurationState,
  message: RouterAdvertisement,
): readonly AdvertisedBinding[] {
  const brought = {
    interface: leg.interface.id,
    family: 6,
    server: server.id,
    offered: [server.id],
    routes: routesOf(state),
    resolvers: state.resolvers.map((resolver) => resolver.address.value),
    seconds: secondsOf(message),
    origin: learned(server.origin),
  } as const;
  // Routers and links are learned without an address, too.
  if (state.addresses.length === 0) return [{ ...brought, prefixLength: 128 }];
  return state.addresses.map(
    ({ address, length, deprecated }): AdvertisedBinding => ({
      ...brought,
      value: address.value,
      ...(deprecated === undefined ? {} : { deprecated }),
      // A prefix that is not on the link makes no neighbours (RFC 4861 section 6.3.4).
      prefixLength: state.prefixes.some(({ prefix }) => prefix.length === length && isIn(prefix, address))
        ? length
        : 128,
    }),
  );
}

/** Default routes by routers, and prefixes on the link that no address is made of. */
function routesOf({ routers, prefixes, addresses }: AutoconfigurationState): AdvertisedBinding["routes"] {
  const isFormed = (prefix: Prefix): boolean =>
    addresses.some(({ address, length }) => length === prefix.length && isIn(prefix, address));
  return [
    ...routers.map(({ address }) => ({ prefix: 0n, length: 0, via: address.value })),
    ...prefixes.flatMap(({ prefix }) => (isFormed(prefix) ? [] : [{ prefix: prefix.value, length: prefix.length }])),
  ];
}

function isIn({ value, length }: { readonly value: bigint; readonly length: number }, address: Address): boolean {
  const rest = BigInt(128 - length);
  return value >> rest === address.value >> rest;
}

/** The shortest time that a prefix of it stays valid; one that it withdraws is none of it. */
function secondsOf({ options }: RouterAdvertisement): number {
  return options.reduce(
    (least, option) =>
      option.kind === "prefix" && option.validSeconds > 0 ? Math.min(least, option.validSeconds) : least,
    0xffffffff,
  );
}

function learned({ span, through }: Origin): Origin {
  return { by: "learned", from: "advertisement", span, ...(through === undefined ? {} : { through }) };
}

/** Nothing was heard: it was dropped on the way, or never got there, or nobody advertises. */
function failureOf({ plan, journal }: World, watch: AdvertisementWatch, { leg, awaits }: Waiting): BindingFailure {
  const fail = (because: readonly Origin[], text: string): BindingFailure => {
    return { interface: leg.interface.id, awaited: "advertisement", because: [...because, awaits.origin], text };
  };
  if (!leg.up && leg.interface.session !== undefined) return withoutSession(plan, leg, awaits);
  if (!leg.up) return fail([leg.attachment.idle.origin], "its link is down");
  const dropped = journal.endings.find(
    ({ fate }) => fate.at === leg.stack.stack.id && rankOf(fate) >= 2 && fate.end !== "delivered",
  );
  if (dropped !== undefined) return fail([dropped.fate.origin], "it drops the advertisement");
  const { network } = leg.interface;
  const services = [...watch.services.values()].filter((service) => {
    return network !== undefined && plan.interfaces.get(service.interface)?.interface.network === network;
  });
  const gaps = services.flatMap((service) => {
    const advertiser = plan.interfaces.get(service.interface);
    return advertiser === undefined ? [] : gapBetween(plan, leg, advertiser);
  });
  if (gaps.length > 0) return fail(gaps, "no advertisement gets there");
  const lost = lostBy(plan, [...watch.heardBy(leg).map(({ server }) => server), ...services]);
  if (lost !== undefined) return failureBy(lost, leg.interface.id);
  const lacking = services.flatMap((service) => service.lacking ?? []);
  if (lacking.length > 0) return fail(lacking, "no prefix is delegated for it");
  return fail(
    services.map(({ origin }) => origin),
    "no address is advertised to it",
  );
}

/** A prefix of theirs that was not delegated. */
function lostBy(
  { network, settled: { undelegated = [] } }: Plan,
  services: readonly Service[],
): Undelegated | undefined {
  const ids = new Set(services.map(({ id }) => id));
  return network.services
    .flatMap((service) => (service.kind === "advertise" && ids.has(service.id) ? service.prefixes : []))
    .flatMap((prefix) => lackOf(undelegated, prefix) ?? [])[0];
}
