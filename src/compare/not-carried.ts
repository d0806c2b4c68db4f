/**
 * The port that keeps a packet from the way that it goes on the other side: the first on that way that does not carry its VLAN
 * here. Copies of a frame that is sent to all end everywhere, and none of their ends says what became of the one that went on.
 */
import type { BridgePort, Fate, Id, Network, PathStep } from "../network/index.ts";
import { memberOf } from "../settle/index.ts";

/** Where a way cannot be gone. */
export type NotCarried = {
  /** What becomes of the packet there. */
  readonly fate: Fate;
  /** The way up to there. */
  readonly before: readonly PathStep[];
  /** The rest of it. */
  readonly after: readonly PathStep[];
};

/** The first such port in a network; undefined: all that are there carry it. */
export function notCarried(path: readonly PathStep[], network: Network): NotCarried | undefined {
  for (const [index, step] of path.entries()) {
    // It goes out of a bridge where it was looked up, and comes in where it is classified; the first port is its sender's.
    const bridge = step.did === "lookup" || (step.did === "classify" && index > 1) ? step.at : undefined;
    const socket = path[step.did === "lookup" ? index + 1 : index - 1]?.at;
    const vlan = path.slice(0, index + 1).findLast(({ did, at }) => did === "classify" && at === bridge);
    const port = bridge === undefined ? undefined : portAt(bridge, socket, network);
    const number = Number(/^VLAN (\d+)/.exec(vlan?.detail ?? "")?.[1]);
    if (port === undefined || Number.isNaN(number) || memberOf(port, number) !== undefined) continue;
    if (step.did === "classify" && !port.ingressFilter) continue;
    const fate = { end: "dropped", reason: "not-member", at: port.id, origin: port.otherwise } as const;
    return { fate, before: path.slice(0, index), after: path.slice(index + 1) };
  }
  return undefined;
}

/** The port of a bridge at a socket, or at the bond that has it. */
function portAt(bridge: Id, socket: Id | undefined, { bridges, bonds }: Network): BridgePort | undefined {
  const bond = bonds.find(({ members }) => socket !== undefined && members.includes(socket));
  return bridges.find(({ id }) => id === bridge)?.ports.find(({ on }) => on === socket || on === bond?.id);
}
