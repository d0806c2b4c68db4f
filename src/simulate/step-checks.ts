/**
 * Steps that look at a packet and let it go on or end it: `require`, `own-source`, `reverse-path`, `filter`,
 * `no-transit`.
 */
import { askFilter } from "./filter-table.ts";
import { testOf } from "./match.ts";
import { isLinkScope } from "./packets.ts";
import { look, note, noteRules, type StepResult } from "./passage.ts";
import { need } from "./plan.ts";
import { checkReversePath, isBroadcastOf, isOwnSource } from "./source-checks.ts";
import type { Passage, StepOf, World } from "./world.ts";

/** Packets that fit go on. */
export function stepRequire(passage: Passage, step: StepOf<"require">): StepResult {
  if (step.fromOutside === true && passage.ingress === undefined) return undefined;
  if (testOf(step.that)(look(passage))) return undefined;
  return { do: "refuse", with: step.otherwise, reason: step.reason, origin: step.origin };
}

/** A packet from outside with an own address as its source ends (kernel fact 7). */
export function stepOwnSource(passage: Passage, step: StepOf<"own-source">): StepResult {
  if (passage.ingress === undefined || !isOwnSource(passage.stack, passage.packet.source)) return undefined;
  return { do: "drop", reason: "own-source", origin: step.origin };
}

/** A packet from outside with the broadcast address of an own network as its source ends (RFC 1812 section 5.3.7). */
export function stepBroadcastSource(passage: Passage, { origin }: StepOf<"broadcast-source">): StepResult {
  if (passage.ingress === undefined || !isBroadcastOf(passage.stack, passage.packet.source)) return undefined;
  return { do: "drop", reason: "martian", origin };
}

/** RFC 3704. */
export function stepReversePath(passage: Passage, step: StepOf<"reverse-path">): StepResult {
  const { ingress, packet } = passage;
  if (ingress === undefined || packet.source.value === 0n) return undefined;
  if (step.family !== undefined && step.family !== packet.source.family) return undefined;
  // An address of the link belongs to the link it came by.
  if (isLinkScope(packet.source)) return undefined;
  if (checkReversePath(ingress, packet.source, step.mode, packet.destination)) return undefined;
  return { do: "drop", reason: "reverse-path", origin: step.origin };
}

/** First match of the table. */
export function stepFilter(world: World, passage: Passage, step: StepOf<"filter">): StepResult {
  const table = need(world.plan.tables, step.table, "table");
  if (table.kind !== "filter") throw new Error(`\`${step.table}\` is no filter`);
  const view = look(passage);
  noteRules(world, table.id, view);
  const { action, origin, rule } = askFilter(table, view);
  note(passage, "filter", origin, rule ?? `no rule of ${table.id} fits`);
  switch (action.do) {
    case "accept":
      return undefined;
    case "drop":
      return { do: "drop", reason: "filter", origin };
    case "refuse":
      return { do: "refuse", with: action.with, reason: "filter", origin };
    case "unknown":
      return { do: "unknown", note: action.note, origin };
  }
}

/** Forwarding is off (kernel fact 3). */
export function stepNoTransit(step: StepOf<"no-transit">): StepResult {
  return { do: "drop", reason: "no-transit", origin: step.origin };
}
