/**
 * The step `translate`. The first packet of a connection asks the table; what it decides is kept with the connection and
 * done to all its packets: forth at this end, back at the other (kernel facts 19 to 23). ICMP errors are translated
 * with the packet they quote (RFC 5508 section 4.2).
 */
import { type Address, formatAddress } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Direction } from "../protocol/index.ts";
import type { Tracked } from "./connection-table.ts";
import { quotedPacket } from "./packets.ts";
import { look, note, noteRules, type StepResult } from "./passage.ts";
import { need } from "./plan.ts";
import { type Endpoint, withDestination, withQuoted, withSource } from "./rewrite.ts";
import { routeAgain } from "./step-route.ts";
import { askTranslation } from "./translate-table.ts";
import { apart, chooseDestination, chooseSource } from "./translations.ts";
import type { Passage, StepOf, World } from "./world.ts";

/** Translates one end of a packet. */
export function stepTranslate(world: World, passage: Passage, step: StepOf<"translate">): StepResult {
  const { tracked, packet } = passage;
  passage.outBefore = undefined;
  if (tracked === undefined || passage.state === "invalid") return undefined;
  const stop = decide(world, passage, tracked, step);
  if (stop !== undefined) return stop;
  payOwed(passage, step.end, step.origin);
  const mustRoute = passage.isRouted && passage.begun !== undefined && !passage.isTurned;
  const isElsewhere = packet.destination.value !== passage.packet.destination.value;
  return mustRoute && isElsewhere ? routeAgain(world, passage, step.origin) : undefined;
}

/**
 * Makes one end of a packet what its connection says, once on its way through the stack: at the step `translate`, or,
 * where a stack has no such step for the way back, before its destination is routed and before it leaves.
 */
export function payOwed(passage: Passage, end: "source" | "destination", origin: Origin): void {
  const { tracked } = passage;
  if (tracked === undefined || passage.state === "invalid") return;
  if (end === "source" ? passage.isSourcePaid : passage.isDestinationPaid) return;
  const isBack = passage.direction === "reply";
  const isRewritten = (end === "source") === isBack ? tracked.isDestinationRewritten : tracked.isSourceRewritten;
  if (!isRewritten) return;
  if (end === "source") passage.isSourcePaid = true;
  else passage.isDestinationPaid = true;
  passage.packet = end === "source" ? rewriteSource(passage, tracked) : rewriteDestination(passage, tracked);
  note(passage, "translate", origin, tell(end, passage));
}

function tell(end: "source" | "destination", { packet }: Passage): string {
  return `${end} ${formatAddress(packet[end])}`;
}

/**
 * The reset with which a rule turns away the first packet of a connection goes for that packet: the connection is
 * translated by the reset's looks, but does not live on by it (seen on Linux 6.18).
 */
function isResetOfRule({ begun, isTurned, state, packet }: Passage): boolean {
  return begun === "error" && !isTurned && state === "related" && packet.body.kind === "tcp";
}

/** Asks the table once for each end of a connection, with its first packet. */
function decide(world: World, passage: Passage, tracked: Tracked, step: StepOf<"translate">): StepResult {
  const isFirst = passage.state === "new" && passage.direction === "original";
  if (!isFirst && !isResetOfRule(passage)) return undefined;
  const isDecided = step.end === "source" ? tracked.isSourceDecided : tracked.isDestinationDecided;
  if (isDecided || tracked.isConfirmed) return undefined;
  if (step.end === "source") tracked.isSourceDecided = true;
  else tracked.isDestinationDecided = true;
  const table = need(world.plan.tables, step.table, "table");
  if (table.kind !== "translate") throw new Error(`\`${step.table}\` is no table of translations`);
  const view = look(passage);
  noteRules(world, table.id, view);
  const verdict = askTranslation(table, view);
  const chosen = (step.end === "source" ? chooseSource : chooseDestination)(world, passage, tracked, verdict);
  if (chosen === undefined) return undefined;
  if ("reason" in chosen) return { do: "drop", ...chosen };
  note(passage, "translate", verdict.origin, verdict.rule ?? "by a mapping");
  keep(tracked, step.end, chosen.endpoint);
  return undefined;
}

/**
 * Where the stack translates, a first packet whose answers would belong to another connection gets another port (seen on
 * Linux 6.18). False: nothing helps.
 */
export function keepApart(world: World, passage: Passage, tracked: Tracked, origin: Origin): boolean {
  if (!tracked.isDestinationDecided && !tracked.isSourceDecided) return false;
  const chosen = apart(world, passage, tracked, origin);
  if (chosen === undefined) return false;
  keep(tracked, "source", chosen.endpoint);
  passage.isSourcePaid = false;
  payOwed(passage, "source", origin);
  return true;
}

/** The connection's answers come from, or go to, the new end. */
function keep(tracked: Tracked, end: "source" | "destination", endpoint: Endpoint): void {
  const { connection } = tracked;
  const { address, port } = endpoint;
  const isQuery = connection.original.icmpType >= 0;
  const { original, reply } = connection;
  if (end === "source") {
    tracked.isSourceRewritten ||= !isSameAddress(address, reply.destination) || port !== reply.destinationPort;
    const both = isQuery ? { sourcePort: port, destinationPort: port } : { destinationPort: port };
    tracked.connection = { ...connection, reply: { ...reply, destination: address, ...both } };
    return;
  }
  tracked.isDestinationRewritten = !isSameAddress(address, original.destination) || port !== original.destinationPort;
  const ports = isQuery ? { sourcePort: port, destinationPort: port } : { sourcePort: port };
  tracked.connection = { ...connection, reply: { ...reply, source: address, ...ports } };
}

function rewriteSource(passage: Passage, tracked: Tracked): Passage["packet"] {
  const endpoint = sourceIn(passage.direction, tracked);
  const { packet } = passage;
  if (quotedPacket(packet) === undefined) return withSource(packet, endpoint);
  return withQuoted({ ...packet, source: endpoint.address }, (quoted) => withDestination(quoted, endpoint));
}

function rewriteDestination(passage: Passage, tracked: Tracked): Passage["packet"] {
  const endpoint = destinationIn(passage.direction, tracked);
  const { packet } = passage;
  if (quotedPacket(packet) === undefined) return withDestination(packet, endpoint);
  return withQuoted({ ...packet, destination: endpoint.address }, (quoted) => withSource(quoted, endpoint));
}

/** The source that packets of a direction have behind the translator. */
function sourceIn(direction: Direction, { connection: { original, reply } }: Tracked): Endpoint {
  return direction === "original"
    ? { address: reply.destination, port: reply.destinationPort }
    : { address: original.destination, port: original.destinationPort };
}

/** The destination that packets of a direction have behind the translator. */
function destinationIn(direction: Direction, { connection: { original, reply } }: Tracked): Endpoint {
  return direction === "original"
    ? { address: reply.source, port: reply.sourcePort }
    : { address: original.source, port: original.sourcePort };
}

function isSameAddress(a: Address, b: Address): boolean {
  return a.family === b.family && a.value === b.value;
}
