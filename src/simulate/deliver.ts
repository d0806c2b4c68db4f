/**
 * The step `deliver`: what a stack does with a packet that is for it. Questions of neighbours are answered, echo requests
 * too; listeners take what fits them; the rest is turned away (RFC 1122 sections 3.2.2.1 and 4.1.3.1, RFC 793).
 */
import { addressKey, isMulticast } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Step } from "../network/index.ts";
import { tupleKey, tupleOf, turned } from "../protocol/index.ts";
import {
  ICMP_ECHO_REPLY,
  ICMP_ECHO_REQUEST,
  ICMPV6_ECHO_REPLY,
  ICMPV6_ECHO_REQUEST,
  TCP_ACK,
  TCP_RST,
  TCP_SYN,
  type TcpBody,
} from "../wire/index.ts";
import { answerData, answerEcho, answerRaw, answerSyn, answerUdp, sendSmaller, socketFor } from "./answers.ts";
import { receiveDiscovery } from "./discovery.ts";
import { memoryOf } from "./memory.ts";
import { quotedPacket } from "./packets.ts";
import { look, note, type StepResult } from "./passage.ts";
import { NO_LISTENER, NO_PROTOCOL, RESET } from "./refusals.ts";
import { isGroup } from "./route-choice.ts";
import type { Passage, World } from "./world.ts";

/** Hands a packet to whoever it is for. */
export function deliver(world: World, passage: Passage, step: Step): StepResult {
  const { packet, stack, journey, ingress } = passage;
  if (packet.body.kind !== "neighbour") {
    const notes = { journey, stack: stack.stack.id, ingress: ingress?.interface.id, packet, trail: passage.trail };
    world.journal.arrivals.push(notes);
  }
  if (world.watcher?.hears(passage) === true) return delivered(world, passage, step.origin);
  switch (packet.body.kind) {
    case "neighbour":
      receiveDiscovery(world, passage);
      return delivered(world, passage, step.origin);
    case "icmp":
      return takeIcmp(world, passage, step);
    case "tcp":
      return takeTcp(world, passage, step, packet.body);
    case "udp":
      return takeUdp(world, passage, step);
    case "raw":
      return takeRaw(world, passage, step);
  }
}

function delivered(world: World, passage: Passage, origin: Origin): StepResult {
  const { packet, stack, journey } = passage;
  note(passage, "deliver", origin);
  const fate = { at: stack.stack.id, origin, end: "delivered" } as const;
  world.journal.endings.push({ journey, fate, trail: passage.trail, packet, asked: undefined });
  return { do: "done" };
}

/** Who listens for a packet, and whether it answers; an upstream listens to everything. */
function listenerOf(
  { notes }: World,
  passage: Passage,
): { readonly origin: Origin; readonly answers: boolean } | undefined {
  const { stack, packet } = passage;
  notes.listeners(stack.stack.id);
  const view = look(passage);
  const key = addressKey(packet.destination);
  const fitting = stack.listens.filter(({ test, boundTo }) => (boundTo?.has(key) ?? true) && test(view));
  // Who is taken to listen on everything gets nothing of what a tunnel takes.
  const found = fitting.find(({ answers }) => !answers) ?? fitting[0];
  if (found !== undefined) return found;
  return stack.stack.answersFor === "everywhere" ? { origin: stack.stack.origin, answers: true } : undefined;
}

function takeIcmp(world: World, passage: Passage, { origin }: Step): StepResult {
  const { packet, stack } = passage;
  const { body, source } = packet;
  if (body.kind !== "icmp") throw new Error(`${body.kind} is no ICMP`);
  const [request, reply] =
    source.family === 4 ? [ICMP_ECHO_REQUEST, ICMP_ECHO_REPLY] : [ICMPV6_ECHO_REQUEST, ICMPV6_ECHO_REPLY];
  const isBroadcast = source.family === 4 && isGroup(stack, packet.destination);
  // An echo request to everyone is not answered: the kernel's default, and allowed by RFC 1122 section 3.2.2.6.
  if (body.type === request && !isBroadcast) answerEcho(world, passage, body, reply);
  const quoted = quotedPacket(packet);
  if (quoted !== undefined) sendSmaller(world, passage, quoted);
  return delivered(world, passage, origin);
}

function takeTcp(world: World, passage: Passage, { origin }: Step, body: TcpBody): StepResult {
  const { packet, stack, isGroupFrame } = passage;
  const isForMany = isGroup(stack, packet.destination) || stack.anycast.has(addressKey(packet.destination));
  // Nor does a reset come from an anycast address: Linux is silent on ports open and closed (seen on 6.18).
  if (isGroupFrame || isForMany) return { do: "drop", reason: "no-listener", origin };
  const { sockets } = memoryOf(world, stack);
  const tuple = tupleOf(packet);
  const key = tuple === undefined ? "" : tupleKey(turned(tuple));
  const socket = sockets.get(key);
  if ((body.flags & (TCP_SYN | TCP_ACK | TCP_RST)) === TCP_SYN) {
    const listener = listenerOf(world, passage);
    if (listener === undefined) return { do: "refuse", with: RESET, reason: "no-listener", origin };
    // Before the answer: a stack that speaks to itself hears it at once.
    sockets.set(key, socketFor(body));
    answerSyn(world, passage, body);
    return delivered(world, passage, listener.origin);
  }
  if ((body.flags & TCP_RST) !== 0) {
    sockets.delete(key);
    return socket === undefined ? { do: "drop", reason: "stray", origin } : delivered(world, passage, origin);
  }
  // Who listens takes no answer, not even his own (a program that connects to its own port; seen on Linux 6.18).
  const isAnswer = (body.flags & TCP_SYN) !== 0;
  if (socket === undefined || isAnswer) return { do: "refuse", with: RESET, reason: "stray", origin };
  if (body.data.length > 0) answerData(world, passage, body, socket);
  return delivered(world, passage, origin);
}

function takeUdp(world: World, passage: Passage, { origin }: Step): StepResult {
  const listener = listenerOf(world, passage);
  if (listener === undefined) {
    return isForGroup(passage)
      ? { do: "drop", reason: "no-listener", origin }
      : { do: "refuse", with: NO_LISTENER, reason: "no-listener", origin };
  }
  if (listener.answers && isAsked(passage)) answerUdp(world, passage);
  return delivered(world, passage, listener.origin);
}

function takeRaw(world: World, passage: Passage, { origin }: Step): StepResult {
  const listener = listenerOf(world, passage);
  if (listener === undefined) return { do: "refuse", with: NO_PROTOCOL, reason: "no-listener", origin };
  if (isAsked(passage)) answerRaw(world, passage);
  return delivered(world, passage, listener.origin);
}

/** Nobody answers an answer: two stacks that listen on everything would never stop. */
function isAsked({ journey }: Passage): boolean {
  return journey.descent !== "answer";
}

function isForGroup({ packet, stack, isGroupFrame }: Passage): boolean {
  return isGroupFrame || isMulticast(packet.destination) || isGroup(stack, packet.destination);
}
