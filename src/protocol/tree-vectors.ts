/**
 * The election of a spanning tree (IEEE 802.1D clause 8, from memory): each bridge compares what it hears on its ports with
 * what it would say itself. A vector is lower, that is better, by root, then cost, then speaking bridge, then port.
 */
import type { Id } from "../network/index.ts";
import type { BridgeIdentifier } from "../wire/index.ts";

/** What a bridge says on a port. */
export type TreeVector = {
  /** The root as the speaker knows it. */
  readonly root: BridgeIdentifier;
  /** Cost of the speaker's path to the root. */
  readonly cost: number;
  /** The speaker. */
  readonly bridge: BridgeIdentifier;
  /** Its port: priority in the upper 4 bits of 16, number below. */
  readonly port: number;
};

/** A port that takes part in the tree. */
export type TreePortView = {
  /** Id of the bridge port. */
  readonly port: Id;
  /** 16 bits: priority and number (`treePortNumber`). */
  readonly number: number;
  /** Cost of receiving on it. */
  readonly cost: number;
};

/** A bridge with its live ports. */
export type TreeBridgeView = {
  /** Its identity. */
  readonly self: BridgeIdentifier;
  /** Ports with a link. */
  readonly ports: readonly TreePortView[];
};

/** What a port does: `root` leads towards the root, `designated` away from it, `blocked` is kept from forwarding. */
export type TreeRole = "root" | "designated" | "blocked";

/** A bridge's decision. */
export type TreeDecision = {
  /** The root. */
  readonly root: BridgeIdentifier;
  /** Cost of the way there; 0 for the root itself. */
  readonly cost: number;
  /** Each live port's role. */
  readonly roles: ReadonlyMap<Id, TreeRole>;
};

/** Port identifier from priority (0 to 240 in steps of 16) and number, counted from 1 in the order of joining. */
export function treePortNumber(priority: number, number: number): number {
  return (priority << 8) | number;
}

/** Negative when `a` is the better bridge: lower priority, then lower address. */
export function compareBridges(a: BridgeIdentifier, b: BridgeIdentifier): number {
  return a.priority - b.priority || (a.hardware < b.hardware ? -1 : a.hardware > b.hardware ? 1 : 0);
}

/** Negative when `a` is the better vector. */
export function compareVectors(a: TreeVector, b: TreeVector): number {
  return compareBridges(a.root, b.root) || a.cost - b.cost || compareBridges(a.bridge, b.bridge) || a.port - b.port;
}

/** What a bridge says on a port, given its decision. */
export function treeOffer(self: BridgeIdentifier, decision: TreeDecision, port: TreePortView): TreeVector {
  return { root: decision.root, cost: decision.cost, bridge: self, port: port.number };
}

/** Roles of a bridge's ports from the best vector heard on each; nothing heard: the port is designated. */
export function decideTree({ self, ports }: TreeBridgeView, heard: ReadonlyMap<Id, TreeVector>): TreeDecision {
  let best: TreeVector = { root: self, cost: 0, bridge: self, port: 0 };
  let rootPort: TreePortView | undefined;
  for (const port of ports) {
    const vector = heard.get(port.port);
    if (!vector || compareBridges(vector.bridge, self) === 0) continue;
    const through = { ...vector, cost: vector.cost + port.cost };
    const order = compareVectors(through, best);
    if (order < 0 || (order === 0 && rootPort && port.number < rootPort.number)) {
      best = through;
      rootPort = port;
    }
  }
  const decision = { root: best.root, cost: best.cost };
  const roles = new Map<Id, TreeRole>();
  for (const port of ports) roles.set(port.port, port === rootPort ? "root" : roleOf(port, heard.get(port.port)));
  return { ...decision, roles };

  function roleOf(port: TreePortView, vector: TreeVector | undefined): TreeRole {
    if (vector === undefined) return "designated";
    const own = { ...decision, bridge: self, port: port.number };
    return compareVectors(own, vector) < 0 ? "designated" : "blocked";
  }
}

const COST_SCALE = 20_000_000; // 20 Tb/s in Mbit/s: path cost 20 000 at 1 Gb/s
const HIGHEST_COST = 200_000_000; // RFC 4188 dot1dStpPortPathCost32

/**
 * Default path cost of a rate: 20 Tb/s divided by it (802.1D-2004 table 17-3: 10 Mb/s 2 000 000, 1 Gb/s 20 000, 10 Gb/s 2 000;
 * from memory and secondary pages), from 1 to 200 000 000. An unknown rate counts as 1 Mb/s, our choice.
 */
export function defaultPathCost(rateMbps: number): number {
  return Math.min(HIGHEST_COST, Math.max(1, Math.round(COST_SCALE / Math.max(1, rateMbps))));
}
