/**
 * Where the blocks of one component stand and how its wires run between them: layers from left to right, worked out by the
 * layout library, which is loaded here and nowhere else. Ports keep their places on the blocks and blocks their order, so a
 * small change moves little; no chance is involved.
 */
import type { ElkExtendedEdge, ElkNode, LayoutOptions as ElkOptions } from "elkjs";
import type { SitePicture } from "../../result/index.ts";
import type { Block } from "./block.ts";
import type { Component, Flow } from "./flow.ts";
import { BLOCK_GAP, type Box, bundleWidth, type Point } from "./measures.ts";
import { labelRoom } from "./wire-label.ts";

/** A component with a place for everything, its corner at the origin. */
export type Arranged = {
  /** Its size. */
  readonly size: Pick<Box, "width" | "height">;
  /** Corners of the blocks, by device. */
  readonly corners: ReadonlyMap<string, Point>;
  /** Middle lines of the wires from source to target, by id of the wire; each turns at right angles. */
  readonly routes: ReadonlyMap<string, readonly Point[]>;
};

/** Arranges a component. */
export async function arrange(
  { devices, flows }: Component,
  blocks: ReadonlyMap<string, Block>,
  picture: SitePicture,
): Promise<Arranged> {
  const entered = new Set(flows.map(({ target }) => target.device));
  const children = devices.map(({ name, is }): ElkNode => {
    const block = blocks.get(name);
    if (block === undefined) throw new Error(`${name} has no block`);
    return nodeOf(block, is === "upstream" && !entered.has(name));
  });
  const edges = flows.map(
    ({ wire, source, target }): ElkExtendedEdge => ({
      id: `wire ${wire.id}`,
      sources: [portId(source.device, wire.id, "right")],
      targets: [portId(target.device, wire.id, "left")],
    }),
  );
  const done = await (await engine()).layout({ id: "all", layoutOptions: optionsFor(flows, picture), children, edges });
  return {
    size: { width: done.width ?? 0, height: done.height ?? 0 },
    corners: new Map((done.children ?? []).map(({ id, x = 0, y = 0 }) => [id.slice("block ".length), { x, y }])),
    routes: new Map((done.edges ?? []).map((edge) => [edge.id.slice("wire ".length), routeOf(edge)])),
  };
}

type Engine = { readonly layout: (graph: ElkNode) => Promise<ElkNode> };

async function engine(): Promise<Engine> {
  const { default: Elk } = await import("elkjs");
  // A CommonJS package: what its types call the default export is the module itself or stands in it, as the bundler has it.
  const Maker = (typeof Elk === "function" ? Elk : (Elk as { readonly default: unknown }).default) as new () => Engine;
  return new Maker();
}

function nodeOf({ device, width, height, anchors }: Block, first: boolean): ElkNode {
  return {
    id: `block ${device.name}`,
    width,
    height,
    layoutOptions: {
      "elk.portConstraints": "FIXED_POS",
      "elk.alignment": "LEFT",
      ...(first ? { "elk.layered.layering.layerConstraint": "FIRST" } : {}),
    },
    ports: anchors.map(({ wire, side, x, y }) => ({
      id: portId(device.name, wire, side),
      width: 0,
      height: 0,
      x,
      y,
      layoutOptions: { "elk.port.side": side === "left" ? "WEST" : "EAST" },
    })),
  };
}

function portId(device: string, wire: string, side: "left" | "right"): string {
  return `port ${device} ${side} ${wire}`;
}

/** Room between layers for the widest label, room between lines for the most threads. */
function optionsFor(flows: readonly Flow[], picture: SitePicture): ElkOptions {
  const bundle = Math.max(0, ...flows.map(({ wire }) => bundleWidth(wire.threads.length)));
  const label = Math.max(0, ...flows.map(({ wire }) => labelRoom(wire, picture)));
  return {
    "elk.algorithm": "layered",
    "elk.direction": "RIGHT",
    "elk.edgeRouting": "ORTHOGONAL",
    "elk.randomSeed": "1",
    "elk.separateConnectedComponents": "false",
    "elk.padding": "[top=0,left=0,bottom=0,right=0]",
    "elk.spacing.nodeNode": `${BLOCK_GAP}`,
    "elk.spacing.edgeEdge": `${bundle + 6}`,
    "elk.spacing.edgeNode": `${bundle / 2 + 10}`,
    "elk.layered.spacing.nodeNodeBetweenLayers": `${label + bundle / 2 + 30}`,
    "elk.layered.spacing.edgeNodeBetweenLayers": `${label + bundle / 2 + 8}`,
    "elk.layered.spacing.edgeEdgeBetweenLayers": `${bundle + 6}`,
    "elk.layered.considerModelOrder.strategy": "NODES_AND_EDGES",
    "elk.layered.crossingMinimization.forceNodeModelOrder": "true",
    // Aligned to the upper left: of the ways to place blocks the one with the fewest turns, and what is added moves only what is below.
    "elk.layered.nodePlacement.strategy": "BRANDES_KOEPF",
    "elk.layered.nodePlacement.bk.fixedAlignment": "LEFTUP",
  };
}

function routeOf({ id, sections }: ElkExtendedEdge): readonly Point[] {
  const [section] = sections ?? [];
  if (section === undefined) throw new Error(`${id} has no route`);
  return [section.startPoint, ...(section.bendPoints ?? []), section.endPoint].map(({ x, y }) => ({ x, y }));
}
