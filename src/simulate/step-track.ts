/**
 * Steps of connection tracking: `track` puts fragments together and finds or begins the connection, `confirm` lets it
 * live on. ICMP errors belong to the connection of the packet they quote.
 */
import { followConnection, openConnection, tupleOf, turned } from "../protocol/index.ts";
import { type IpPacket, isFragment } from "../wire/index.ts";
import { type Found, newTracked } from "./connection-table.ts";
import { testOf } from "./match.ts";
import { memoryOf, nowMs } from "./memory.ts";
import { quotedPacket } from "./packets.ts";
import { look, note, type StepResult } from "./passage.ts";
import { assemble } from "./reassembly.ts";
import { keepApart } from "./step-translate.ts";
import type { Passage, StepOf, World } from "./world.ts";

/** Finds or begins the connection of a packet. */
export function stepTrack(world: World, passage: Passage, step: StepOf<"track">): StepResult {
  // A packet that turned round, or that is about another one, has its state already.
  if (passage.state !== undefined) return undefined;
  if (isFragment(passage.packet)) {
    const whole = assemble(world, passage.stack, passage.packet);
    if (whole === undefined) return { do: "done" };
    passage.packet = whole;
  }
  if (testOf(step.except)(look(passage))) passage.state = "untracked";
  else attach(world, passage, step);
  note(passage, "track", step.origin, passage.state);
  return undefined;
}

function attach(world: World, passage: Passage, step: StepOf<"track">): void {
  const { packet, stack } = passage;
  const quoted = quotedPacket(packet);
  if (quoted !== undefined) {
    relate(world, passage, quoted);
    return;
  }
  const tuple = tupleOf(packet);
  passage.state = "invalid";
  if (tuple === undefined) return;
  const found = memoryOf(world, stack).connections.find(tuple, nowMs(world));
  if (found !== undefined) {
    follow(world, passage, found);
    return;
  }
  const { midStream } = step;
  const connection = openConnection(packet, tuple, { tracking: stack.stack.tracking, midStream }, nowMs(world));
  if (connection === undefined) return;
  passage.state = "new";
  passage.direction = "original";
  passage.tracked = newTracked(connection);
}

function follow(world: World, passage: Passage, { tracked, direction }: Found): void {
  const { tracking } = passage.stack.stack;
  const next = followConnection(tracked.connection, direction, passage.packet, tracking, nowMs(world));
  tracked.connection = next.connection;
  passage.state = next.state;
  if (next.state === "invalid") return;
  passage.tracked = tracked;
  passage.direction = direction;
}

/** An error belongs where an answer to the packet it quotes would belong. */
function relate(world: World, passage: Passage, quoted: IpPacket): void {
  const tuple = tupleOf(quoted);
  const table = memoryOf(world, passage.stack).connections;
  const found = tuple && table.find(turned(tuple), nowMs(world));
  passage.state = found === undefined ? "invalid" : "related";
  passage.tracked = found?.tracked;
  passage.direction = found?.direction ?? "original";
}

/** A connection lives on only if its first packet gets here: what a rule answers to it does not make it live. */
export function stepConfirm(world: World, passage: Passage, step: StepOf<"confirm">): StepResult {
  const { tracked, stack, state } = passage;
  if (tracked === undefined || tracked.isConfirmed || state === "related") return undefined;
  const { connections } = memoryOf(world, stack);
  if (connections.confirm(tracked, nowMs(world))) return undefined;
  const isApart = keepApart(world, passage, tracked, step.origin) && connections.confirm(tracked, nowMs(world));
  return isApart ? undefined : { do: "drop", reason: "no-free-port", origin: step.origin };
}
