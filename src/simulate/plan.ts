/**
 * The simulator's own index over `(Network, Settled)`: the same things with their neighbours at hand. Private and
 * derived; built once for each pair by `planOf` and never changed afterwards.
 */
import type { Origin } from "../diagnose/index.ts";
import type {
  Bond,
  Bridge,
  BridgePort,
  Choice,
  Device,
  Id,
  Interface,
  InterfaceAddress,
  Member,
  Network,
  Port,
  Route,
  RouteTable,
  Settled,
  Stack,
  Storm,
  Table,
  TreeBlock,
} from "../network/index.ts";
import type { Test } from "./match.ts";

/** Ports that hear one another: joined by links that are up. */
export type Medium = {
  /** Id of its first link, for captures. */
  readonly link: Id;
  readonly origin: Origin;
  readonly ports: Attachment[];
};

/** What a frame can enter or leave a device by. */
export type Attachment = {
  readonly id: Id;
  readonly kind: "port" | "bond" | "own";
  readonly origin: Origin;
  /** Largest IP packet; infinite for a bridge's own port. */
  readonly mtu: number;
  /** Switched on in the configuration. */
  readonly enabled: boolean;
  /** Why nothing leaves here, for a port without a medium. */
  idle: { readonly reason: "link-down" | "nobody-connected"; readonly origin: Origin };
  /** Ports only: what it is plugged into; undefined: nothing that is up. */
  medium: Medium | undefined;
  /** The bond whose member it is. */
  memberOf: BondPlan | undefined;
  /** The bond that it is. */
  bond: BondPlan | undefined;
  /** Interfaces by the tag they take. */
  readonly tagged: Map<number, InterfacePlan>;
  /** The interface that takes untagged frames. */
  untagged: InterfacePlan | undefined;
  bridgePort: BridgePortPlan | undefined;
};

/** A bond at rest. */
export type BondPlan = {
  readonly bond: Bond;
  /** The attachment that it is. */
  readonly at: Attachment;
  readonly sends: readonly Attachment[];
  readonly takes: ReadonlySet<Id>;
  /** Why the other members do not. */
  readonly origin: Origin;
};

/** A bridge with its ports at hand. */
export type BridgePlan = {
  readonly bridge: Bridge;
  readonly ports: readonly BridgePortPlan[];
  readonly byId: ReadonlyMap<Id, BridgePortPlan>;
  /** The port towards the device's own stack. */
  readonly own: BridgePortPlan | undefined;
  /** Hardware addresses behind the own port: never learned elsewhere, never flooded. */
  readonly ownHardware: Set<number>;
  /** Storms by VLAN; -1 for all of a bridge that ignores tags. */
  readonly storms: ReadonlyMap<number, Storm>;
};

/** A bridge port. */
export type BridgePortPlan = {
  readonly port: BridgePort;
  readonly bridge: BridgePlan;
  readonly attachment: Attachment;
  readonly blocked: TreeBlock | undefined;
  /** Membership by VLAN, filled as it is asked for. */
  readonly members: Map<number, Member | undefined>;
};

/** An interface at rest. */
export type InterfacePlan = {
  readonly interface: Interface;
  readonly stack: StackPlan;
  readonly attachment: Attachment;
  readonly up: boolean;
  readonly addresses: readonly InterfaceAddress[];
  /** Keys of its own addresses. */
  readonly own: ReadonlySet<bigint>;
};

/** A service that answers packets. */
export type ListenPlan = {
  readonly id: Id;
  readonly origin: Origin;
  readonly test: Test;
  /** Keys of the addresses it is bound to; undefined: any. */
  readonly boundTo: ReadonlySet<bigint> | undefined;
};

/** A stack at rest. */
export type StackPlan = {
  readonly stack: Stack;
  readonly device: Device | undefined;
  readonly interfaces: InterfacePlan[];
  readonly byId: Map<Id, InterfacePlan>;
  readonly routes: readonly Route[];
  /** What a miss of the routes does. */
  readonly otherwise: RouteTable["otherwise"];
  /** The interfaces that have an address, by its key. */
  readonly own: Map<bigint, InterfacePlan[]>;
  /** Directed broadcast addresses of its interfaces, as IPv4 numbers. */
  readonly broadcasts: Set<bigint>;
  readonly listens: ListenPlan[];
};

/** Everything by id. */
export type Plan = {
  readonly network: Network;
  readonly settled: Settled;
  readonly attachments: ReadonlyMap<Id, Attachment>;
  readonly bridges: ReadonlyMap<Id, BridgePlan>;
  readonly stacks: ReadonlyMap<Id, StackPlan>;
  readonly interfaces: ReadonlyMap<Id, InterfacePlan>;
  readonly tables: ReadonlyMap<Id, Table>;
  /** Stacks that own an address, by its key. */
  readonly owners: ReadonlyMap<bigint, readonly StackPlan[]>;
  /** Stacks that answer for everything they have no route to. */
  readonly everywhere: readonly StackPlan[];
  readonly choices: readonly Choice[];
};

type Part = Pick<Port, "id" | "origin" | "mtu" | "enabled">;

/** An attachment that nothing stands on yet. */
export function newAttachment({ id, origin, mtu, enabled }: Part, kind: Attachment["kind"]): Attachment {
  return {
    id,
    kind,
    origin,
    mtu,
    enabled,
    idle: { reason: "nobody-connected", origin },
    medium: undefined,
    memberOf: undefined,
    bond: undefined,
    tagged: new Map(),
    untagged: undefined,
    bridgePort: undefined,
  };
}

/** Whether a bridge port is a member of a VLAN, and how the VLAN leaves there. */
export function memberOf(port: BridgePortPlan, vlan: number): Member | undefined {
  if (port.members.has(vlan)) return port.members.get(vlan);
  const number = BigInt(vlan);
  const member = port.port.members.find(({ vlans }) => vlans.some(([low, high]) => low <= number && number <= high));
  port.members.set(vlan, member);
  return member;
}

/** The thing with this id; its absence is our fault, since the description refers to it. */
export function need<Value>(map: ReadonlyMap<Id, Value>, id: Id, what: string): Value {
  const value = map.get(id);
  if (value === undefined) throw new Error(`the description has no ${what} \`${id}\``);
  return value;
}
