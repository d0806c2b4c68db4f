/**
 * A site left alone: carrier, bonds, spanning tree, storms, sessions, routes, in this order, each from what was found before. A port
 * that a BPDU guard shuts takes its link down with it, so then everything is asked again.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Choice, Id, Network, Pick, Settled, SettledBond, TreeBlock } from "../network/index.ts";
import { settleBonds } from "./bonds.ts";
import { equalPathChoice, makeChoice } from "./choices.ts";
import { exitsOf, type Wires } from "./exits.ts";
import { type Carrier, carrierOf } from "./links.ts";
import { type Plant, plantOf } from "./plant.ts";
import { settleStacks } from "./routes.ts";
import { settleSessions } from "./sessions.ts";
import { stormsOf } from "./storms.ts";
import { settleTree, treeChoices } from "./tree.ts";

/** Under which circumstances a site is settled. */
export type SettleConditions = {
  /** What is taken of what stays open. Default: the first option of everything. */
  readonly picks?: readonly Pick[];
  /** Failed links, ports, bonds, devices and shared fates. Default: none. */
  readonly down?: readonly Id[];
  /** On-demand links and tunnels to raise. Default: none. */
  readonly up?: readonly Id[];
  /**
   * The state that this comes upon: bonds keep what carries (kernel facts 40 and 43). A guard that shut a port is asked anew.
   * Default: none, everything starts at once.
   */
  readonly before?: Settled;
  /** How links stand at a moment on the way, in place of what they come to. Default: they are left alone until they rest. */
  readonly standing?: Standing;
};

/** The link layer at a moment, as its protocols have brought it there. */
export type Standing = {
  /** One for each bond of the network. */
  readonly bonds: readonly SettledBond[];
  /** Ports that the spanning tree keeps from forwarding now. */
  readonly blocked: readonly TreeBlock[];
  /** Ports whose link a BPDU guard has taken down, members of bonds included. */
  readonly shut: readonly Id[];
};

/** What a site becomes, leases and advertised addresses left out (`bindings` is empty; see `withBindings`). */
export function settle(network: Network, conditions: SettleConditions = {}): Settled {
  const plant = plantOf(network);
  const picks = conditions.picks ?? [];
  const { wires, tree, shut } = settleLinkLayer(plant, conditions, picks);
  const blocked = [...shut.blocks, ...tree.blocked].sort((a, b) => (a.port < b.port ? -1 : 1));
  const stops = new Map<Id, Origin>(blocked.map(({ port, origin }) => [port, origin]));
  const storms = stormsOf(wires, stops);
  const stacks = settleStacks(wires, settleSessions(wires, stops, storms));
  const paths = stacks.flatMap(({ routes }) => routes.flatMap((route) => equalPathChoice(route) ?? []));
  const open = [...wires.carrier.choices, ...tree.choices, ...memberChoices(wires), ...paths];
  return {
    picks,
    down: downOf(plant, wires),
    bonds: [...wires.bonds.values()],
    blocked,
    storms,
    bindings: [],
    stacks,
    givenUp: [],
    choices: open.sort((a, b) => (a.id < b.id ? -1 : 1)),
  };
}

type LinkLayer = {
  readonly wires: Wires;
  readonly tree: { readonly blocked: readonly TreeBlock[]; readonly choices: readonly Choice[] };
  readonly shut: { readonly blocks: readonly TreeBlock[] };
};

function settleLinkLayer(plant: Plant, conditions: SettleConditions, picks: readonly Pick[]): LinkLayer {
  const { down, up, before, standing } = conditions;
  const failed = failedOf(plant, down ?? []);
  if (standing !== undefined) {
    const shut = new Set(standing.shut);
    const carrier = carrierOf(plant, { picks, down: failed, up: new Set(up), shut });
    const wires = wiresOf(plant, carrier, standing.bonds);
    return { wires, tree: { blocked: standing.blocked, choices: treeChoices(wires, picks) }, shut: { blocks: [] } };
  }
  const shut = new Set<Id>();
  const blocks: TreeBlock[] = [];
  for (;;) {
    const carrier = carrierOf(plant, { picks, down: failed, up: new Set(up), shut });
    const wires = wiresOf(plant, carrier, settleBonds(plant, carrier, before?.bonds));
    const tree = settleTree(wires, picks);
    if (tree.guarded.length === 0) return { wires, tree, shut: { blocks } };
    for (const { block, on } of tree.guarded) {
      blocks.push(block);
      for (const port of plant.bonds.get(on)?.members ?? [on]) shut.add(port);
    }
  }
}

/** What failed, members of failed bonds included. */
function failedOf({ network }: Plant, down: readonly Id[]): ReadonlySet<Id> {
  const failed = new Set(down);
  for (const bond of network.bonds) if (failed.has(bond.id)) for (const member of bond.members) failed.add(member);
  return failed;
}

/** The link layer with its bonds. */
export function wiresOf(plant: Plant, carrier: Carrier, bonds: readonly SettledBond[]): Wires {
  return { plant, carrier, bonds: new Map(bonds.map((bond) => [bond.bond, bond])), members: new Map() };
}

function downOf(plant: Plant, { carrier, bonds }: Wires): Id[] {
  return [
    ...plant.network.ports.filter(({ id }) => !carrier.ports.has(id)).map(({ id }) => id),
    ...plant.network.links.filter(({ id }) => !carrier.links.has(id)).map(({ id }) => id),
    ...[...bonds.values()].filter(({ sends }) => sends.length === 0).map(({ bond }) => bond),
  ].sort();
}

/** A bond whose members end in different places, or some of them nowhere, may put a flow on any of them. */
function memberChoices(wires: Wires): Choice[] {
  return [...wires.bonds.values()].flatMap((settled) => {
    const bond = wires.plant.bonds.get(settled.bond);
    if (!bond || settled.sends.length < 2 || !endsDiffer(wires, settled)) return [];
    return [makeChoice("bond-member", bond.id, settled.sends, bond.origin)];
  });
}

function endsDiffer(wires: Wires, { bond }: SettledBond): boolean {
  const ends = new Map<Id, Set<string>>();
  for (const { by, into, idle } of exitsOf(wires, bond)) {
    const far = ends.get(by) ?? new Set();
    ends.set(by, far.add(idle ? "" : into));
  }
  return new Set([...ends.values()].map((far) => [...far].sort().join(" "))).size > 1;
}
