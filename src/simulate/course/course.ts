/**
 * A site over time: what it is at each moment, as links, bonds, spanning tree, leases and advertisements make it.
 *
 * The machines of the protocols are woken when they want to be (`control-plane.ts`, `lease-clients.ts`,
 * `advertised-legs.ts`, `delegated-prefixes.ts`), and so are hosts whose router is silent (`silent-routers.ts`); what they have
 * come to is a site at rest for the time being, so that frames, proofs and assertions
 * find it like any other. What stations, neighbours and connections devices remember is carried from one such site to the
 * next. While an exchange is made, time stands still for the machines.
 */
import type { Origin } from "../../diagnose/index.ts";
import type { Id, Network, Settled } from "../../network/index.ts";
import { ADVERTISER_CONSTANTS, earliest } from "../../protocol/index.ts";
import { darkened, type Standing, settle, withBindings, withoutDelegated } from "../../settle/index.ts";
import type { IpPacket } from "../../wire/index.ts";
import { advertisedBindings, isAdvertised } from "../advertisements.ts";
import { withoutWritten } from "../delegations.ts";
import type { BindingFailure, Injection, ProbeRequest, ProbeResult, SimulationOptions } from "../results.ts";
import { withRouters } from "../routers.ts";
import { LIMIT_EVENTS, newWorld } from "../run-world.ts";
import { Simulation } from "../simulation.ts";
import { type TunnelFailure, withTunnels } from "../tunnels.ts";
import type { World } from "../world.ts";
import { AdvertisedLegs } from "./advertised-legs.ts";
import { carryOver, forgetConnections } from "./carry-over.ts";
import { ControlPlane } from "./control-plane.ts";
import { type Conversation, Conversations, type Setting } from "./conversations.ts";
import { DelegatedPrefixes } from "./delegated-prefixes.ts";
import { differencesOf } from "./differences.ts";
import { LeaseClients } from "./lease-clients.ts";
import type { Circumstances, CourseEvent, CourseMoment, CourseOptions } from "./records.ts";
import { SilentRouters } from "./silent-routers.ts";

/** What a site is at one moment. */
export type CourseWorld = {
  /** The site; what is off or silent is out of it. */
  readonly network: Network;
  /** Links, bonds, blocked ports, leases as they are now. */
  readonly settled: Settled;
  /** How its links stand, for settling it with further links raised. */
  readonly standing: Standing;
  /** Failed links, ports and shared fates, ports of devices that are off among them. */
  readonly down: readonly Id[];
  /** Tunnels that are not up. */
  readonly tunnels: readonly TunnelFailure[];
};

/** So long nothing must change until everything counts as having been up for long: longer than LACP's slow time-out. */
export const REST_MS = 130_000;
/** Something that never rests is taken as it is after so long. */
export const MOST_REST_MS = 3_600_000;
/** A site changes at one moment at most so often. */
const MOST_ROUNDS = 256;
const FIRST_PORT = 40_000;

/** One site, from a moment on. */
export class Course {
  readonly #options: CourseOptions;
  readonly #control: ControlPlane;
  readonly #leases = new LeaseClients();
  readonly #prefixes = new DelegatedPrefixes();
  readonly #advertised: AdvertisedLegs;
  readonly #routers: SilentRouters;
  readonly #conversations = new Conversations();
  #site: CourseSite;
  #world: World;
  #key = "";
  #parts: readonly unknown[] = [];
  #now: CourseWorld;
  #failures: readonly BindingFailure[] | undefined;
  #events: CourseEvent[] = [];
  #clockMs = 0;
  #beganMs = 0;
  #hasBegun = false;
  #nextPort = FIRST_PORT;

  constructor(circumstances: Circumstances, options: CourseOptions = {}) {
    this.#options = { ...options, ...this.#sinceItBegan(options) };
    this.#site = siteOf(circumstances);
    const { picks = [], capture, everyFrame = false, tally = { events: 0 } } = this.#options;
    const control = { picks, everyFrame, tally, ...(capture === undefined ? {} : { capture }) };
    this.#control = new ControlPlane(this.#site, control, 0);
    this.#advertised = new AdvertisedLegs(everyFrame, picks);
    this.#routers = new SilentRouters(picks);
    this.#now = this.#settle([]);
    this.#world = this.#worldOf(this.#now);
    this.#renew();
    if (options.begins !== "cold") {
      this.#comeToRest();
      this.#beganMs = this.#clockMs;
    }
    this.#events = [];
    this.#hasBegun = true;
  }

  /**
   * Everything has been up for long: who could hear no advertisement while trees and bonds came up hears the next one, which comes
   * within the longest interval between them.
   */
  #comeToRest(): void {
    this.rest(REST_MS, MOST_REST_MS);
    const limitMs = this.nowMs + ADVERTISER_CONSTANTS.maximumIntervalSeconds * 1000;
    if (!this.#advertised.lacks(this.#world)) return;
    while (this.#advertised.lacks(this.#world) && this.next(limitMs) !== undefined);
    this.rest(REST_MS, MOST_REST_MS);
  }

  /** Frames from its beginning on, by its own clock; from the cold the first ones are of the beginning. */
  #sinceItBegan({ capture, begins }: CourseOptions): Pick<CourseOptions, "capture"> {
    if (capture === undefined) return {};
    this.#hasBegun = begins === "cold";
    return {
      capture: {
        frame: (point, atUs, frame) => {
          if (this.#hasBegun) capture.frame(point, Math.max(0, atUs - this.#beganMs * 1000), frame);
        },
      },
    };
  }

  /** Milliseconds since it began. */
  get nowMs(): number {
    return this.#clockMs - this.#beganMs;
  }

  /** What the site is now. */
  get world(): CourseWorld {
    return this.#now;
  }

  /** Who has no lease or advertised address now, and why: each of them asks once, in a copy of the site. */
  get failures(): readonly BindingFailure[] {
    const { network, settled } = this.#now;
    this.#failures ??= [
      ...this.#leases.failuresIn(this.#worldOf(this.#now)),
      // What was written and did not come is told before what might have come besides.
      ...withoutWritten(network, settled.undelegated ?? []),
      ...this.#unadvertised(),
    ];
    return this.#failures;
  }

  /** Other circumstances hold from now on. What that changes at once is the moment returned. */
  become(circumstances: Circumstances): CourseMoment {
    this.#site = siteOf(circumstances);
    this.#control.become(this.#site, this.#clockMs);
    return this.#moment();
  }

  /** Lets time pass up to the next moment at which something changes; undefined: nothing does until then. */
  next(untilMs: number): CourseMoment | undefined {
    const limitMs = untilMs + this.#beganMs;
    for (let idle = 0; idle < LIMIT_EVENTS; idle++) {
      const wakeMs = this.#wakeMs();
      if (wakeMs === undefined || wakeMs > limitMs) {
        this.#clockMs = Math.max(this.#clockMs, limitMs);
        return undefined;
      }
      this.#clockMs = Math.max(this.#clockMs, wakeMs);
      const moment = this.#wake();
      if (moment.events.length > 0 || moment.isOther) return moment;
    }
    throw new Error(`time stands still at ${this.nowMs} ms`);
  }

  /** Lets time pass until the site has been the same for so long; false: it is still another after `mostMs`. `onOther`: is told of each other one. */
  rest(quietMs: number, mostMs: number, onOther?: (moment: CourseMoment) => void): boolean {
    const limitMs = this.nowMs + mostMs;
    for (let lastMs = this.nowMs; lastMs < limitMs; ) {
      const moment = this.next(lastMs + quietMs);
      if (moment === undefined) return true;
      if (!moment.isOther) continue;
      lastMs = moment.atMs;
      onOther?.(moment);
    }
    return false;
  }

  /** Makes one exchange now, with all that devices remember; they remember it, too. */
  probe(request: ProbeRequest): ProbeResult {
    const world = this.#world;
    world.nowUs = this.#clockMs * 1000;
    return new Simulation(world, LIMIT_EVENTS).probe({ sourcePort: this.#nextPort++, ...request });
  }

  /** The exchange that is made again and again under this name; it is tried in `setting`. `owner`: who keeps it to himself. */
  conversation(name: string, request: ProbeRequest, owner?: string): Conversation {
    return this.#conversations.of(name, request, owner);
  }

  /** What somebody keeps to himself, as it was asked. */
  keptBy(owner: string): readonly ProbeRequest[] {
    return this.#conversations.ownedBy(owner).map(({ request }) => request);
  }

  /** Where conversations are held now. */
  get setting(): Setting {
    return { world: this.#world, settled: this.#now.settled, nowMs: this.#clockMs };
  }

  /** Sends a packet from a stack now, with all that devices remember; they remember it, too. */
  sendFrom(from: Id, packet: IpPacket): Injection {
    const world = this.#world;
    world.nowUs = this.#clockMs * 1000;
    return new Simulation(world, LIMIT_EVENTS).sendFrom(from, packet);
  }

  /** A device forgets the connections that its stack tracks, at this moment. */
  forget(device: Id): void {
    forgetConnections(this.#world, device);
    this.#conversations.forget(device, this.#clockMs);
  }

  #wakeMs(): number | undefined {
    const routersMs = this.#routers.wakeMs(this.#clockMs);
    return earliest(this.#control.wakeMs, this.#leases.wakeMs, this.#advertised.wakeMs, routersMs);
  }

  #wake(): CourseMoment {
    const isDue = (wake: number | undefined): boolean => wake !== undefined && wake <= this.#clockMs;
    let isOther = false;
    if (isDue(this.#control.wakeMs)) {
      this.#control.run(this.#clockMs);
      isOther = this.#renew();
    }
    if (isDue(this.#leases.wakeMs)) this.#leases.run(this.#world, this.#clockMs);
    if (isDue(this.#advertised.wakeMs)) this.#advertised.run(this.#world, this.#clockMs);
    const moment = this.#moment();
    return { ...moment, isOther: moment.isOther || isOther };
  }

  #moment(): CourseMoment {
    const isOther = this.#renew();
    const events = this.#events.map((event) => ({ ...event, atMs: event.atMs - this.#beganMs }));
    this.#events = [];
    return { atMs: this.nowMs, events, isOther };
  }

  /** The site is what its machines have come to, again and again until they come to nothing else; whether it is another. */
  #renew(): boolean {
    let isOther = false;
    for (let round = 0; round < MOST_ROUNDS; round++) {
      this.#gather();
      if (!this.#isChanged()) return isOther;
      isOther = true;
      const before = this.#instant();
      this.#failures = undefined;
      this.#conversations.leave(this.setting);
      this.#now = this.#settleWithTunnels();
      this.#routers.enter(this.#now.network, this.#now.settled, this.#simulating(), this.#clockMs);
      this.#events.push(...differencesOf(before, this.#instant(), this.#clockMs));
      const world = this.#worldOf(this.#now);
      this.#events.push(...carryOver(this.#world, world, this.#site.off, this.#clockMs));
      this.#conversations.enter(world, this.#site.off, this.#clockMs);
      this.#world = world;
      this.#advertised.enter(world, this.#site, this.#clockMs);
      this.#leases.enter(world, this.#site.off, this.#clockMs);
    }
    throw new Error(`the site never comes to rest at ${this.nowMs} ms`);
  }

  #instant(): CourseWorld & { readonly tried: ReadonlySet<Id> } {
    return { ...this.#now, tried: this.#routers.triedAt(this.#clockMs) };
  }

  #gather(): void {
    for (const event of this.#control.drain()) {
      if (event.what === "address-table") this.#ageFast(event.at);
      this.#events.push(event);
    }
    this.#events.push(...this.#advertised.drain(), ...this.#leases.drain());
  }

  /** Stations of a bridge whose tree has changed are forgotten after a forward delay. */
  #ageFast(id: Id): void {
    const bridge = this.#world.plan.bridges.get(id);
    const delaySeconds = this.#control.fastSeconds(id);
    const table = bridge && this.#world.tables.get(bridge);
    if (delaySeconds === undefined) return;
    const untilUs = (this.#clockMs + delaySeconds * 1000) * 1000;
    table?.shorten(untilUs);
    this.#conversations.shorten(id, untilUs);
  }

  #isChanged(): boolean {
    const { bonds, blocked, shut } = this.#control.standing;
    const { network, down } = this.#site;
    const ids = [blocked.map(({ port }) => port), shut, down].map((each) => each.join(" "));
    const key = [...ids, this.#routers.wordAt(this.#clockMs)].join("|");
    const parts = [network, ...bonds, ...this.#leases.bindings, ...this.#advertised.bindings];
    const isSame =
      key === this.#key &&
      parts.length === this.#parts.length &&
      parts.every((part, index) => part === this.#parts[index]);
    this.#key = key;
    this.#parts = parts;
    return !isSame;
  }

  /** Tunnels are tried from nothing each time: one whose way is gone comes down. */
  #settleWithTunnels(): CourseWorld {
    const { at, failures } = withTunnels(this.#site.network, [], (up) => this.#settle(up), this.#simulating());
    return { ...at, tunnels: failures };
  }

  #settle(up: readonly Id[]): CourseWorld {
    const { network, down, off } = this.#site;
    const { standing } = this.#control;
    const { picks = [] } = this.#options;
    const links = settle(network, { picks, down, up, standing });
    const known = new Set(network.stacks.flatMap(({ interfaces }) => interfaces.map(({ id }) => id)));
    const bindings = [...this.#leases.bindings, ...this.#advertised.bindings];
    const bound = withBindings(
      network,
      withoutDelegated(network, links, this.#prefixes.lostIn(network, links, off, this.#simulating())),
      bindings.filter((binding) => known.has(binding.interface)),
    );
    const open = { ...bound, choices: [...bound.choices, ...this.#advertised.choices] };
    const settled = withRouters(network, open, this.#simulating(), this.#routers.givenUpAt(this.#clockMs));
    return { network, settled, standing, down, tunnels: [] };
  }

  #worldOf({ network, settled }: CourseWorld): World {
    const { capture } = this.#options;
    const world = newWorld(network, settled, { ...this.#simulating(), ...(capture === undefined ? {} : { capture }) });
    world.nowUs = this.#clockMs * 1000;
    return world;
  }

  #simulating(): SimulationOptions {
    const { picks, tally } = this.#options;
    return { ...(picks === undefined ? {} : { picks }), ...(tally === undefined ? {} : { tally }) };
  }

  #unadvertised(): readonly BindingFailure[] {
    const { network, settled } = this.#now;
    const held = new Set(
      settled.bindings.flatMap(({ interface: id, family, value }) => (family === 6 && value !== undefined ? [id] : [])),
    );
    const { failures } = advertisedBindings(network, settled, this.#simulating());
    const why = new Map(failures.map((failure) => [failure.interface, failure]));
    return network.stacks.flatMap(({ interfaces }) =>
      interfaces.flatMap(({ id, origin, awaits }) => {
        if (held.has(id) || !awaits.some(isAdvertised)) return [];
        const text = "it has heard no advertisement yet";
        const failure = why.get(id) ?? { interface: id, awaited: "advertisement" as const, because: [origin], text };
        return [this.#advertised.holds(id) ? { ...failure, holds: true as const } : failure];
      }),
    );
  }
}

/** Circumstances with what is dark or silent taken out of the network. */
type CourseSite = {
  readonly network: Network;
  readonly down: readonly Id[];
  readonly off: ReadonlySet<Id>;
  readonly silent: ReadonlyMap<Id, Origin>;
};

function siteOf({ network, down, off, silent }: Circumstances): CourseSite {
  const dark = new Set(off);
  const dead = network.ports.flatMap(({ id, device }) => (dark.has(device) ? [id] : []));
  const quiet = new Map(silent.map(({ id, by }) => [id, by]));
  return { network: darkened(network, dark, quiet), down: [...down, ...dead], off: dark, silent: quiet };
}
