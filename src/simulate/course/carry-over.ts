/**
 * What devices remember, carried from one world to the next when the site changes: stations by bridge, neighbours, fragments,
 * connections and mappings by stack. A port that has no link any more forgets its stations at once (kernel fact 38); a device
 * that is off forgets everything.
 */
import type { Id } from "../../network/index.ts";
import { AddressTable } from "../address-table.ts";
import { ConnectionTable } from "../connection-table.ts";
import { MappingTable } from "../mappings.ts";
import type { BridgePlan, StackPlan } from "../plan.ts";
import { sendsBy } from "../transport.ts";
import type { World } from "../world.ts";
import type { CourseEvent } from "./records.ts";

/** What devices of one site remember at a time. */
export type Memory = Pick<World, "plan" | "tables" | "memories" | "nowUs" | "identification">;

/** Carries memory over; what is forgotten on the way is returned. */
export function carryOver(from: Memory, to: Memory, off: ReadonlySet<Id>, nowMs: number): readonly CourseEvent[] {
  to.nowUs = nowMs * 1000;
  to.identification = from.identification;
  for (const [{ stack }, memory] of from.memories) {
    const now: StackPlan | undefined = to.plan.stacks.get(stack.id);
    if (now === undefined || off.has(stack.device)) continue;
    for (const [leg, byAddress] of memory.neighbours) {
      // Who was behind a link that is gone is asked for anew (seen of the kernel, 6.1).
      if (now.byId.get(leg)?.up !== true) memory.neighbours.delete(leg);
      // Nobody waits for a neighbour while nothing is under way.
      for (const entry of byAddress.values()) entry.waiting.length = 0;
    }
    to.memories.set(now, memory);
  }
  return [...from.tables].flatMap(([{ bridge }, table]) => {
    const now = to.plan.bridges.get(bridge.id);
    return now === undefined || off.has(bridge.device) ? [] : carryTable(table, now, to, nowMs);
  });
}

/** A device forgets its connections and what it translated for them; what its own programs have open is theirs. */
export function forgetConnections({ memories }: Pick<Memory, "memories">, device: Id): void {
  for (const [stack, memory] of memories) {
    if (stack.stack.device !== device) continue;
    memories.set(stack, { ...memory, connections: new ConnectionTable(), mappings: new MappingTable() });
  }
}

function carryTable(table: AddressTable, bridge: BridgePlan, to: Memory, nowMs: number): readonly CourseEvent[] {
  const carried = new AddressTable(bridge.bridge.ageingSeconds);
  const forgotten = new Map<Id, number>();
  for (const { vlan, hardware, port, untilUs } of table.entries()) {
    if (untilUs < nowMs * 1000) continue;
    const now = bridge.byId.get(port.port.id);
    if (now !== undefined && sendsBy(now.attachment)) carried.keep(vlan, hardware, now, untilUs);
    else forgotten.set(port.port.on, (forgotten.get(port.port.on) ?? 0) + 1);
  }
  to.tables.set(bridge, carried);
  return [...forgotten].map(([on, count]): CourseEvent => {
    const stations = count === 1 ? "the station" : `${count} stations`;
    return {
      atMs: nowMs,
      what: "address-table",
      at: bridge.bridge.id,
      text: `forgets ${stations} behind ${on}`,
      origin: bridge.bridge.origin,
    };
  });
}
