/**
 * A device as a block: its text in the middle, terminals of wires along the left and right edges in the order of its ports,
 * free ones in rows at the foot. All places are relative to the block's corner.
 */
import type { PictureDevice, PictureEnd, SitePicture } from "../../result/index.ts";
import type { Flow } from "./flow.ts";
import {
  BLOCK_GAP,
  bundleWidth,
  NAME_SIZE,
  type Point,
  SMALL_LINE,
  SMALL_SIZE,
  STRAND_PITCH,
  TERMINAL,
  TERMINAL_PITCH,
  WIDEST_NAME,
  WIDEST_PORT,
  WIDEST_SMALL,
} from "./measures.ts";
import { shortened, textWidth } from "./text-size.ts";
import { lettersOfNames } from "./wire-label.ts";

/** A socket on an edge, or in a row at the foot. */
export type Terminal = Point & {
  /** Name of the port. */
  readonly port: string;
  /** What is written beside it. */
  readonly label: string;
  /** Where it is; `x` and `y` are its middle. */
  readonly side: "left" | "right" | "foot";
  /** As in the picture. */
  readonly state: "used" | "free" | "off";
  /** Height of what is plugged in. */
  readonly height: number;
};

/** Where a wire meets a block. */
export type Anchor = Point & {
  /** Id of the wire. */
  readonly wire: string;
  /** Which edge. */
  readonly side: "left" | "right";
  /** Where each strand meets it: the middles of its terminals, from the top. */
  readonly strands: readonly number[];
};

/** A line of text. */
export type TextLine = Point & {
  /** What it says, shortened to its place. */
  readonly text: string;
  /** `name` is bold. */
  readonly kind: "name" | "small";
};

/** A block without a place. */
export type Block = {
  /** Whose it is. */
  readonly device: PictureDevice;
  /** Its width. */
  readonly width: number;
  /** Its height. */
  readonly height: number;
  /** Its text, from the top. */
  readonly lines: readonly TextLine[];
  /** Its sockets. */
  readonly terminals: readonly Terminal[];
  /** Where wires meet it, by side, then from the top. */
  readonly anchors: readonly Anchor[];
};

const PAD = 8;
const LEAST_WIDTH = 56;
const FOOT_WIDTH = 190;
const FOOT_ROW = 25;

/** One wire at one edge, with the room that it takes there. */
type Slot = { readonly wire: string; readonly end: PictureEnd; readonly room: number; readonly bundle: number };

/** Room that a wire to a device takes at least, by device: as much as its block, shared among the wires that lead there, so that they run straight. */
export type Facing = ReadonlyMap<string, number>;

/** What else a block tells. */
export type BlockTexts = {
  /** Whether its addresses are shown. */
  readonly addresses: boolean;
  /** Networks of the picture, for their letters. */
  readonly networks: SitePicture["networks"];
};

/** The block of a device. */
export function blockOf(device: PictureDevice, flows: readonly Flow[], facing: Facing, texts: BlockTexts): Block {
  const order = new Map(device.ports.map(({ name }, index) => [name, index]));
  const place = ({ end }: Slot): number => order.get(end.ports[0] ?? "") ?? order.size;
  const sorted = (slots: readonly Slot[]): readonly Slot[] => [...slots].sort((a, b) => place(a) - place(b));
  const left = sorted(
    flows.flatMap((flow) => (flow.target.device === device.name ? [slotOf(flow, flow.target, 0)] : [])),
  );
  const right = sorted(
    flows.flatMap((flow) =>
      flow.source.device === device.name ? [slotOf(flow, flow.source, facing.get(flow.target.device) ?? 0)] : [],
    ),
  );
  return assembled(device, { left, right, networks: texts.networks }, textOf(device, texts.addresses));
}

function slotOf({ wire }: Flow, end: PictureEnd, facing: number): Slot {
  const bundle = bundleWidth(wire.threads.length);
  const strands = end.ports.length * STRAND_PITCH;
  const room = Math.max(TERMINAL_PITCH, bundle + 15, strands + 6, facing);
  return { wire: wire.id, end, room, bundle };
}

type Text = { readonly lines: readonly TextLine[]; readonly width: number; readonly height: number };

/** Name and kind, side by side for a host, then addresses. */
function textOf({ name, is, addresses }: PictureDevice, withAddresses: boolean): Text {
  const title = shortened(name, WIDEST_NAME, NAME_SIZE, true);
  const kind = is === "unmanaged-switch" ? "unmanaged switch" : is === "access-point" ? "access point" : is;
  const width = textWidth(title, NAME_SIZE, true);
  const beside = is === "host";
  const lines: TextLine[] = [
    { text: title, kind: "name", x: 0, y: NAME_SIZE },
    beside
      ? { text: kind, kind: "small", x: width + 6, y: NAME_SIZE }
      : { text: kind, kind: "small", x: 0, y: NAME_SIZE + SMALL_LINE },
  ];
  let bottom = NAME_SIZE + (beside ? 0 : SMALL_LINE);
  for (const { interface: at, text, by } of withAddresses ? addresses : []) {
    bottom += SMALL_LINE;
    const told = by === "stated" ? `${at} ${text}` : `${at} ${text} ${by}`;
    lines.push({ text: shortened(told, WIDEST_SMALL, SMALL_SIZE), kind: "small", x: 0, y: bottom });
  }
  const widths = lines.map(
    (line) => line.x + textWidth(line.text, line.kind === "name" ? NAME_SIZE : SMALL_SIZE, line.kind === "name"),
  );
  return { lines, width: Math.max(...widths), height: bottom + 3 };
}

type Sides = { readonly left: readonly Slot[]; readonly right: readonly Slot[] } & Pick<BlockTexts, "networks">;

function assembled(device: PictureDevice, { left, right, networks }: Sides, text: Text): Block {
  const leftColumn = columnWidth(left);
  const rightColumn = columnWidth(right);
  const widest = Math.max(FOOT_WIDTH, leftColumn + rightColumn + text.width);
  const foot = footOf(device, [...left, ...right], { widest, networks });
  const width = Math.ceil(Math.max(LEAST_WIDTH, foot.width + 2 * PAD, leftColumn + rightColumn + text.width + 2 * PAD));
  const body = Math.ceil(Math.max(text.height + PAD, roomOf(left), roomOf(right)));
  const textTop = Math.max(4, body > 2 * text.height ? PAD : (body - text.height) / 2);
  const edges = [
    edgeOf(device, left, { side: "left", x: 0, body }),
    edgeOf(device, right, { side: "right", x: width, body }),
  ];
  return {
    device,
    width,
    height: body + foot.height,
    lines: text.lines.map((line) => ({ ...line, x: line.x + leftColumn + PAD, y: line.y + textTop })),
    terminals: [
      ...edges.flatMap(({ terminals }) => terminals),
      ...foot.terminals.map((terminal) => ({ ...terminal, x: terminal.x + PAD, y: terminal.y + body })),
    ],
    anchors: edges.flatMap(({ anchors }) => anchors),
  };
}

function roomOf(slots: readonly Slot[]): number {
  return slots.reduce((sum, { room }) => sum + room, 0);
}

function columnWidth(slots: readonly Slot[]): number {
  if (slots.length === 0) return 0;
  const widths = slots.flatMap(({ end }) => end.ports.map((port) => textWidth(labelOf(port), SMALL_SIZE)));
  return Math.max(...widths) + TERMINAL / 2 + 4;
}

function labelOf(port: string): string {
  return shortened(port, WIDEST_PORT, SMALL_SIZE);
}

/** Slots one below the other; a few of them stand in the middle of the edge. */
function edgeOf(
  { ports }: PictureDevice,
  slots: readonly Slot[],
  { side, x, body }: { readonly side: "left" | "right"; readonly x: number; readonly body: number },
): Pick<Block, "terminals" | "anchors"> {
  const off = new Set(ports.flatMap(({ name, state }) => (state === "off" ? [name] : [])));
  const terminals: Terminal[] = [];
  const anchors: Anchor[] = [];
  // At the left edge they lie as far apart as at the block that they come from (see `Facing`).
  const spare = side === "left" ? Math.max(0, body + BLOCK_GAP - roomOf(slots)) / Math.max(slots.length, 1) : 0;
  let top = (body - roomOf(slots) - spare * slots.length) / 2;
  for (const { wire, end, room: least, bundle } of slots) {
    const room = least + spare;
    const y = top + room / 2;
    const strands = end.ports.map((_, index) => y + (index - (end.ports.length - 1) / 2) * STRAND_PITCH);
    const height = end.ports.length > 1 ? TERMINAL : Math.max(TERMINAL, bundle);
    anchors.push({ wire, side, x, y, strands });
    for (const [index, port] of end.ports.entries()) {
      const state = off.has(port) ? "off" : "used";
      terminals.push({ port, label: labelOf(port), side, state, x, y: strands[index] ?? y, height });
    }
    top += room;
  }
  return { terminals, anchors };
}

/**
 * Ports that no wire meets, in rows; of a run of numbered ones all but the first show their number alone. What carries a network
 * that is drawn nowhere else has its letter.
 */
function footOf(
  { ports }: PictureDevice,
  slots: readonly Slot[],
  { widest, networks }: { readonly widest: number; readonly networks: SitePicture["networks"] },
): { readonly terminals: readonly Terminal[]; readonly width: number; readonly height: number } {
  const met = new Set(slots.flatMap(({ end }) => end.ports));
  const terminals: Terminal[] = [];
  let [x, row, width, before] = [0, 0, 0, ""];
  for (const { name, state, alone = [] } of ports) {
    if (met.has(name)) continue;
    const letters = alone.length === 0 ? "" : ` ${lettersOfNames(alone, networks)}`;
    const [, stem = name, digits = ""] = /^(.*?)(\d*)$/su.exec(name) ?? [];
    const short = stem === before && digits !== "" && x > 0 ? digits : name;
    let label = `${labelOf(short)}${letters}`;
    let cell = Math.max(TERMINAL, textWidth(label, SMALL_SIZE)) + 5;
    if (x > 0 && x + cell > widest) {
      [x, row] = [0, row + 1];
      label = `${labelOf(name)}${letters}`;
      cell = Math.max(TERMINAL, textWidth(label, SMALL_SIZE)) + 5;
    }
    const shown = state === "off" ? "off" : "free";
    terminals.push({
      port: name,
      label,
      side: "foot",
      state: shown,
      x: x + cell / 2,
      y: row * FOOT_ROW + 7,
      height: TERMINAL,
    });
    x += cell;
    before = stem;
    width = Math.max(width, x);
  }
  return { terminals, width, height: terminals.length === 0 ? 0 : (row + 1) * FOOT_ROW + 2 };
}
