/**
 * Conversations: exchanges that somebody makes again and again, each with what it has left behind in address tables and neighbour
 * caches. Whether one gets through at a moment rests on that, too: a bridge that still sends to the port where a host was.
 *
 * - Each is alone: what one leaves behind helps no other, so that what it comes to does not rest on which others are looked at. Only
 *   what the site says by itself (leases, advertisements) is heard by all.
 * - While it gets through, it is made all the time: what it left behind is as fresh as right after it. When it does not, time passes
 *   over that, and it is tried on.
 * - Every try is a new connection. The one that was open when the site became another is kept beside it (`open-connection.ts`): where a
 *   new one does not get through, that one may.
 */
import { deviceOf, type Id, type Notes, type Pick as Option, type Settled } from "../../network/index.ts";
import { NEIGHBOUR_SETTINGS, type NeighbourState } from "../../protocol/index.ts";
import type { Evidence } from "../../result/index.ts";
import type { IpPacket } from "../../wire/index.ts";
import { AddressTable } from "../address-table.ts";
import { ConnectionTable } from "../connection-table.ts";
import { MappingTable } from "../mappings.ts";
import type { ProbeRequest, ProbeResult, Tally } from "../results.ts";
import { LIMIT_EVENTS, worldOn } from "../run-world.ts";
import { Simulation } from "../simulation.ts";
import type { NeighbourEntry, StackMemory, World } from "../world.ts";
import { carryOver, forgetConnections, type Memory } from "./carry-over.ts";
import {
  type OpenConnection,
  openedLongAgo,
  tellGoingOn,
  tellKept,
  timeOf,
  type Use,
  useOf,
} from "./open-connection.ts";
import { shifted } from "./shift.ts";
import { staleIn } from "./stale.ts";

/** A site at a moment, with what it has said by itself. */
export type Setting = {
  /** It, with what its own traffic left behind. */
  readonly world: World;
  /** Links, leases and what stays open. */
  readonly settled: Settled;
  /** When. */
  readonly nowMs: number;
};

/** Under what an exchange is made, and who looks on. */
export type Trying = {
  /** What is taken of what stays open. */
  readonly picks: readonly Option[];
  /** Counts events. */
  readonly tally?: Tally;
  /** Is told what is looked at. */
  readonly notes?: Notes;
};

/** How an exchange went, and what devices remembered that is so no more; the latter in the order of telling. */
export type Tried = {
  /** How it went. */
  readonly result: ProbeResult;
  /** Of what stood on its way. */
  readonly stale: readonly Evidence[];
  /** Who lets a connection go on that was open before, where a filter stops a new one. Absent: none goes on, none was open, or no filter is what stops it. */
  readonly goesOn?: Evidence;
};

/** How the one went that is open, and nothing new. */
export type Used = {
  /** Options taken of choices met, in the order met. */
  readonly picksUsed: readonly Option[];
  /** What goes on. Absent: nothing was open, or it does not go on. */
  readonly open?: {
    /** Its first packet. */
    readonly request: IpPacket;
    /** The stack that it gets to. */
    readonly to: Id;
    /** Who keeps it. */
    readonly kept: Evidence;
  };
};

/** Whoever gets no answer asks again before a neighbour that was known is asked for anew: one try before that, one after. */
const TRIES_MS = [NEIGHBOUR_SETTINGS.staleMs + 1000, 0];

/** One exchange that is made again and again. */
export class Conversation {
  readonly #request: ProbeRequest;
  #memory: Memory | undefined;
  #base: Memory | undefined;
  #sinceMs = 0;
  #isHeard = false;
  /** When the first try was made that is remembered, and its first packet. */
  #triedMs = 0;
  #sent: IpPacket | undefined;
  /** What was open before it got through no more. */
  #open: OpenConnection | undefined;
  #isGoingOn = false;
  /** Until when it was used at the site before. */
  #leftMs: number | undefined;
  /** It ends now another way than it will when all that is remembered has run out; set by whoever compares. */
  isPassing = false;

  constructor(request: ProbeRequest) {
    this.#request = request;
  }

  /** What is asked. */
  get request(): ProbeRequest {
    return this.#request;
  }

  /** Whether one is open beside what is tried. */
  get hasOpen(): boolean {
    return this.#open !== undefined;
  }

  /** From here on it is tried at this moment, under one pick after the other; what the first try leaves behind stays. */
  begin(nowMs: number): void {
    this.#passTo(nowMs);
    this.#base = this.#memory;
    if (this.#memory !== undefined && this.#sent !== undefined && this.#isHeard) {
      const { from } = this.#request;
      const usedMs = this.#leftMs ?? nowMs;
      this.#open = openedLongAgo({
        from,
        request: this.#sent,
        memory: this.#memory,
        memoryMs: this.#triedMs,
        usedMs,
      });
    }
    this.#leftMs = undefined;
    this.#isGoingOn = false;
    this.#memory = undefined;
  }

  /** One try at the moment that was begun. */
  try(setting: Setting, trying: Trying): Tried {
    const world = worldFrom(this.#base, setting, trying);
    const result = new Simulation(world, LIMIT_EVENTS).probe(this.#request);
    const isHeard = result.outcome.end === "answered" && result.stalls !== true;
    if (this.#memory === undefined) {
      this.#memory = world;
      this.#isHeard = isHeard;
      this.#triedMs = setting.nowMs;
      this.#sent = isHeard ? result.request : undefined;
    }
    if (isHeard) return { result, stale: [] };
    const stale = staleIn(worldFrom(this.#base, setting, trying), result, setting.nowMs);
    const goesOn = this.#goingOn(result, setting, trying);
    return { result, stale, ...(goesOn === undefined ? {} : { goesOn }) };
  }

  /** Who lets the connection go on that was open before, where a filter stops a new one. */
  #goingOn(result: ProbeResult, setting: Setting, trying: Trying): Evidence | undefined {
    const open = this.#open;
    if (open === undefined) return undefined;
    const atMs = timeOf(open, setting.nowMs);
    const told = tellGoingOn(open, result.answerFate ?? result.fate, atMs);
    if (told === undefined) return undefined;
    this.#isGoingOn = this.#useOf(open, setting, trying).isAnswered;
    return this.#isGoingOn ? told : undefined;
  }

  /** At the moment that was begun, in place of a try: whether the one that is open goes on, whatever would become of a new one. */
  useOpen(setting: Setting, trying: Trying): Used {
    this.#isHeard = false;
    this.#memory = this.#base;
    const open = this.#open;
    if (open === undefined) return { picksUsed: [] };
    const { isAnswered, arrival, picksUsed } = this.#useOf(open, setting, trying);
    if (!isAnswered || arrival === undefined) return { picksUsed };
    this.#isGoingOn = true;
    const { stack: to, path } = arrival;
    const passed = path.findLast(({ did }) => did === "filter") ?? path[0];
    const kept = passed && tellKept(open, passed, timeOf(open, setting.nowMs));
    return { picksUsed, ...(kept === undefined ? {} : { open: { request: open.request, to, kept } }) };
  }

  #useOf(open: OpenConnection, setting: Setting, trying: Trying): Use {
    const atMs = timeOf(open, setting.nowMs);
    const world = worldFrom(this.#base, setting, trying);
    refresh(world, atMs - setting.nowMs);
    world.nowUs = atMs * 1000;
    const use = useOf(open, world);
    // Its memory has gone on to this use: from here on time counts, however often it was used before.
    if (use.isAnswered) [open.memoryMs, open.usedMs] = [atMs, setting.nowMs];
    return use;
  }

  /** The site is about to become another. */
  leave(setting: Setting): void {
    if (this.#isHeard) {
      this.#leftMs = setting.nowMs;
      this.#open = undefined;
    } else if (this.#open !== undefined && this.#isGoingOn) this.#open.usedMs = setting.nowMs;
    if (this.#isUsed) this.#passTo(setting.nowMs);
    else this.#tryOn(setting);
  }

  /** The site has become another. */
  enter({ plan }: World, off: ReadonlySet<Id>, nowMs: number): void {
    const carried = (memory: Memory | undefined): Memory => {
      const to: Memory = { plan, tables: new Map(), memories: new Map(), nowUs: nowMs * 1000, identification: 0 };
      if (memory !== undefined) carryOver(memory, to, off, nowMs);
      return to;
    };
    this.#memory = carried(this.#memory);
    // Whoever began it has forgotten it, also where it was open until now.
    if (off.has(deviceOf(this.#request.from))) {
      this.#open = undefined;
      this.#sent = undefined;
    }
    if (this.#open !== undefined) this.#open.memory = carried(this.#open.memory);
  }

  /** A device forgets its connections, at a moment up to which whatever goes on was used. */
  forget(device: Id, nowMs: number): void {
    if (this.#open !== undefined && this.#isGoingOn && !this.#isHeard) this.#open.usedMs = nowMs;
    for (const memory of [this.#memory, this.#base, this.#open?.memory])
      if (memory !== undefined) forgetConnections(memory, device);
  }

  /** What a bridge knows counts no longer than until then. */
  shorten(bridge: Id, untilUs: number): void {
    const plan = this.#memory?.plan.bridges.get(bridge);
    if (plan !== undefined) this.#memory?.tables.get(plan)?.shorten(untilUs);
  }

  /** It is made all the time. */
  get #isUsed(): boolean {
    return this.#isHeard && !this.isPassing;
  }

  #passTo(nowMs: number): void {
    const memory = this.#memory;
    if (memory !== undefined && this.#isUsed) refresh(memory, nowMs - this.#sinceMs);
    this.#sinceMs = nowMs;
  }

  #tryOn(setting: Setting): void {
    for (const beforeMs of TRIES_MS) {
      const atMs = setting.nowMs - beforeMs;
      if (atMs <= this.#sinceMs || !setting.world.plan.stacks.has(this.#request.from)) continue;
      const world = worldFrom(this.#memory, { ...setting, nowMs: atMs }, { picks: setting.settled.picks });
      new Simulation(world, LIMIT_EVENTS).probe(this.#request);
      this.#memory = world;
      this.#sinceMs = atMs;
    }
  }
}

/** All conversations at one site. */
export class Conversations {
  readonly #all = new Map<string, Conversation>();
  readonly #owned = new Map<string, Map<string, Conversation>>();

  /** The one of a request, by its text. `owner`: who keeps it to himself. */
  of(key: string, request: ProbeRequest, owner?: string): Conversation {
    const held = owner === undefined ? this.#all : (this.#owned.get(owner) ?? new Map<string, Conversation>());
    if (owner !== undefined) this.#owned.set(owner, held);
    const conversation = held.get(key) ?? new Conversation(request);
    held.set(key, conversation);
    return conversation;
  }

  /** What somebody keeps to himself, in the order in which it began. */
  ownedBy(owner: string): readonly Conversation[] {
    return [...(this.#owned.get(owner)?.values() ?? [])];
  }

  get #each(): readonly Conversation[] {
    return [this.#all, ...this.#owned.values()].flatMap((held) => [...held.values()]);
  }

  /** The site is about to become another. */
  leave(setting: Setting): void {
    for (const each of this.#each) each.leave(setting);
  }

  /** The site has become another. */
  enter(world: World, off: ReadonlySet<Id>, nowMs: number): void {
    for (const each of this.#each) each.enter(world, off, nowMs);
  }

  /** A device forgets its connections. */
  forget(device: Id, nowMs: number): void {
    for (const each of this.#each) each.forget(device, nowMs);
  }

  /** What a bridge knows counts no longer than until then. */
  shorten(bridge: Id, untilUs: number): void {
    for (const each of this.#each) each.shorten(bridge, untilUs);
  }
}

/** A site in which this is remembered, and what the site's own traffic left behind where that is newer. */
function worldFrom(memory: Memory | undefined, { world: site, settled, nowMs }: Setting, trying: Trying): World {
  const world = worldOn(site.plan, settled, trying);
  world.nowUs = nowMs * 1000;
  for (const plan of site.tables.keys()) world.tables.set(plan, new AddressTable(plan.bridge.ageingSeconds));
  if (memory !== undefined) copyInto(world, memory);
  for (const [plan, table] of world.tables) table.beside = site.tables.get(plan);
  for (const [stack, { neighbours }] of world.memories) {
    const heard = site.memories.get(stack)?.neighbours;
    for (const [leg, byAddress] of neighbours) {
      for (const [address, entry] of byAddress) entry.state = later(entry.state, heard?.get(leg)?.get(address)?.state);
    }
  }
  return world;
}

function later(own: NeighbourState, heard: NeighbourState | undefined): NeighbourState {
  if (heard?.state !== "known") return own;
  return own.state === "known" && own.untilMs > heard.untilMs ? own : heard;
}

function copyInto(to: Memory, { tables, memories }: Memory): void {
  for (const [plan, table] of tables) {
    const copy = new AddressTable(plan.bridge.ageingSeconds);
    for (const { vlan, hardware, port, untilUs } of table.entries()) copy.keep(vlan, hardware, port, untilUs);
    to.tables.set(plan, copy);
  }
  for (const [stack, { neighbours }] of memories) to.memories.set(stack, remembering(neighbours));
}

function remembering(neighbours: StackMemory["neighbours"]): StackMemory {
  const copied = [...neighbours].map(([leg, byAddress]) => {
    const known = [...byAddress].filter(([, { state }]) => state.state === "known");
    return [leg, new Map(known.map(([address, entry]) => [address, entryOf(entry.state)]))] as const;
  });
  return {
    connections: new ConnectionTable(),
    mappings: new MappingTable(),
    neighbours: new Map(copied),
    fragments: new Map(),
    sockets: new Map(),
  };
}

function entryOf(state: NeighbourState): NeighbourEntry {
  return { state, waiting: [], asked: undefined, cancel: undefined };
}

/** As much as was known then is known now, as long as it was then. */
function refresh({ tables, memories }: Memory, byMs: number): void {
  if (byMs === 0) return;
  for (const table of tables.values()) table.shift(byMs * 1000);
  for (const { neighbours } of memories.values()) {
    for (const byAddress of neighbours.values()) {
      for (const entry of byAddress.values()) entry.state = shifted(entry.state, byMs);
    }
  }
}
