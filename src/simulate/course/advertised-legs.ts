/**
 * Advertisements over time (RFC 4861 section 6.2.4): routers send them on their links again and again, and whoever waits
 * for them keeps what they say as long as it lasts. One that comes to the same interfaces in the same site as the one
 * before says nothing new and need not be sent.
 */
import { prefixContains } from "../../address/index.ts";
import type { Origin } from "../../diagnose/index.ts";
import {
  type Advertise,
  type AdvertisedBinding,
  type Choice,
  deviceOf,
  type Id,
  type Pick,
  type Service,
} from "../../network/index.ts";
import {
  type AdvertiserEvent,
  type AdvertiserState,
  type AutoconfigurationState,
  advertiserWakeMs,
  autoconfigurationWakeMs,
  earliest,
  NEW_AUTOCONFIGURATION,
  SILENT_ADVERTISER,
  stepAdvertiser,
  stepAutoconfiguration,
} from "../../protocol/index.ts";
import type { RouterAdvertisement } from "../../wire/index.ts";
import { AdvertisementWatch, advertisersOf, boundBy, type Heard, isAdvertised, orderOf } from "../advertisements.ts";
import { askersIn } from "../delegations.ts";
import { newJournal } from "../journal.ts";
import { isLinkScope } from "../packets.ts";
import type { InterfacePlan } from "../plan.ts";
import { LIMIT_EVENTS, runWorld } from "../run-world.ts";
import type { World } from "../world.ts";
import { type AdvertisedKnowledge, knownBy, toldChanges } from "./advertised-knowledge.ts";
import { bindingWord } from "./binding-word.ts";
import type { CourseEvent } from "./records.ts";

type Learned = Heard & {
  readonly leg: Id;
  readonly state: AutoconfigurationState;
  /** Since when it is known without a break. */
  readonly sinceMs: number;
};
type Said = { readonly world: World; readonly heard: readonly (readonly [Id, Heard])[] };

/** Who says nothing more, and forgets: devices without power, and services that have stopped. */
type Quiet = { readonly off: ReadonlySet<Id>; readonly silent: ReadonlyMap<Id, Origin> };

/** All advertisers of one site and whoever hears them. */
export class AdvertisedLegs {
  readonly #advertisers = new Map<Id, AdvertiserState>();
  #services: readonly (Service & Advertise)[] = [];
  /** Prefixes that were delegated to the devices that advertise. */
  #blocks: ReturnType<typeof askersIn> = [];
  readonly #picks: readonly Pick[];
  /** By interface and advertiser, in the order of time. */
  readonly #learned = new Map<string, Learned>();
  readonly #said = new Map<Id, Said>();
  readonly #everyFrame: boolean;
  #up: ReadonlySet<Id> = new Set();
  #bindings: readonly AdvertisedBinding[] = [];
  #choices: readonly Choice[] = [];
  #known: AdvertisedKnowledge = new Map();
  #off: ReadonlySet<Id> = new Set();
  #events: CourseEvent[] = [];
  #nowMs = 0;

  /** Under these picks; `everyFrame`: what says nothing new is sent, too. */
  constructor(everyFrame: boolean, picks: readonly Pick[]) {
    this.#everyFrame = everyFrame;
    this.#picks = picks;
  }

  /** When something wants to be woken; undefined: nothing does. */
  get wakeMs(): number | undefined {
    return earliest(
      ...[...this.#advertisers.values()].map(advertiserWakeMs),
      ...[...this.#learned.values()].map(({ state }) => autoconfigurationWakeMs(state)),
    );
  }

  /** What is held on links that are up, in document order. */
  get bindings(): readonly AdvertisedBinding[] {
    return this.#bindings;
  }

  /** Whether an interface has made an address, whether its link is up or not. */
  holds(leg: Id): boolean {
    return [...this.#learned.values()].some((each) => each.leg === leg && each.state.addresses.length > 0);
  }

  /** Whether somebody who is up has heard nothing yet of those who speak in its network. */
  lacks({ plan: { interfaces } }: World): boolean {
    const heard = new Set([...this.#learned.values()].map(({ leg }) => leg));
    const spoken = new Set(
      this.#services.flatMap((service) => {
        const network = interfaces.get(service.interface)?.interface.network;
        return network === undefined || this.#stateOf(service).state === "silent" ? [] : [network];
      }),
    );
    return [...interfaces.values()].some((leg) => {
      const { id, network } = leg.interface;
      return isWaiting(leg) && network !== undefined && spoken.has(network) && !heard.has(id);
    });
  }

  /** Which of several that spoke at one time was heard first. */
  get choices(): readonly Choice[] {
    return this.#choices;
  }

  /** What was noted since the last time this was asked. */
  drain(): readonly CourseEvent[] {
    const events = this.#events;
    this.#events = [];
    return events;
  }

  /**
   * The site is this one now: who comes up speaks, or asks and is answered, and who advertises no more says so (RFC 4861 section 6.2.5),
   * as does who is a default router no more (RFC 7084 G-5), unless its device is `off` or its program has stopped and is `silent`.
   */
  enter(world: World, { off, silent }: Quiet, nowMs: number): void {
    this.#nowMs = nowMs;
    this.#off = off;
    const { interfaces } = world.plan;
    for (const [key, { leg: id }] of this.#learned) {
      const leg = interfaces.get(id);
      const goesBy = leg?.interface.awaits.some(isAdvertised) ?? false;
      if (!goesBy || off.has(deviceOf(id))) this.#learned.delete(key);
    }
    const services = advertisersOf(world.plan);
    const ids = new Set(services.map(({ id }) => id));
    for (const service of this.#services) {
      if (ids.has(service.id)) continue;
      const leg = interfaces.get(service.interface);
      if (leg !== undefined && !silent.has(service.id) && !off.has(leg.stack.stack.device))
        this.#step(world, service, leg, { kind: "stop" });
      this.#advertisers.delete(service.id);
    }
    const withdrawn = withdrawnBy(this.#services, this.#blocks, services);
    const turned = turnedAmong(this.#services, services);
    this.#services = services;
    this.#blocks = askersIn(world.plan.network);
    const waiting = [...interfaces.values()].filter(isWaiting);
    const fresh = waiting.some(({ interface: { id } }) => !this.#up.has(id));
    this.#up = new Set(waiting.map(({ interface: { id } }) => id));
    for (const service of services) {
      const leg = interfaces.get(service.interface);
      const speaks = leg?.up === true && leg.addresses.some(isLinkScope);
      const gone = withdrawn.get(service.id) ?? [];
      if (speaks && gone.length > 0) this.#step(world, service, leg, { kind: "withdraws", gone });
      if (!speaks) this.#advertisers.set(service.id, SILENT_ADVERTISER);
      else if (this.#stateOf(service).state === "silent") this.#step(world, service, leg, { kind: "start" });
      else if (turned.has(service.id)) this.#step(world, service, leg, { kind: "changes" });
      else if (fresh) this.#step(world, service, leg, { kind: "solicited" });
    }
    this.#bind(world);
  }

  /** Lets those speak, and that end, whose moment has come. */
  run(world: World, nowMs: number): void {
    this.#nowMs = nowMs;
    for (const service of advertisersOf(world.plan)) {
      const leg = world.plan.interfaces.get(service.interface);
      const wake = advertiserWakeMs(this.#stateOf(service));
      if (leg !== undefined && wake !== undefined && wake <= nowMs) this.#step(world, service, leg, { kind: "timer" });
    }
    for (const [key, learned] of this.#learned) {
      if ((autoconfigurationWakeMs(learned.state) ?? Infinity) > nowMs) continue;
      const leg = world.plan.interfaces.get(learned.leg);
      if (leg === undefined) continue;
      const { state } = stepAutoconfiguration(leg.interface, learned.state, { kind: "timer" }, nowMs);
      this.#learned.set(key, { ...learned, state });
    }
    this.#bind(world);
  }

  #stateOf({ id }: Service): AdvertiserState {
    return this.#advertisers.get(id) ?? SILENT_ADVERTISER;
  }

  #step(world: World, service: Service & Advertise, leg: InterfacePlan, event: AdvertiserEvent): void {
    const settings = { service, hardware: leg.interface.hardware };
    const { state, actions } = stepAdvertiser(settings, this.#stateOf(service), event, this.#nowMs);
    this.#advertisers.set(service.id, state);
    for (const { message } of actions) {
      const isUsual = event.kind !== "stop" && event.kind !== "withdraws";
      const heard = isUsual ? this.#heardOf(world, service) : this.#heard(world, service, message);
      for (const [id, each] of heard) this.#hear(world, id, each);
    }
  }

  /** Who hears an advertiser now. */
  #heardOf(world: World, service: Service & Advertise): Said["heard"] {
    const known = this.#said.get(service.id);
    if (known?.world === world && !this.#everyFrame) return known.heard;
    const heard = this.#heard(world, service);
    this.#said.set(service.id, { world, heard });
    return heard;
  }

  /** Who hears this of it, or what it says as a rule. */
  #heard(world: World, service: Service & Advertise, message?: RouterAdvertisement): Said["heard"] {
    world.nowUs = this.#nowMs * 1000;
    Object.assign(world.journal, newJournal());
    const watch = new AdvertisementWatch(world);
    watch.advertise(service, message);
    runWorld(world, LIMIT_EVENTS);
    world.watcher = undefined;
    return watch.waiting.flatMap(({ leg }) => watch.heardBy(leg).map((each) => [leg.interface.id, each] as const));
  }

  #hear(world: World, id: Id, heard: Heard): void {
    const leg = world.plan.interfaces.get(id);
    if (leg === undefined) return;
    const key = `${id} ${heard.server.id}`;
    const before = this.#learned.get(key);
    const event = { kind: "received", from: heard.from, message: heard.message } as const;
    const { state } = stepAutoconfiguration(leg.interface, before?.state ?? NEW_AUTOCONFIGURATION, event, this.#nowMs);
    const isNew = before === undefined || (isEmpty(before.state) && !isEmpty(state));
    if (isNew) this.#learned.delete(key);
    this.#learned.set(key, { ...heard, leg: id, state, sinceMs: isNew ? this.#nowMs : before.sinceMs });
  }

  #bind(world: World): void {
    const byLeg = new Map<Id, readonly Learned[]>();
    for (const each of this.#learned.values()) byLeg.set(each.leg, [...(byLeg.get(each.leg) ?? []), each]);
    const choices = new Map<Id, Choice>();
    const now = [...world.plan.interfaces.values()].flatMap((leg) => {
      const [first, ...others] = byLeg.get(leg.interface.id) ?? [];
      if (first === undefined || !leg.up) return [];
      // Who spoke later was heard later; only of those that spoke at one time any may be the first.
      const atOnce = [first, ...others.filter(({ sinceMs }) => sinceMs === first.sinceMs)].filter(isBringing);
      const { choice, inOrder } = orderOf(atOnce, leg.interface, this.#picks);
      if (choice !== undefined) choices.set(choice.id, choice);
      const learned = [...inOrder, ...others.filter(({ sinceMs }) => sinceMs !== first.sinceMs)];
      return learned.filter(isBringing).flatMap(({ server, state, message }) => boundBy(leg, server, state, message));
    });
    this.#choices = [...choices.values()];
    const old = new Map(this.#bindings.map((each) => [bindingWord(each), each]));
    // The same ones stay the same, so that whoever compares sees it.
    this.#bindings = now.map((each) => old.get(bindingWord(each)) ?? each);
    this.#tell(world);
  }

  /** What is known of a part outlasts the link that it came by, and may be said by several. */
  #tell({ plan }: World): void {
    const all = [...this.#learned.values()].filter(isBringing).flatMap(({ leg: id, server, state, message }) => {
      const leg = plan.interfaces.get(id);
      return leg === undefined ? [] : boundBy(leg, server, state, message);
    });
    const known = knownBy(all, plan);
    const isOff = (at: Id): boolean => this.#off.has(deviceOf(at));
    this.#events.push(...toldChanges(this.#known, known, isOff, this.#nowMs));
    this.#known = known;
  }
}

function isBringing({ state }: Learned): boolean {
  return !isEmpty(state);
}

function isEmpty({ addresses, routers, prefixes }: AutoconfigurationState): boolean {
  return addresses.length === 0 && routers.length === 0 && prefixes.length === 0;
}

/** Advertisers that are default routers no more, or are again, by what their own device has come to (RFC 7084 G-5). */
function turnedAmong(before: readonly (Service & Advertise)[], now: readonly (Service & Advertise)[]): ReadonlySet<Id> {
  const was = new Map(before.map(({ id, routerSeconds }) => [id, routerSeconds]));
  const turned = now.filter(({ id, routerSeconds }) => {
    const earlier = was.get(id);
    return earlier !== undefined && (earlier === 0) !== (routerSeconds === 0);
  });
  return new Set(turned.map(({ id }) => id));
}

/** By advertiser the prefixes that it has no more, of those that were delegated to its device. */
function withdrawnBy(
  before: readonly (Service & Advertise)[],
  blocks: ReturnType<typeof askersIn>,
  now: readonly (Service & Advertise)[],
): ReadonlyMap<Id, Advertise["prefixes"]> {
  const left = new Map(now.map(({ id, prefixes }) => [id, prefixes]));
  return new Map(
    before.map(({ id, interface: at, prefixes }) => {
      const own = blocks.filter(({ leg }) => deviceOf(leg.id) === deviceOf(at));
      const isIn = (prefix: Advertise["prefixes"][number]): boolean =>
        own.some(({ delegated: { value, length } }) =>
          prefixContains({ family: 6, value, length }, { family: 6, value: prefix.value }),
        );
      const isLeft = (prefix: Advertise["prefixes"][number]): boolean =>
        left.get(id)?.some(({ value, length }) => value === prefix.value && length === prefix.length) ?? false;
      return [id, prefixes.filter((prefix) => isIn(prefix) && !isLeft(prefix))];
    }),
  );
}

function isWaiting({ up, interface: { awaits } }: InterfacePlan): boolean {
  return up && awaits.some(isAdvertised);
}
