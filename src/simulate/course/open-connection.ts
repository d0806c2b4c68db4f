/**
 * A connection of an exchange that was open when the site became another: tracked connections, mapped endpoints and sockets as they
 * were, kept by whoever keeps his power. It is used all the time while it goes on, so it is as fresh as when it was left.
 *
 * The time of its memory stands while it is used: `memoryMs` is that time, `usedMs` until when it was used, and what has passed since
 * then is all that counts against its lifetimes (kernel fact 25).
 */
import {
  deviceOf,
  type Fate,
  type Id,
  type Pick as Option,
  type PathStep,
  type Stack,
  type Tracking,
} from "../../network/index.ts";
import { lifetimeSeconds } from "../../protocol/index.ts";
import { type Evidence, tellSpan } from "../../result/index.ts";
import { type IpPacket, protocolOf, TCP_ACK, TCP_PSH, TCP_RST } from "../../wire/index.ts";
import type { StackArrival } from "../results.ts";
import { LIMIT_EVENTS } from "../run-world.ts";
import { Simulation } from "../simulation.ts";
import type { World } from "../world.ts";
import type { Memory } from "./carry-over.ts";

/** A connection that was open. */
export type OpenConnection = {
  /** Of the stack that began it. */
  readonly from: Id;
  /** Its first packet. */
  readonly request: IpPacket;
  /** What devices remember of it. */
  memory: Memory;
  /** The time of its memory when it was used last, in milliseconds. */
  memoryMs: number;
  /** Until when it was used. */
  usedMs: number;
};

/** A connection that was answered, of which devices remember this: both of its ends have gone on for long (kernel fact 25). */
export function openedLongAgo(open: OpenConnection): OpenConnection {
  for (const [{ stack }, { connections }] of open.memory.memories)
    connections.useForLong(stack.tracking, open.memoryMs);
  return open;
}

/** The moment at which its memory stands now. */
export function timeOf({ memoryMs, usedMs }: OpenConnection, nowMs: number): number {
  return memoryMs + nowMs - usedMs;
}

/** How a packet of it went. */
export type Use = {
  /** It was answered. */
  readonly isAnswered: boolean;
  /** Where it arrived; absent: nowhere. */
  readonly arrival?: StackArrival;
  /** Options taken of choices met, in the order met. */
  readonly picksUsed: readonly Option[];
};

/**
 * Whether a packet of it is still answered, in a world at its own time; it is used by that. One that is not answered leaves it as it
 * was: nobody goes on with it, so that what comes of it does not rest on how often that is asked.
 */
export function useOf({ from, request, memory }: OpenConnection, world: World): Use {
  const used = [...memory.memories].map(([stack, known]) => {
    const copied = { ...known, connections: known.connections.copy(), sockets: new Map(known.sockets) };
    return [stack, copied] as const;
  });
  for (const [stack, { connections, mappings, sockets }] of used) {
    const known = world.memories.get(stack) ?? { neighbours: new Map(), fragments: new Map() };
    world.memories.set(stack, { ...known, connections, mappings, sockets });
  }
  const simulation = new Simulation(world, LIMIT_EVENTS);
  const { arrivals, picksUsed } = simulation.sendFrom(from, nextOf(request), { answering: "once" });
  const isAnswered = arrivals.some(
    ({ descent, stack, packet }) => descent === "answer" && stack === from && !isReset(packet),
  );
  if (isAnswered) for (const [stack, known] of used) memory.memories.set(stack, known);
  const arrival = arrivals.find(({ descent }) => descent === "sent");
  return { isAnswered, picksUsed, ...(arrival === undefined ? {} : { arrival }) };
}

/** It ends a connection: the other end knows of none, say, since it was without power (RFC 9293 section 3.5.2). */
function isReset({ body }: IpPacket): boolean {
  return body.kind === "tcp" && (body.flags & TCP_RST) !== 0;
}

/** What is sent once it is open. */
function nextOf(request: IpPacket): IpPacket {
  const { body } = request;
  if (body.kind !== "tcp") return request;
  const data = { flags: TCP_PSH | TCP_ACK, acknowledgement: 1, options: new Uint8Array(0), data: new Uint8Array(32) };
  return { ...request, body: { ...body, ...data } };
}

/** Who lets it go on where a new one is stopped by a filter, at a moment of its memory; undefined: no filter stops that, or nobody tracks it. */
export function tellGoingOn(open: OpenConnection, fate: Fate, nowMs: number): Evidence | undefined {
  const isFiltered = (fate.end === "dropped" || fate.end === "refused") && fate.reason === "filter";
  return isFiltered ? tellKept(open, fate, nowMs) : undefined;
}

/** Who keeps it, at a moment of its memory, told of the line of a stack; undefined: nobody tracks it. */
export function tellKept(
  open: OpenConnection,
  { at, origin }: Pick<PathStep, "at" | "origin">,
  nowMs: number,
): Evidence | undefined {
  const keeper = keeperOf(open, at, nowMs);
  if (keeper === undefined) return undefined;
  const quiet = tellSpan(openSeconds(keeper.tracking, protocolIn(open.request)) * 1000);
  const text = `connections that are open already go on: ${deviceOf(keeper.id)} keeps each until it ends or is quiet for ${quiet}`;
  return { origin, text };
}

/** Of the stacks that track it the one that forgets it first; of several alike the one at the filter, else the first. */
function keeperOf({ memory, request }: OpenConnection, filter: Id, nowMs: number): Stack | undefined {
  const protocol = protocolIn(request);
  const keepers = [...memory.memories].flatMap(([{ stack }, { connections }]) =>
    connections.holds(protocol, nowMs) ? [stack] : [],
  );
  const lives = keepers.map(({ tracking }) => openSeconds(tracking, protocol));
  const shortest = keepers.filter((_, index) => lives[index] === Math.min(...lives));
  return shortest.find(({ id }) => id === filter) ?? shortest[0];
}

function protocolIn({ body, source }: IpPacket): number {
  return protocolOf(body, source.family);
}

function openSeconds(tracking: Tracking, protocol: number): number {
  return lifetimeSeconds(protocol, "established", true, tracking);
}
