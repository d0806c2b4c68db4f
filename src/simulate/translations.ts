/**
 * What a translation chooses for the first packet of a connection: an address of the rule, and a port that keeps the
 * answers of all connections apart (kernel fact 21: the port stays unless it clashes, then another of its class; the
 * kernel draws it, here the next free one is taken).
 */
import { type Address, addressKey, keyAddress, type Ranges, rangesContain } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { DropReason, TranslateAction } from "../network/index.ts";
import type { Tuple } from "../protocol/index.ts";
import { choiceId } from "../settle/index.ts";
import { PROTOCOL_ICMP, PROTOCOL_ICMPV6, PROTOCOL_TCP, PROTOCOL_UDP } from "../wire/index.ts";
import type { Tracked } from "./connection-table.ts";
import { memoryOf, nowMs } from "./memory.ts";
import type { Endpoint } from "./rewrite.ts";
import { addressFacing } from "./source-address.ts";
import { placeInMatch, type TranslateVerdict, valueAt } from "./translate-table.ts";
import type { Passage, World } from "./world.ts";

/** A new end, or why there is none. */
export type Chosen =
  | {
      /** Address and port. */
      readonly endpoint: Endpoint;
    }
  | {
      /** Why there is none. */
      readonly reason: DropReason;
      /** The rule that decided. */
      readonly origin: Origin;
    };

type Rewrite = Extract<TranslateAction, { readonly do: "rewrite" }>;

/** All that a choice looks at. */
type Turn = {
  readonly world: World;
  readonly passage: Passage;
  readonly tuple: Tuple;
  readonly tracked: Tracked;
  readonly verdict: TranslateVerdict;
};

/** The new source of a connection; undefined: it keeps its own. */
export function chooseSource(
  world: World,
  passage: Passage,
  tracked: Tracked,
  verdict: TranslateVerdict,
): Chosen | undefined {
  const turn = turnOf(world, passage, tracked, verdict);
  const { action, origin } = verdict;
  if (action.do === "keep") return hairpin(turn) ?? apart(world, passage, tracked, origin);
  const earlier = mapped(turn);
  if (earlier !== undefined) return { endpoint: earlier };
  const addresses = sourceAddresses(turn, action);
  if (addresses.length === 0) return { reason: "no-address-to-translate-to", origin };
  return (
    sharedEndpoint(turn, addresses, action) ??
    freeEndpoint(turn, addresses, action) ?? { reason: "no-free-port", origin }
  );
}

/** The identifier of a query may have been changed already, to keep its answers apart. */
function turnOf(world: World, passage: Passage, tracked: Tracked, verdict: TranslateVerdict): Turn {
  const { original, reply } = tracked.connection;
  const tuple = original.icmpType < 0 ? original : { ...original, sourcePort: reply.destinationPort };
  return { world, passage, tuple, tracked, verdict };
}

/**
 * Another port at its own address for a connection whose answers would belong to another one: the kernel sees to that
 * where no rule translates, too. Undefined: there is no need, or no such port.
 */
export function apart(
  world: World,
  passage: Passage,
  tracked: Tracked,
  origin: Origin,
): { readonly endpoint: Endpoint } | undefined {
  const turn = turnOf(world, passage, tracked, { action: { do: "keep" }, origin });
  const { destination: address, destinationPort: port } = tracked.connection.reply;
  if (passage.stack.stack.mapping !== undefined || isFree(turn, { address, port })) return undefined;
  const free = freeEndpoint(turn, [address], undefined);
  return free && "endpoint" in free ? free : undefined;
}

/**
 * What another connection from the same end was translated to, where it is of the rule and answers to it stay apart: so
 * a port that was drawn for one destination is used for others too (seen of the kernel with fact 21).
 */
function sharedEndpoint(turn: Turn, addresses: readonly Address[], { ports }: Rewrite): Chosen | undefined {
  const { world, passage, tuple } = turn;
  const keys = new Set(addresses.map(addressKey));
  if (keys.has(addressKey(tuple.source))) return undefined;
  const earlier = memoryOf(world, passage.stack).connections.fromSameEnd(tuple, nowMs(world));
  const endpoint = earlier
    .map(({ connection: { reply } }) => ({ address: reply.destination, port: reply.destinationPort }))
    .filter(({ address, port }) => keys.has(addressKey(address)) && (!ports || rangesContain(ports, BigInt(port))))
    .find((each) => isFree(turn, each));
  return endpoint && { endpoint };
}

/** The outside endpoint that this inside endpoint has already. */
function mapped({ world, passage, tuple, tracked }: Turn): Endpoint | undefined {
  const { stack } = passage;
  const { mapping } = stack.stack;
  if (mapping === undefined) return undefined;
  const { mappings } = memoryOf(world, stack);
  const inside = insideOf(tuple);
  const peer = peerOf(tracked);
  const outside = mappings.outsideOf(tuple.protocol, inside, peer.address, mapping.scope);
  if (outside !== undefined) mappings.note(tuple.protocol, inside, outside, peer, mapping.scope);
  return outside;
}

function insideOf({ source, sourcePort }: Tuple): Endpoint {
  return { address: source, port: sourcePort };
}

/** Whom the connection speaks to, as the inside endpoint named it. */
function peerOf({ connection: { original } }: Tracked): Endpoint {
  return { address: original.destination, port: original.destinationPort };
}

/** A packet that was turned back inside is seen from its outside endpoint (RFC 4787 REQ-9a). */
function hairpin(turn: Turn): Chosen | undefined {
  const { passage, tuple, tracked } = turn;
  const { stack, ingress, egress } = passage;
  if (stack.stack.mapping?.hairpin !== true || !tracked.isDestinationRewritten) return undefined;
  const outside = tuple.destination;
  const isFromInside = ingress !== undefined && !ingress.own.has(addressKey(outside));
  if (!isFromInside || egress === undefined) return undefined;
  const earlier = mapped(turn);
  if (earlier !== undefined) return { endpoint: earlier };
  return freeEndpoint(turn, [outside], undefined) ?? { reason: "no-free-port", origin: turn.verdict.origin };
}

const MOST_ADDRESSES = 256; // of a pool that are tried for a free port

function sourceAddresses({ passage, verdict }: Turn, { to, oneToOne }: Rewrite): readonly Address[] {
  const { egress, packet, nextHop, stack } = passage;
  if (to === "same") return [packet.source];
  if (to !== "egress-address") {
    const chosen = fromRanges(to, oneToOne, placeInMatch(verdict.match, "source", addressKey(packet.source)));
    return chosen.filter(({ family }) => family === packet.source.family);
  }
  if (passage.isOwn) return addressForItself(passage);
  const facing = egress && addressFacing(stack, egress, nextHop ?? packet.destination, packet.destination);
  return facing !== undefined && egress?.own.has(addressKey(facing)) ? [facing] : [];
}

/** What the kernel takes where a packet leaves by no interface (seen on 6.18): in IPv4 its first address, in IPv6 the one asked. */
function addressForItself({ packet, stack }: Passage): readonly Address[] {
  if (packet.source.family === 6) return [packet.destination];
  const first = stack.interfaces.flatMap(({ addresses }) => addresses).find(({ family }) => family === 4);
  return first === undefined ? [] : [{ family: 4, value: first.value }];
}

function fromRanges(to: Ranges, oneToOne: boolean, place: bigint): readonly Address[] {
  if (oneToOne) {
    const key = valueAt(to, place);
    return key === undefined ? [] : [keyAddress(key)];
  }
  const addresses: Address[] = [];
  for (const [low, high] of to) {
    for (let key = low; key <= high && addresses.length < MOST_ADDRESSES; key++) addresses.push(keyAddress(key));
  }
  return addresses;
}

const PROTOCOL_SCTP = 132;
const WITH_PORTS: ReadonlySet<number> = new Set([
  PROTOCOL_TCP,
  PROTOCOL_UDP,
  PROTOCOL_SCTP,
  PROTOCOL_ICMP,
  PROTOCOL_ICMPV6,
]);

function freeEndpoint(turn: Turn, addresses: readonly Address[], action: Rewrite | undefined): Chosen | undefined {
  const { tuple, passage, world, tracked } = turn;
  const { mapping } = passage.stack.stack;
  const { mappings } = memoryOf(world, passage.stack);
  for (const address of addresses) {
    for (const port of portsToTry(turn, action)) {
      const endpoint = { address, port };
      if (!isFree(turn, endpoint)) continue;
      if (mapping !== undefined)
        mappings.note(tuple.protocol, insideOf(tuple), endpoint, peerOf(tracked), mapping.scope);
      return { endpoint };
    }
  }
  return undefined;
}

/** Answers to this end would belong to no other connection. */
function isFree({ world, passage, tracked, tuple }: Turn, { address, port }: Endpoint): boolean {
  const { connections, mappings } = memoryOf(world, passage.stack);
  const isQuery = tuple.icmpType >= 0;
  const reply = tracked.connection.reply;
  const answer = { ...reply, destination: address, destinationPort: port, ...(isQuery ? { sourcePort: port } : {}) };
  if (connections.find(answer, nowMs(world)) !== undefined) return false;
  return !mappings.isTaken(tuple.protocol, { address, port });
}

/** Ports in the order of preference. */
function* portsToTry({ tuple, verdict, world, passage }: Turn, action: Rewrite | undefined): Generator<number> {
  const { sourcePort } = tuple;
  if (!WITH_PORTS.has(tuple.protocol)) {
    yield 0;
    return;
  }
  const ports = action?.ports;
  const given = tuple.icmpType < 0 ? pickedPort(world, passage) : undefined;
  if (ports === undefined) {
    if (given !== undefined && isOfClass(tuple, given)) yield given;
    yield* classOf(tuple);
  } else if (action?.byOffset === true) {
    const port = valueAt(ports, placeInMatch(verdict.match, "sourcePort", BigInt(sourcePort)));
    if (port !== undefined) yield Number(port);
  } else {
    if (given !== undefined && rangesContain(ports, BigInt(given))) yield given;
    if (action?.keepPort === true && rangesContain(ports, BigInt(sourcePort))) yield sourcePort;
    for (const [low, high] of ports) for (let port = Number(low); port <= Number(high); port++) yield port;
  }
}

/** The port that a pick says a stack draws, where others are taken by whoever sent something before. */
function pickedPort({ picks }: World, { stack }: Passage): number | undefined {
  const picked = picks.given("source-port", choiceId("source-port", stack.stack.id));
  return picked === undefined ? undefined : Number(picked);
}

/** The port itself, then the others of its class, upwards and round. */
function* classOf(tuple: Tuple): Generator<number> {
  const { sourcePort } = tuple;
  const [low, high] = boundsOf(tuple);
  yield sourcePort;
  for (let port = sourcePort + 1; port <= high; port++) yield port;
  for (let port = low; port < sourcePort; port++) yield port;
}

/** Whether a port is one of those that `classOf` goes through, without going through them: there are tens of thousands. */
function isOfClass(tuple: Tuple, port: number): boolean {
  const [low, high] = boundsOf(tuple);
  return port === tuple.sourcePort || (low <= port && port <= high);
}

/** The first and the last port of a class: below 512, below 1024, above; any identifier. */
function boundsOf({ sourcePort, icmpType }: Tuple): readonly [low: number, high: number] {
  if (icmpType >= 0) return [0, 65535];
  if (sourcePort < 512) return [1, 511];
  return sourcePort < 1024 ? [512, 1023] : [1024, 65535];
}

/** The new destination of a connection; undefined: it keeps its own. */
export function chooseDestination(
  world: World,
  passage: Passage,
  tracked: Tracked,
  verdict: TranslateVerdict,
): Chosen | undefined {
  const tuple = tracked.connection.original;
  const turn = { world, passage, tuple, tracked, verdict };
  const { action, origin } = verdict;
  if (action.do === "keep") return byMapping(turn) ?? renumbered(turn, tuple.destination);
  const address = destinationAddress(turn, action);
  if (address === undefined) return { reason: "no-address-to-translate-to", origin };
  const port = destinationPort(turn, action);
  if (port === undefined) return { reason: "no-free-port", origin };
  return renumbered(turn, address) ?? { endpoint: { address, port } };
}

/**
 * A query whose answers from a destination would belong to another connection gets another identifier; that counts as a
 * translation of its destination (a masquerading loop in IPv6, seen on Linux 6.18).
 */
function renumbered(turn: Turn, address: Address): Chosen | undefined {
  const { world, passage, tuple, tracked } = turn;
  if (tuple.icmpType < 0 || passage.stack.stack.mapping !== undefined) return undefined;
  const { connections } = memoryOf(world, passage.stack);
  const { reply } = tracked.connection;
  const isUsed = (port: number): boolean => {
    const answer = { ...reply, source: address, sourcePort: port, destinationPort: port };
    return connections.find(answer, nowMs(world)) !== undefined;
  };
  if (!isUsed(tuple.sourcePort)) return undefined;
  for (const port of classOf(tuple)) if (!isUsed(port)) return { endpoint: { address, port } };
  return undefined;
}

/** A packet to the outside endpoint of a mapping. */
function byMapping({ world, passage, tuple }: Turn): Chosen | undefined {
  const { mapping } = passage.stack.stack;
  if (mapping === undefined) return undefined;
  const outside = { address: tuple.destination, port: tuple.destinationPort };
  const { mappings } = memoryOf(world, passage.stack);
  // A peer inside counts by its outside endpoint, if it has one.
  const sender = insideOf(tuple);
  const peer = mappings.outsideOf(tuple.protocol, sender, tuple.destination, mapping.scope) ?? sender;
  const inside = mappings.insideOf(tuple.protocol, outside, peer, mapping.filtering);
  return inside && { endpoint: inside };
}

function destinationAddress({ passage, verdict }: Turn, { to, oneToOne }: Rewrite): Address | undefined {
  const { packet, ingress } = passage;
  const { destination } = packet;
  if (to === "same") return destination;
  if (to !== "egress-address") {
    const chosen = fromRanges(to, oneToOne, placeInMatch(verdict.match, "destination", addressKey(destination)));
    return chosen.find(({ family }) => family === destination.family);
  }
  const own = ingress?.addresses.find(({ family }) => family === destination.family);
  return own && { family: own.family, value: own.value };
}

function destinationPort({ tuple, verdict }: Turn, { ports, byOffset }: Rewrite): number | undefined {
  if (ports === undefined || !WITH_PORTS.has(tuple.protocol)) return tuple.destinationPort;
  const place = byOffset === false ? 0n : placeInMatch(verdict.match, "destinationPort", BigInt(tuple.destinationPort));
  const port = valueAt(ports, place);
  return port === undefined ? undefined : Number(port);
}
