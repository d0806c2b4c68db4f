/**
 * The spanning tree at rest: bridges that run one tell each other their best vectors, round by round, until nothing changes.
 * One tree for all VLANs, blind to membership. A port with a BPDU guard that hears a bridge is shut instead.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Bridge, Choice, Id, Pick, TreeBlock, TreePort, TreeSettings } from "../network/index.ts";
import {
  compareBridges,
  compareVectors,
  decideTree,
  defaultPathCost,
  type TreeBridgeView,
  type TreeDecision,
  type TreeVector,
  treeOffer,
  treePortNumber,
} from "../protocol/index.ts";
import { sendersOf, type Wires } from "./exits.ts";
import { linkRate } from "./links.ts";
import type { BridgePlace } from "./plant.ts";
import { hearingOf } from "./tree-hearing.ts";

/** The tree's outcome. */
export type SettledTree = {
  /** Ports kept from forwarding; sorted by port. */
  readonly blocked: readonly TreeBlock[];
  /** Attachments of ports that their guard has to shut. */
  readonly guarded: readonly { readonly block: TreeBlock; readonly on: Id }[];
  /** Habits that nobody knows and that matter. */
  readonly choices: readonly Choice[];
};

/** A bridge that runs a tree. */
export type TreeBridge = Bridge & {
  /** What it runs. */
  readonly tree: TreeSettings;
};

/** One bridge on the way to the fixpoint. */
type Node = {
  readonly view: TreeBridgeView;
  decision: TreeDecision;
};

/** The tree under the wires given. */
export function settleTree(wires: Wires, picks: readonly Pick[]): SettledTree {
  const bridges = treeBridgesOf(wires.plant);
  const speakers = bridges.flatMap((bridge) => livePlaces(wires, bridge));
  const { heardBy, choices } = hearingOf(wires, speakers, picks);
  const guarded = guardedPorts(speakers, heardBy);
  if (guarded.length > 0) return { blocked: [], guarded, choices };
  const nodes = elect(wires, bridges, heardBy);
  const blocked = speakers.filter(
    ({ bridge, port }) => nodes.get(bridge.id)?.decision.roles.get(port.id) === "blocked",
  );
  return { blocked: blocked.map(blockOf).sort(byPort), guarded: [], choices };
}

/** What matters to the tree and nobody knows. */
export function treeChoices(wires: Wires, picks: readonly Pick[]): readonly Choice[] {
  const speakers = treeBridgesOf(wires.plant).flatMap((bridge) => livePlaces(wires, bridge));
  return speakers.length === 0 ? [] : hearingOf(wires, speakers, picks).choices;
}

/** Bridges that run a tree. */
export function treeBridgesOf({ network }: Wires["plant"]): readonly TreeBridge[] {
  return network.bridges.filter((bridge): bridge is TreeBridge => bridge.tree !== undefined);
}

function byPort(a: TreeBlock, b: TreeBlock): number {
  return a.port < b.port ? -1 : 1;
}

function blockOf({ bridge, port }: BridgePlace): TreeBlock {
  const origin: Origin = { by: "learned", from: "spanning-tree", span: port.origin.span };
  return { bridge: bridge.id, port: port.id, origin };
}

function livePlaces({ plant, carrier, bonds, members }: Wires, bridge: Bridge): BridgePlace[] {
  const wires = { plant, carrier, bonds, members };
  return bridge.ports.flatMap((port, index) =>
    !port.own && sendersOf(wires, port.on).length > 0 ? [{ bridge, port, number: index + 1 }] : [],
  );
}

/** Ports with a guard that hear a bridge. Before anything is settled every port of a tree speaks. */
function guardedPorts(
  speakers: readonly BridgePlace[],
  heardBy: ReadonlyMap<Id, readonly Id[]>,
): SettledTree["guarded"] {
  const hearing = new Set([...heardBy.values()].flat());
  return speakers
    .filter(({ bridge, port }) => hearing.has(port.id) && treePort(bridge.tree, port.id)?.guard)
    .map((place) => ({ block: blockOf(place), on: place.port.on }));
}

function treePort(tree: TreeSettings | undefined, port: Id): TreePort | undefined {
  return tree?.ports.find((candidate) => candidate.port === port);
}

function elect(
  wires: Wires,
  bridges: readonly TreeBridge[],
  heardBy: ReadonlyMap<Id, readonly Id[]>,
): ReadonlyMap<Id, Node> {
  const nodes = new Map(bridges.map((bridge) => [bridge.id, nodeOf(wires, bridge)]));
  const heardFrom = turnRound(heardBy);
  const offers = new Map<Id, TreeVector>();
  const silent = new Set(nodes.keys());
  // The best bridge speaks first: its word reaches all others before they ever claim to be the root, so that each of
  // them decides a few times only. Whoever it does not reach speaks for itself afterwards.
  for (const id of [...nodes].sort(([, a], [, b]) => compareBridges(a.view.self, b.view.self)).map(([key]) => key)) {
    if (silent.has(id)) spread(id);
  }
  return nodes;

  function spread(first: Id): void {
    let told = new Set([first]);
    // Word travels one bridge a round; the bound only matters where frames pass one way.
    for (let round = 0; told.size > 0 && round <= 2 * nodes.size + 2; round++) {
      for (const id of told) silent.delete(id);
      const hearing = speakAll(wires, nodes, told, offers, heardBy);
      told = new Set([...hearing].filter((id) => decideAgain(nodes.get(id), heardFrom, offers)));
    }
  }
}

function nodeOf(wires: Wires, bridge: TreeBridge): Node {
  const ports = livePlaces(wires, bridge).map((place) => portView(wires, bridge, place));
  const view = { self: identityOf(bridge), ports };
  return { view, decision: decideTree(view, new Map()) };
}

/** A bridge as it names itself. */
export function identityOf({ tree, hardware }: TreeBridge): TreeBridgeView["self"] {
  return { priority: tree.priority, hardware };
}

/** A port of a bridge as the tree sees it; its cost is that of what is up, where none is stated. */
export function portView(
  wires: Wires,
  { tree }: TreeBridge,
  { port, number }: BridgePlace,
): TreeBridgeView["ports"][number] {
  const settings = treePort(tree, port.id);
  return {
    port: port.id,
    number: treePortNumber(settings?.priority ?? 128, number),
    cost: settings?.cost ?? defaultPathCost(rateOf(wires, port.on)),
  };
}

/** A bond counts with the sum of its live members. */
function rateOf(wires: Wires, attachment: Id): number {
  return sendersOf(wires, attachment).reduce((sum, port) => sum + linkRate(wires.plant, wires.carrier, port), 0);
}

function turnRound(heardBy: ReadonlyMap<Id, readonly Id[]>): ReadonlyMap<Id, readonly Id[]> {
  const heardFrom = new Map<Id, Id[]>();
  for (const [speaker, listeners] of heardBy) {
    for (const listener of listeners) heardFrom.set(listener, [...(heardFrom.get(listener) ?? []), speaker]);
  }
  return heardFrom;
}

/** Bridges whose decision changed say so on their designated ports; the bridges that hear a change are returned. */
function speakAll(
  { plant }: Wires,
  nodes: ReadonlyMap<Id, Node>,
  told: ReadonlySet<Id>,
  offers: Map<Id, TreeVector>,
  heardBy: ReadonlyMap<Id, readonly Id[]>,
): ReadonlySet<Id> {
  const hearing = new Set<Id>();
  for (const id of told) {
    const node = nodes.get(id);
    for (const port of node?.view.ports ?? []) {
      if (!node || !say(node, port, offers)) continue;
      for (const listener of heardBy.get(port.port) ?? []) hearing.add(plant.places.get(listener)?.bridge.id ?? "");
    }
  }
  return hearing;
}

/** Puts a port's offer where the others find it; false when it is the one that stands there. */
function say({ view, decision }: Node, port: TreeBridgeView["ports"][number], offers: Map<Id, TreeVector>): boolean {
  const before = offers.get(port.port);
  if (decision.roles.get(port.port) !== "designated") return offers.delete(port.port);
  const offer = treeOffer(view.self, decision, port);
  if (before && compareVectors(before, offer) === 0) return false;
  offers.set(port.port, offer);
  return true;
}

/** Decides anew from what is heard; whether anything changed. */
function decideAgain(
  node: Node | undefined,
  heardFrom: ReadonlyMap<Id, readonly Id[]>,
  offers: ReadonlyMap<Id, TreeVector>,
): boolean {
  if (!node) return false;
  const heard = new Map<Id, TreeVector>();
  for (const { port } of node.view.ports) {
    const best = bestOf((heardFrom.get(port) ?? []).flatMap((speaker) => offers.get(speaker) ?? []));
    if (best) heard.set(port, best);
  }
  const before = node.decision;
  node.decision = decideTree(node.view, heard);
  return describe(before) !== describe(node.decision);
}

function bestOf(vectors: readonly TreeVector[]): TreeVector | undefined {
  return vectors.reduce<TreeVector | undefined>(
    (best, vector) => (!best || compareVectors(vector, best) < 0 ? vector : best),
    undefined,
  );
}

function describe({ root, cost, roles }: TreeDecision): string {
  return `${root.priority} ${root.hardware} ${cost} ${[...roles.values()].join(" ")}`;
}
