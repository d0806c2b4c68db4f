/**
 * Frames to everyone, sent only to those whom they concern. A question for one address or a DHCP message floods a whole
 * segment, and all but a few stations pass over it. The reach of a broadcast is known from the domains of the site at
 * rest, so the deaf ones are left out; every bridge on the way still learns the sender, when the frame is there. A test
 * holds this to the flood.
 *
 * Reach is kept for each domain of a bridge, whole and with the port that leads to each part (its branch): a frame that
 * came in by a port reaches everything but that port's branch.
 */
import type { Id } from "../network/index.ts";
import { type Crossing, crossedAs, type DomainMap, domainMapOf } from "../settle/index.ts";
import type { Frame } from "../wire/index.ts";
import { isLeaseAnswer } from "./bridge-frame.ts";
import { after, type Flight } from "./journal.ts";
import { emitFrom, LINK_US, tableOf } from "./link-layer.ts";
import { type BridgePlan, type BridgePortPlan, type InterfacePlan, need, type Plan, type StackPlan } from "./plan.ts";
import type { World } from "./world.ts";

type Listener = {
  readonly leg: InterfacePlan;
  readonly branch: BridgePortPlan;
  /** Links on the way from the bridge. */
  readonly links: number;
};

type Learner = Hearing & {
  readonly branch: BridgePortPlan;
  /** Links on the way from the bridge. */
  readonly links: number;
};

/** Everything that a broadcast in one domain of a bridge reaches. */
type Reach = {
  readonly listeners: ReadonlyMap<StackPlan, readonly Listener[]>;
  readonly learners: readonly Learner[];
};

/** What is known of a site's domains. */
type Domains = {
  readonly map: DomainMap;
  readonly reach: Map<BridgePlan, Map<number, Reach>>;
};

const known = new WeakMap<Plan, Domains>();

function domainsFor(plan: Plan): Domains {
  const earlier = known.get(plan);
  if (earlier !== undefined) return earlier;
  const domains = { map: domainMapOf(plan.network, plan.settled), reach: new Map() };
  known.set(plan, domains);
  return domains;
}

/**
 * Whether the flood may be shortened: nobody captures frames, no loop swallows them, and no bond sends flows to different
 * places, which only the frame itself can tell; nor can a bridge on the way refuse what it carries.
 */
function mayShorten({ capture, plan }: World, frame: Frame): boolean {
  return capture === undefined && isCertain(plan) && !(isLeaseAnswer(frame) && hasLeaseGuard(plan));
}

function hasLeaseGuard({ network: { bridges } }: Plan): boolean {
  return bridges.some(({ ports }) => ports.some(({ leaseGuard }) => leaseGuard !== undefined));
}

/** Whether where a broadcast gets to is the same for all of them. */
function isCertain({ settled: { storms, choices } }: Plan): boolean {
  return storms.length === 0 && !choices.some(({ kind }) => kind === "bond-member");
}

/** A bridge port where a station is heard. */
export type Hearing = {
  /** The port. */
  readonly port: BridgePortPlan;
  /** As the bridge's address table counts: -1 where tags are ignored. */
  readonly vlan: number;
};

/** Where bridges learn an interface that speaks to everyone; nowhere where that differs from frame to frame. */
export function hearingsOf(plan: Plan, leg: InterfacePlan): readonly Hearing[] {
  if (!isCertain(plan)) return [];
  return (domainsFor(plan).map.from.get(leg.interface.id) ?? []).flatMap((crossing) => {
    const domain = crossedAs(crossing, 0);
    if (domain === undefined || crossing.to.kind === "interface") return [];
    const ingress = need(need(plan.bridges, crossing.to.bridge, "bridge").byId, crossing.to.port, "bridge port");
    return hearingsFrom(plan, ingress, domain);
  });
}

function hearingsFrom(plan: Plan, ingress: BridgePortPlan, domain: number): readonly Omit<Learner, "branch">[] {
  const { bridge } = ingress;
  const beyond = reachOf(plan, bridge, domain).learners.filter(({ branch }) => {
    return branch !== ingress && !isolates(branch, ingress);
  });
  return [{ port: ingress, vlan: tableNumber(bridge, domain), links: 0 }, ...beyond];
}

/** Puts a frame for everyone out by an interface, as far as it concerns the interfaces of these stacks. */
export function emitToAudience(
  world: World,
  leg: InterfacePlan,
  frame: Frame,
  flight: Flight,
  audience: readonly StackPlan[],
): void {
  if (!mayShorten(world, frame)) {
    emitFrom(world, leg, frame, flight);
    return;
  }
  world.notes.end(leg.interface.id);
  for (const { interfaces } of audience) for (const each of interfaces) world.notes.end(each.interface.id);
  const { map } = domainsFor(world.plan);
  for (const crossing of map.from.get(leg.interface.id) ?? []) {
    const domain = crossedAs(crossing, 0);
    if (domain !== undefined) enter(world, crossing, domain, frame, flight, audience);
  }
}

/** The first crossing leads to a station on the same link, or into a bridge. */
function enter(
  world: World,
  { to, by }: Crossing,
  domain: number,
  frame: Frame,
  flight: Flight,
  audience: readonly StackPlan[],
): void {
  const links = by.length > 0 ? 1 : 0;
  if (to.kind === "interface") {
    const leg = need(world.plan.interfaces, to.interface, "interface");
    if (audience.includes(leg.stack)) deliver(world, leg, links, frame, flight);
    return;
  }
  const bridge = need(world.plan.bridges, to.bridge, "bridge");
  const ingress = need(bridge.byId, to.port, "bridge port");
  const reach = reachOf(world.plan, bridge, domain);
  learnOnTheWay(world, hearingsFrom(world.plan, ingress, domain), links, frame.source);
  for (const stack of audience) {
    for (const listener of reach.listeners.get(stack) ?? []) {
      if (listener.branch === ingress || isolates(listener.branch, ingress)) continue;
      deliver(world, listener.leg, links + listener.links, frame, flight);
    }
  }
}

/** Each bridge learns the sender when the frame comes there: what is on its way ahead of it is not led by it yet. */
function learnOnTheWay(
  world: World,
  hearings: readonly Omit<Learner, "branch">[],
  before: number,
  sender: Frame["source"],
): void {
  const byLinks = new Map<number, Hearing[]>();
  for (const { links, port, vlan } of hearings) {
    const all = byLinks.get(links) ?? [];
    byLinks.set(links, all);
    all.push({ port, vlan });
  }
  for (const [links, together] of byLinks) {
    const learn = (): void => {
      for (const { port, vlan } of together) tableOf(world, port.bridge).learn(vlan, sender, port, world.nowUs);
    };
    if (before + links === 0) learn();
    else world.queue.add(world.nowUs + (before + links) * LINK_US, learn);
  }
}

function deliver(world: World, leg: InterfacePlan, links: number, frame: Frame, { journey, trail }: Flight): void {
  const { origin, id } = leg.interface;
  const heard = { journey, trail: after(trail, { at: id, did: "enter", origin, detail: "" }) };
  world.queue.add(world.nowUs + links * LINK_US, () => world.takeIn(leg, frame, heard));
}

function isolates({ port, bridge }: BridgePortPlan, ingress: BridgePortPlan): boolean {
  const isKept = bridge.bridge.steps.some(({ op }) => op === "isolation");
  return isKept && port.isolation !== undefined && port.isolation === ingress.port.isolation;
}

function ignoresTags({ bridge }: BridgePlan): boolean {
  return bridge.steps.some(({ op }) => op === "ignore-tags");
}

function tableNumber(bridge: BridgePlan, domain: number): number {
  return ignoresTags(bridge) ? -1 : domain;
}

function reachOf(plan: Plan, bridge: BridgePlan, domain: number): Reach {
  const { reach } = domainsFor(plan);
  const byDomain = reach.get(bridge) ?? new Map<number, Reach>();
  reach.set(bridge, byDomain);
  const earlier = byDomain.get(domain);
  if (earlier !== undefined) return earlier;
  const found = walk(plan, bridge, domain);
  byDomain.set(domain, found);
  return found;
}

/** A place that the walk has come to: a port of a bridge where the domain came in. */
type Place = {
  readonly ingress: BridgePortPlan;
  readonly domain: number;
  readonly branch: BridgePortPlan;
  readonly links: number;
};

function walk(plan: Plan, start: BridgePlan, domain: number): Reach {
  const listeners = new Map<StackPlan, Listener[]>();
  const learners: Learner[] = [];
  const places: Place[] = [];
  const seen = new Set<string>();
  const cross = (exit: BridgePortPlan, from: number, branch: BridgePortPlan, links: number): void => {
    for (const crossing of domainsFor(plan).map.from.get(exit.port.id) ?? []) {
      const next = crossedAs(crossing, from);
      if (next === undefined) continue;
      const passed = links + (crossing.by.length > 0 ? 1 : 0);
      if (crossing.to.kind === "interface") addListener(listeners, plan, crossing.to.interface, branch, passed);
      else addPlace(crossing.to, next, branch, passed);
    }
  };
  const addPlace = (
    to: { readonly bridge: Id; readonly port: Id },
    at: number,
    branch: BridgePortPlan,
    links: number,
  ) => {
    const ingress = need(need(plan.bridges, to.bridge, "bridge").byId, to.port, "bridge port");
    const key = `${to.port} ${at}`;
    if (seen.has(key)) return;
    seen.add(key);
    learners.push({ port: ingress, vlan: tableNumber(ingress.bridge, at), branch, links });
    places.push({ ingress, domain: at, branch, links });
  };
  for (const exit of start.ports) cross(exit, domain, exit, 0);
  // Places found on the way are appended and so walked too.
  for (const { ingress, domain: at, branch, links } of places) {
    for (const exit of ingress.bridge.ports) {
      if (exit !== ingress && !isolates(exit, ingress)) cross(exit, at, branch, links);
    }
  }
  return { listeners, learners };
}

function addListener(
  listeners: Map<StackPlan, Listener[]>,
  plan: Plan,
  id: Id,
  branch: BridgePortPlan,
  links: number,
): void {
  const leg = need(plan.interfaces, id, "interface");
  listeners.set(leg.stack, [...(listeners.get(leg.stack) ?? []), { leg, branch, links }]);
}
