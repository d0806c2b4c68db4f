/**
 * What devices on the way of an exchange remember that is so no more: bridges that know a station at a port where it is not heard,
 * stacks that know an address at a station that has it no longer.
 */
import { formatAddress, formatHardware, keyAddress } from "../../address/index.ts";
import { deviceOf } from "../../network/index.ts";
import { type Evidence, tellSpan } from "../../result/index.ts";
import type { InterfacePlan, Plan } from "../plan.ts";
import type { ProbeResult } from "../results.ts";
import { placeOf } from "../stations.ts";
import type { Memory } from "./carry-over.ts";

/** Each as a sentence fragment with the line of who remembers, in the order of the way. */
export function staleIn(memory: Memory, { path, answerPath }: ProbeResult, nowMs: number): readonly Evidence[] {
  const way = [...new Set([...path, ...answerPath].map(({ at }) => at))];
  return way.flatMap((at) => [...tablesAt(at, memory, nowMs), ...neighboursAt(at, memory, nowMs)]);
}

function tablesAt(at: string, { plan, tables }: Memory, nowMs: number): readonly Evidence[] {
  const bridge = plan.bridges.get(at);
  const table = bridge && tables.get(bridge);
  if (bridge === undefined || table === undefined) return [];
  return [...table.entries()].flatMap(({ vlan, hardware, untilUs }): Evidence[] => {
    const station = BigInt(hardware);
    const port = table.find(vlan, station, nowMs * 1000);
    const place = placeOf(plan, bridge, vlan, station);
    if (port === undefined || place === undefined || place === port) return [];
    const who = stationIn(plan, station)?.interface.id ?? formatHardware(station);
    const left = tellSpan(untilUs / 1000 - nowMs);
    const text = `${deviceOf(at)} still sends what is for ${who} to ${port.port.on}, for ${left} at most`;
    return [{ origin: bridge.bridge.origin, text }];
  });
}

function neighboursAt(at: string, { plan, memories }: Memory, nowMs: number): readonly Evidence[] {
  const stack = plan.stacks.get(at);
  const neighbours = stack && memories.get(stack)?.neighbours;
  return [...(neighbours ?? [])].flatMap(([leg, byAddress]) =>
    [...byAddress].flatMap(([key, { state }]): Evidence[] => {
      const owners = [...plan.interfaces.values()].filter(({ own }) => own.has(key));
      if (state.state !== "known" || owners.some((owner) => owner.interface.hardware === state.hardware)) return [];
      const origin = stack?.byId.get(leg)?.interface.origin;
      if (origin === undefined || owners.length === 0) return [];
      const who = stationIn(plan, state.hardware)?.interface.id ?? formatHardware(state.hardware);
      const since = state.untilMs > nowMs ? "" : ", though not for long any more";
      return [{ origin, text: `${deviceOf(at)} still takes ${formatAddress(keyAddress(key))} to be ${who}${since}` }];
    }),
  );
}

function stationIn({ interfaces }: Plan, hardware: bigint): InterfacePlan | undefined {
  return [...interfaces.values()].find((leg) => leg.interface.hardware === hardware);
}
