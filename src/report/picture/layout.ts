/**
 * Where everything stands: components below one another, the upstreams' sockets all on the sheet's left edge, what nothing
 * joins in rows below, tunnels under the fold. A picture is laid out once; what is lit on it moves nothing.
 */
import type { PictureDevice, PictureWire, SitePicture } from "../../result/index.ts";
import { arrange } from "./arrange.ts";
import { type Block, blockOf } from "./block.ts";
import { type Component, componentsOf, type Line } from "./flow.ts";
import { BLOCK_GAP, type Box, MARGIN, type Point } from "./measures.ts";

/** What belongs to the layout. */
export type LayoutOptions = {
  /** Shows the addresses of devices. Default: false. */
  readonly addresses?: boolean;
};

/** A picture with the place of everything. */
export type PictureLayout = {
  /** What is drawn. */
  readonly picture: SitePicture;
  /** Blocks with their corners, in document order. */
  readonly blocks: readonly Placed[];
  /** Wires with their ways, in the order of the picture; tunnels are among `tunnels`. */
  readonly lines: readonly Line[];
  /** Tunnels, which are drawn under the fold. */
  readonly tunnels: readonly PictureWire[];
  /** The sheet's left edge, where upstreams come in; their blocks lie beyond it. */
  readonly edge: number;
  /** What the blocks and wires take, without the margin. */
  readonly area: Box;
};

/** A block with its corner. */
export type Placed = Point & {
  /** It. */
  readonly block: Block;
  /** True for an upstream at the sheet's edge. */
  readonly atEdge: boolean;
};

/** Height of the title. */
const HEAD = 44;
const COMPONENT_GAP = 28;
const LOOSE_WIDTH = 900;

/** Lays out a picture. */
export async function layoutPicture(
  picture: SitePicture,
  { addresses = false }: LayoutOptions = {},
): Promise<PictureLayout> {
  const components = componentsOf(picture);
  const blocks = evenUpstreams(picture.devices, components, blocksOf(picture, components, addresses));
  const beyond = Math.max(
    0,
    ...components.flatMap((component) =>
      component.devices.filter((device) => isAtEdge(device, component)).map(({ name }) => blocks.get(name)?.width ?? 0),
    ),
  );
  const edge = MARGIN + beyond + (beyond > 0 ? 6 : 0);
  const joined = components.filter(({ flows }) => flows.length > 0);
  const placed: Placed[] = [];
  const lines: Line[] = [];
  let top = HEAD + MARGIN;
  let right = edge + 320;
  for (const component of joined) {
    const { size, corners, routes } = await arrange(component, blocks, picture);
    const left = component.devices.some((device) => isAtEdge(device, component)) ? edge - beyond : edge + MARGIN;
    for (const device of component.devices) {
      const corner = corners.get(device.name);
      const block = blocks.get(device.name);
      if (corner === undefined || block === undefined) throw new Error(`${device.name} has no place`);
      placed.push({ block, x: corner.x + left, y: corner.y + top, atEdge: isAtEdge(device, component) });
    }
    for (const { wire, source } of component.flows) {
      const route = (routes.get(wire.id) ?? []).map(({ x, y }) => ({ x: x + left, y: y + top }));
      lines.push({ wire, route, turned: wire.ends[0] !== source });
    }
    top += size.height + COMPONENT_GAP;
    right = Math.max(right, left + size.width);
  }
  const loose = looseBlocks(components, blocks, { x: edge + MARGIN, y: top });
  placed.push(...loose);
  for (const { x, y, block } of loose)
    [right, top] = [Math.max(right, x + block.width), Math.max(top, y + block.height + COMPONENT_GAP)];
  const order = new Map(picture.devices.map(({ name }, index) => [name, index]));
  placed.sort((a, b) => (order.get(a.block.device.name) ?? 0) - (order.get(b.block.device.name) ?? 0));
  const area = { x: edge, y: HEAD, width: right + MARGIN - edge, height: top - HEAD };
  return { picture, blocks: placed, lines, tunnels: picture.wires.filter(({ kind }) => kind === "tunnel"), edge, area };
}

/** An upstream that nothing leads into stands beyond the edge. */
function isAtEdge({ name, is }: PictureDevice, { flows }: Component): boolean {
  return is === "upstream" && flows.length > 0 && !flows.some(({ target }) => target.device === name);
}

/** A terminal keeps room for a block that it faces, so that the wire runs straight; for tall ones it does not. */
const TALLEST_FACED = 120;

/** Every block; those at the right first, since what they take decides how far the terminals that they face lie apart. */
function blocksOf(
  { devices, networks }: SitePicture,
  components: readonly Component[],
  addresses: boolean,
): Map<string, Block> {
  const flows = components.flatMap((component) => component.flows);
  const blocks = new Map<string, Block>();
  const byName = new Map(devices.map((device) => [device.name, device]));
  const facing = new Map<string, number>();
  const pending = devices.map(({ name }) => name);
  for (let name = pending.pop(); name !== undefined; name = pending.pop()) {
    const device = byName.get(name);
    if (device === undefined || blocks.has(name)) continue;
    const touching = flows.filter(({ wire }) => wire.ends.some((end) => end.device === name));
    const open = touching.filter(
      ({ source, target }) => source.device === name && target.device !== name && !blocks.has(target.device),
    );
    if (open.length > 0) {
      pending.push(name, ...open.map(({ target }) => target.device));
      continue;
    }
    const block = blockOf(device, touching, facing, { addresses, networks });
    blocks.set(name, block);
    const entering = touching.filter(({ target }) => target.device === name);
    const fromOne = new Set(entering.map(({ source }) => source.device)).size === 1;
    if (fromOne && block.height <= TALLEST_FACED) facing.set(name, (block.height + BLOCK_GAP) / entering.length);
  }
  return blocks;
}

/** Upstreams at the edge are equally wide, so that their sockets lie on one line. */
function evenUpstreams(
  devices: readonly PictureDevice[],
  components: readonly Component[],
  blocks: Map<string, Block>,
): ReadonlyMap<string, Block> {
  const names = devices.filter((device) =>
    components.some((component) => component.devices.includes(device) && isAtEdge(device, component)),
  );
  const width = Math.max(0, ...names.map(({ name }) => blocks.get(name)?.width ?? 0));
  for (const { name } of names) {
    const block = blocks.get(name);
    if (block === undefined) continue;
    const more = width - block.width;
    const moved = <Part extends Point & { readonly side?: string }>(part: Part): Part =>
      part.side === "left" || part.side === "foot" ? part : { ...part, x: part.x + more };
    blocks.set(name, {
      ...block,
      width,
      lines: block.lines.map(moved),
      terminals: block.terminals.map(moved),
      anchors: block.anchors.map(moved),
    });
  }
  return blocks;
}

/** What nothing joins, in rows. */
function looseBlocks(
  components: readonly Component[],
  blocks: ReadonlyMap<string, Block>,
  from: Point,
): readonly Placed[] {
  const placed: Placed[] = [];
  let [x, y, row] = [from.x, from.y, 0];
  for (const { devices, flows } of components) {
    for (const { name } of flows.length === 0 ? devices : []) {
      const block = blocks.get(name);
      if (block === undefined) throw new Error(`${name} has no block`);
      if (x > from.x && x + block.width > from.x + LOOSE_WIDTH) [x, y, row] = [from.x, y + row + BLOCK_GAP, 0];
      placed.push({ block, x, y, atEdge: false });
      x += block.width + BLOCK_GAP;
      row = Math.max(row, block.height);
    }
  }
  return placed;
}
