/**
 * Builds the simulator's index of a site at rest, kept by the identity of the pair.
 */
import { addressKey, isBroadcast, lastAddress, prefixOf } from "../address/index.ts";
import type { Bond, Bridge, Id, Network, Settled, SettledStack, Stack } from "../network/index.ts";
import { listensOf } from "./listeners.ts";
import { mediaOf } from "./media.ts";
import {
  type Attachment,
  type BondPlan,
  type BridgePlan,
  type BridgePortPlan,
  type InterfacePlan,
  need,
  newAttachment,
  type Plan,
  type StackPlan,
} from "./plan.ts";

const known = new WeakMap<Settled, Plan>();

/** The index of a site at rest. */
export function planOf(network: Network, settled: Settled): Plan {
  const earlier = known.get(settled);
  if (earlier?.network === network) return earlier;
  const plan = buildPlan(network, settled);
  known.set(settled, plan);
  return plan;
}

function buildPlan(network: Network, settled: Settled): Plan {
  const down = new Set(settled.down);
  const attachments = new Map<Id, Attachment>();
  for (const port of network.ports) attachments.set(port.id, newAttachment(port, "port"));
  for (const bond of network.bonds) attachments.set(bond.id, newAttachment({ ...bond, enabled: true }, "bond"));
  mediaOf(network, down, attachments);
  for (const bond of network.bonds) planBond(bond, settled, attachments);
  const bridges = new Map(network.bridges.map((bridge) => [bridge.id, planBridge(bridge, settled, attachments)]));
  const tables = new Map(network.tables.map((table) => [table.id, table]));
  const stacks = planStacks(network, settled, attachments, tables);
  addOwnHardware(bridges);
  const all = [...stacks.values()];
  return {
    network,
    settled,
    attachments,
    bridges,
    stacks,
    interfaces: new Map(all.flatMap((stack) => [...stack.byId])),
    tables,
    owners: ownersOf(all),
    everywhere: all.filter(({ stack }) => stack.answersFor === "everywhere"),
    choices: settled.choices,
  };
}

function planBond(bond: Bond, settled: Settled, attachments: ReadonlyMap<Id, Attachment>): void {
  const state = settled.bonds.find((candidate) => candidate.bond === bond.id);
  if (state === undefined) throw new Error(`nothing is settled about the bond \`${bond.id}\``);
  const at = need(attachments, bond.id, "bond");
  const plan: BondPlan = {
    bond,
    at,
    sends: state.sends.map((id) => need(attachments, id, "port")),
    takes: new Set(state.takes),
    origin: state.origin,
  };
  at.bond = plan;
  for (const member of bond.members) need(attachments, member, "port").memberOf = plan;
}

function planBridge(bridge: Bridge, settled: Settled, attachments: Map<Id, Attachment>): BridgePlan {
  const ports: BridgePortPlan[] = [];
  const byId = new Map<Id, BridgePortPlan>();
  const storms = settled.storms.flatMap((storm) =>
    storm.domains.filter((domain) => domain.bridge === bridge.id).map(({ vlan }) => [vlan ?? -1, storm] as const),
  );
  const plan: BridgePlan = {
    bridge,
    ports,
    byId,
    get own() {
      return ports.find(({ port }) => port.own);
    },
    ownHardware: new Set(),
    // Of several in one domain the first is told.
    storms: new Map(storms.toReversed()),
  };
  for (const port of bridge.ports) {
    if (port.own) attachments.set(port.id, newAttachment({ ...port, mtu: Infinity, enabled: true }, "own"));
    const attachment = need(attachments, port.on, "attachment");
    const blocked = settled.blocked.find((block) => block.bridge === bridge.id && block.port === port.id);
    const portPlan: BridgePortPlan = { port, bridge: plan, attachment, blocked, members: new Map() };
    attachment.bridgePort = portPlan;
    ports.push(portPlan);
    byId.set(port.id, portPlan);
  }
  return plan;
}

function planStacks(
  network: Network,
  settled: Settled,
  attachments: ReadonlyMap<Id, Attachment>,
  tables: Plan["tables"],
): Map<Id, StackPlan> {
  const devices = new Map(network.devices.map((device) => [device.id, device]));
  const atRest = new Map(settled.stacks.map((stack) => [stack.stack, stack]));
  const stacks = network.stacks.map((stack) => {
    const state = atRest.get(stack.id);
    if (state === undefined) throw new Error(`nothing is settled about the stack \`${stack.id}\``);
    return planStack(stack, state, attachments, tables, devices.get(stack.device));
  });
  const byId = new Map(stacks.map((stack) => [stack.stack.id, stack]));
  for (const service of network.services) {
    const stack = need(byId, service.stack, "stack");
    stack.listens.push(...listensOf(service, stack));
  }
  return byId;
}

function planStack(
  stack: Stack,
  state: SettledStack,
  attachments: ReadonlyMap<Id, Attachment>,
  tables: Plan["tables"],
  device: StackPlan["device"],
): StackPlan {
  const table = tables.get(stack.routes);
  if (table?.kind !== "routes") throw new Error(`\`${stack.routes}\` is no table of routes`);
  const plan: StackPlan = {
    stack,
    device,
    interfaces: [],
    byId: new Map(),
    routes: state.routes,
    routesBack: state.routesBack ?? state.routes,
    otherwise: table.otherwise,
    own: new Map(),
    anycast: new Set(),
    broadcasts: new Set(),
    listens: [],
  };
  for (const leg of stack.interfaces) addInterface(plan, leg, state, attachments);
  return plan;
}

function addInterface(
  stack: StackPlan,
  leg: Stack["interfaces"][number],
  state: SettledStack,
  attachments: ReadonlyMap<Id, Attachment>,
): void {
  const settled = state.interfaces.find((candidate) => candidate.interface === leg.id);
  const attachment = need(attachments, leg.on, "attachment");
  const addresses = settled?.addresses ?? leg.addresses;
  const { up = false, peers = [], anycast = [] } = settled ?? {};
  const own = new Set([...addresses, ...anycast].map(addressKey));
  const plan: InterfacePlan = { interface: leg, stack, attachment, up, peers, addresses, anycast, own };
  stack.interfaces.push(plan);
  stack.byId.set(leg.id, plan);
  for (const key of own) stack.own.set(key, [...(stack.own.get(key) ?? []), plan]);
  for (const address of anycast) stack.anycast.add(addressKey(address));
  for (const address of addresses) addBroadcast(stack.broadcasts, address);
  if (leg.vlan === undefined) attachment.untagged ??= plan;
  else if (!attachment.tagged.has(leg.vlan)) attachment.tagged.set(leg.vlan, plan);
}

function addBroadcast(broadcasts: Set<bigint>, address: InterfacePlan["addresses"][number]): void {
  const prefix = prefixOf(address, address.prefixLength);
  const last = lastAddress(prefix);
  if (isBroadcast(last, prefix)) broadcasts.add(last.value);
}

/** A bridge knows the addresses of the interfaces on its own port without learning them. */
function addOwnHardware(bridges: ReadonlyMap<Id, BridgePlan>): void {
  for (const { own, ownHardware } of bridges.values()) {
    const legs = own === undefined ? [] : [...own.attachment.tagged.values(), own.attachment.untagged];
    for (const leg of legs) if (leg !== undefined) ownHardware.add(Number(leg.interface.hardware));
  }
}

function ownersOf(stacks: readonly StackPlan[]): Map<bigint, StackPlan[]> {
  const owners = new Map<bigint, StackPlan[]>();
  for (const stack of stacks) {
    for (const key of stack.own.keys()) owners.set(key, [...(owners.get(key) ?? []), stack]);
  }
  return owners;
}
