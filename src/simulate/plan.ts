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
  /** Why it exists: its first link. */
  readonly origin: Origin;
  /** All ports on it. */
  readonly ports: Attachment[];
};

/** What a frame can enter or leave a device by. */
export type Attachment = {
  /** Id of the port, bond or bridge port. */
  readonly id: Id;
  /** What it is; `own`: a bridge's own port. */
  readonly kind: "port" | "bond" | "own";
  /** Why it exists. */
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
  /** The bridge port on it. */
  bridgePort: BridgePortPlan | undefined;
};

/** A bond at rest. */
export type BondPlan = {
  /** As described. */
  readonly bond: Bond;
  /** The attachment that it is. */
  readonly at: Attachment;
  /** Members that send, in the order of joining. */
  readonly sends: readonly Attachment[];
  /** Ids of the members that take what arrives. */
  readonly takes: ReadonlySet<Id>;
  /** Why the other members do not. */
  readonly origin: Origin;
};

/** A bridge with its ports at hand. */
export type BridgePlan = {
  /** As described. */
  readonly bridge: Bridge;
  /** In the order of joining. */
  readonly ports: readonly BridgePortPlan[];
  /** Its ports by id. */
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
  /** As described. */
  readonly port: BridgePort;
  /** The bridge it belongs to. */
  readonly bridge: BridgePlan;
  /** What it stands on. */
  readonly attachment: Attachment;
  /** Set where the spanning tree blocks it. */
  readonly blocked: TreeBlock | undefined;
  /** Membership by VLAN, filled as it is asked for. */
  readonly members: Map<number, Member | undefined>;
};

/** An interface at rest. */
export type InterfacePlan = {
  /** As described. */
  readonly interface: Interface;
  /** The stack it belongs to. */
  readonly stack: StackPlan;
  /** What it stands on. */
  readonly attachment: Attachment;
  /** Its attachment has carrier, and it has a peer where it needs one. */
  readonly up: boolean;
  /** Ids of the interfaces at the far ends of its sessions; empty: none. */
  readonly peers: readonly Id[];
  /** Stated, leased and advertised ones. */
  readonly addresses: readonly InterfaceAddress[];
  /** Subnet-router anycast addresses of its prefixes. */
  readonly anycast: readonly InterfaceAddress[];
  /** Keys of its own addresses, anycast ones included. */
  readonly own: ReadonlySet<bigint>;
};

/** A service that takes packets. */
export type ListenPlan = {
  /** Id of the service. */
  readonly id: Id;
  /** Why it listens. */
  readonly origin: Origin;
  /** What it takes. */
  readonly test: Test;
  /** It answers what it takes. */
  readonly answers: boolean;
  /** Keys of the addresses it is bound to; undefined: any. */
  readonly boundTo: ReadonlySet<bigint> | undefined;
};

/** A stack at rest. */
export type StackPlan = {
  /** As described. */
  readonly stack: Stack;
  /** Its device. */
  readonly device: Device | undefined;
  /** In document order. */
  readonly interfaces: InterfacePlan[];
  /** Its interfaces by id. */
  readonly byId: Map<Id, InterfacePlan>;
  /** Routes that hold now. */
  readonly routes: readonly Route[];
  /** Those that tell where a source belongs. */
  readonly routesBack: readonly Route[];
  /** What a miss of the routes does. */
  readonly otherwise: RouteTable["otherwise"];
  /** The interfaces that have an address, by its key; anycast ones included. */
  readonly own: Map<bigint, InterfacePlan[]>;
  /** Keys of those that are anycast (RFC 4291 section 2.6.1): no connection comes to them, and no packet begins there. */
  readonly anycast: Set<bigint>;
  /** Directed broadcast addresses of its interfaces, as IPv4 numbers. */
  readonly broadcasts: Set<bigint>;
  /** What answers packets. */
  readonly listens: ListenPlan[];
};

/** Everything by id. */
export type Plan = {
  /** The description. */
  readonly network: Network;
  /** The site at rest. */
  readonly settled: Settled;
  /** Ports, bonds and bridges' own ports by id. */
  readonly attachments: ReadonlyMap<Id, Attachment>;
  /** Bridges by id. */
  readonly bridges: ReadonlyMap<Id, BridgePlan>;
  /** Stacks by id. */
  readonly stacks: ReadonlyMap<Id, StackPlan>;
  /** Interfaces of all stacks by id. */
  readonly interfaces: ReadonlyMap<Id, InterfacePlan>;
  /** Tables by id. */
  readonly tables: ReadonlyMap<Id, Table>;
  /** Stacks that own an address, by its key. */
  readonly owners: ReadonlyMap<bigint, readonly StackPlan[]>;
  /** Stacks that answer for everything they have no route to. */
  readonly everywhere: readonly StackPlan[];
  /** What settling left open. */
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
