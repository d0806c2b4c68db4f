/**
 * A picture that is laid out, as SVG: the sheet, its wires, its blocks, what stands below.
 */
import type { PictureLights } from "../../result/index.ts";
import type { Anchor } from "./block.ts";
import { drawBlock, shortTold } from "./draw-block.ts";
import { drawLegend, drawTunnels, drawWords } from "./draw-foot.ts";
import { drawInk, drawSheets, type Ink } from "./draw-paper.ts";
import { type Anchors, drawWire } from "./draw-wire.ts";
import type { Line } from "./flow.ts";
import { drawnWidth } from "./focus.ts";
import type { PictureLayout } from "./layout.ts";
import { type Lit, litBy } from "./lit.ts";
import { MARGIN } from "./measures.ts";
import { HEADED, paperOf } from "./paper.ts";
import { styleSheet } from "./style.ts";
import { el, label, num, pieces, type Svg } from "./svg.ts";
import { shortened, textWidth } from "./text-size.ts";

/** How a picture is drawn. */
export type PictureOptions = {
  /** What ids begin with, so that several pictures fit into one page: a letter, then letters, digits, `-`. Default: `dryrack`. */
  readonly prefix?: string;
  /** What is lit. Default: nothing. */
  readonly lights?: PictureLights;
  /** It is a file of its own, and says itself on what paper it is printed. Default: it stands in a page. */
  readonly alone?: boolean;
};

/** Draws it: one `<svg>` element, in a page followed by one for each sheet of paper where it takes several; ends in a newline. */
export function drawPicture(
  layout: PictureLayout,
  { prefix = "dryrack", lights = {}, alone = false }: PictureOptions = {},
): string {
  if (!/^[A-Za-z][A-Za-z0-9-]*$/.test(prefix)) throw new Error(`${prefix} cannot begin an id`);
  const { picture, area } = layout;
  const lit = litBy(picture, lights);
  const tunnels = drawTunnels(layout, area.y + area.height, lit);
  const legend = drawLegend(layout, area.y + area.height + tunnels.height + 8);
  const sheetHeight = area.height + tunnels.height + 8 + legend.height;
  const words = drawWords(layout, area.y + sheetHeight, lit);
  const size = {
    width: drawnWidth(layout),
    height: Math.ceil(area.y + sheetHeight + words.height + MARGIN),
  };
  const paper = paperOf(layout, {
    ...size,
    headed: alone ? 0 : HEADED,
    below: [area.y + area.height, area.y + sheetHeight].map((top, index) => [
      top,
      top + (index === 0 ? tunnels.height + 8 + legend.height : words.height),
    ]),
  });
  const inks: readonly Ink[] = [
    { svg: el("rect", { class: "dp-ground", width: size.width, height: size.height }) },
    ...drawSheet(layout, sheetHeight).map((svg) => ({ svg })),
    ...linesLitLast(layout, lit).map((line) => inkOf(line, layout, lit)),
    ...layout.blocks.map((placed): Ink => {
      return { svg: drawBlock(placed, picture, lit), along: [placed.y, placed.y + placed.block.height] };
    }),
    ...[...tunnels.svg, ...legend.svg, ...words.svg].map(
      (svg): Ink => ({ svg, along: [area.y + area.height, size.height] }),
    ),
  ];
  const svg = el(
    "svg",
    {
      xmlns: "http://www.w3.org/2000/svg",
      id: prefix,
      class: "dp-drawing",
      viewBox: `0 0 ${size.width} ${size.height}`,
      width: size.width,
      height: size.height,
      preserveAspectRatio: "xMinYMin meet",
      role: "graphics-document document",
      "aria-labelledby": `${prefix}-title ${prefix}-desc`,
    },
    pieces([
      el("title", { id: `${prefix}-title` }, shortTold(`Site ${picture.site}`)),
      el("desc", { id: `${prefix}-desc` }, tellPicture(layout, lights, lit)),
      { xml: `<style>${styleSheet(prefix, paper, size, alone)}</style>` },
      drawInk(inks, paper, prefix),
      ...(alone ? drawSheets(inks, paper, prefix, size.width) : []),
    ]),
  );
  return `${[svg, ...(alone ? [] : drawSheets(inks, paper, prefix))].map(({ xml }) => xml).join("\n")}\n`;
}

/** A wire, with what it takes from the top: that of its way and of its ends. */
function inkOf(line: Line, layout: PictureLayout, lit: Lit): Ink {
  const anchors = anchorsOf(line, layout);
  const heights = [...line.route.map(({ y }) => y), ...anchors.flatMap(({ y, strands }) => [y, ...strands])];
  return { svg: drawWire(line, anchors, layout.picture, lit), along: [Math.min(...heights), Math.max(...heights)] };
}

/** What is lit is drawn over what steps back. */
function linesLitLast({ lines }: PictureLayout, lit: Lit): readonly Line[] {
  const isLit = ({ wire }: Line): boolean => lit.wire(wire) === "lit";
  return [...lines.filter((line) => !isLit(line)), ...lines.filter(isLit)];
}

/** Title, frame, and the left edge, which is thick where upstreams come in. */
function drawSheet({ picture, area, blocks }: PictureLayout, height: number): Svg[] {
  const name = shortened(picture.site, 420, 18, true);
  const wires = picture.wires.length;
  const count = `${picture.devices.length} devices, ${wires} ${wires === 1 ? "line" : "lines"}`;
  const upstreams = blocks.filter(({ atEdge }) => atEdge);
  const title = [
    label(area.x, area.y - 16, name, { class: "dp-title" }),
    label(area.x + textWidth(name, 18, true) + 12, area.y - 16, count, { class: "dp-small" }),
  ];
  const frame = el("rect", { class: "dp-sheet", x: area.x, y: area.y, width: area.width, height });
  const edge = el("path", { class: "dp-edge", d: `M${num(area.x)} ${num(area.y)}V${num(area.y + height)}` });
  return [...title, frame, ...(upstreams.length > 0 ? [edge] : [])];
}

function anchorsOf({ wire, turned }: Line, { blocks }: PictureLayout): Anchors {
  const [first, second] = wire.ends;
  const ends = turned ? [second, first] : [first, second];
  const [left, right] = ends.map(({ device }, index): Anchor => {
    const placed = blocks.find(({ block }) => block.device.name === device);
    const side = index === 0 ? "right" : "left";
    const anchor = placed?.block.anchors.find((each) => each.wire === wire.id && each.side === side);
    if (placed === undefined || anchor === undefined) throw new Error(`${wire.id} meets no block`);
    const { x, y } = placed;
    return { ...anchor, x: anchor.x + x, y: anchor.y + y, strands: anchor.strands.map((strand) => strand + y) };
  });
  if (left === undefined || right === undefined) throw new Error(`${wire.id} has no two ends`);
  return [left, right];
}

/** What a screen reader says of the whole. */
function tellPicture(
  { picture }: PictureLayout,
  { network, path, broken = [] }: PictureLights,
  { flags }: Lit,
): string {
  const kinds = new Map<string, number>();
  for (const { kind } of picture.wires) kinds.set(kind, (kinds.get(kind) ?? 0) + 1);
  const wires = [...kinds].map(([kind, count]) => `${count} ${kind}${count === 1 ? "" : "s"}`).join(", ");
  const lead = flags.length === 0 ? "" : `A way is lit, by ${flags.map(({ device }) => device).join(", ")}: `;
  const sentences = [
    `${picture.devices.length} devices, ${wires === "" ? "nothing joins them" : `joined by ${wires}`}.`,
    ...(network === undefined ? [] : [`The network ${network} is lit.`]),
    ...(path === undefined ? [] : [`${lead}${path.sentence}.`]),
    ...(broken.length === 0 ? [] : [`Broken: ${broken.join(", ")}.`]),
  ];
  return shortTold(sentences.join(" "));
}
