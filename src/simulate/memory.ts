/**
 * What each stack remembers, made when it is first needed.
 */
import { type Address, addressKey } from "../address/index.ts";
import { UNKNOWN_NEIGHBOUR } from "../protocol/index.ts";
import { ConnectionTable } from "./connection-table.ts";
import { MappingTable } from "./mappings.ts";
import type { InterfacePlan, StackPlan } from "./plan.ts";
import type { NeighbourEntry, StackMemory, World } from "./world.ts";

/** The memory of a stack. */
export function memoryOf(world: World, stack: StackPlan): StackMemory {
  const known = world.memories.get(stack);
  if (known !== undefined) return known;
  const memory: StackMemory = {
    connections: new ConnectionTable(),
    mappings: new MappingTable(),
    neighbours: new Map(),
    fragments: new Map(),
    sockets: new Map(),
  };
  world.memories.set(stack, memory);
  return memory;
}

/** The entry of an interface's neighbour cache for an address; undefined: nobody ever asked. */
export function neighbourOf(world: World, leg: InterfacePlan, address: Address): NeighbourEntry | undefined {
  return memoryOf(world, leg.stack).neighbours.get(leg.interface.id)?.get(addressKey(address));
}

/** The entry of an interface's neighbour cache for an address, made if there is none. */
export function neighbourEntry(world: World, leg: InterfacePlan, address: Address): NeighbourEntry {
  const { neighbours } = memoryOf(world, leg.stack);
  const byAddress = neighbours.get(leg.interface.id) ?? new Map<bigint, NeighbourEntry>();
  neighbours.set(leg.interface.id, byAddress);
  const key = addressKey(address);
  const known = byAddress.get(key);
  if (known !== undefined) return known;
  const entry: NeighbourEntry = { state: UNKNOWN_NEIGHBOUR, waiting: [], asked: undefined, cancel: undefined };
  byAddress.set(key, entry);
  return entry;
}

/** Stacks that ever asked for an address: they take what its owner says of itself, whomever it asks for (RFC 826). */
export function askersOf(world: World, address: Address): readonly StackPlan[] {
  const key = addressKey(address);
  return [...world.memories].flatMap(([stack, { neighbours }]) =>
    [...neighbours.values()].some((byAddress) => byAddress.has(key)) ? [stack] : [],
  );
}

/** Virtual time in whole milliseconds, as the protocol machines count: a timer of theirs is never a fraction too early. */
export function nowMs(world: World): number {
  return Math.floor(world.nowUs / 1000);
}
