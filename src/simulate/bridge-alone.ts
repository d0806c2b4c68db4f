/**
 * One bridge on its own: a frame through its steps without a network around it, for questions about single steps.
 */
import type { Hardware } from "../address/index.ts";
import type { Bridge, Id, TreeBlock } from "../network/index.ts";
import type { Frame } from "../wire/index.ts";
import { type BridgeCrossing, bridgeFrame as crossBridge, type Stop } from "./bridge-frame.ts";
import { type BridgePlan, type BridgePortPlan, newAttachment } from "./plan.ts";

/** What a bridge has learned and settled. */
export type BridgeSituation = {
  /** Stations heard: VLAN (-1: the one table of a bridge that ignores tags), address, id of the bridge port. Default: none. */
  readonly learned?: readonly (readonly [vlan: number, hardware: Hardware, port: Id])[];
  /** Ports that the tree blocks. Default: none. */
  readonly blocked?: readonly TreeBlock[];
  /** Largest IP packet of a port, by id of the bridge port. Default: no limit. */
  readonly mtus?: ReadonlyMap<Id, number>;
  /** Habit taken where it is unknown what becomes of reserved groups. Default: none. */
  readonly habit?: "pass" | "eat";
};

/** What becomes of a frame in a bridge. */
export type BridgePassing = Omit<BridgeCrossing, "exits"> & {
  /** Copies at other ports, in their order. */
  readonly exits: readonly {
    /** Id of the bridge port. */
    readonly port: Id;
    /** As it leaves. */
    readonly frame: Frame;
    /** It does not leave after all. */
    readonly stop?: Stop;
  }[];
};

/** Takes a frame that comes in at a port through the steps of a bridge. Throws when there is no such port. */
export function bridgeFrame(bridge: Bridge, ingress: Id, frame: Frame, situation: BridgeSituation = {}): BridgePassing {
  const plan = planAlone(bridge, situation);
  const port = plan.byId.get(ingress);
  if (port === undefined) throw new Error(`\`${bridge.id}\` has no port \`${ingress}\``);
  const { learned = [], habit } = situation;
  const crossing = crossBridge(port, frame, {
    find: (vlan, hardware) => {
      const entry = learned.find(([at, station]) => at === vlan && station === hardware);
      return entry && plan.byId.get(entry[2]);
    },
    habit: () => habit,
  });
  const exits = crossing.exits.map(({ port: exit, frame: out, stop }) => {
    return { port: exit.port.id, frame: out, ...(stop === undefined ? {} : { stop }) };
  });
  return { ...crossing, exits };
}

function planAlone(bridge: Bridge, { blocked = [], mtus }: BridgeSituation): BridgePlan {
  const ports: BridgePortPlan[] = [];
  const byId = new Map<Id, BridgePortPlan>();
  const plan: BridgePlan = { bridge, ports, byId, own: undefined, ownHardware: new Set(), storms: new Map() };
  for (const port of bridge.ports) {
    const mtu = mtus?.get(port.id) ?? Number.POSITIVE_INFINITY;
    const attachment = newAttachment({ id: port.on, origin: port.origin, mtu, enabled: true }, "port");
    const block = blocked.find((each) => each.port === port.id);
    const portPlan: BridgePortPlan = { port, bridge: plan, attachment, blocked: block, members: new Map() };
    ports.push(portPlan);
    byId.set(port.id, portPlan);
  }
  return plan;
}
