/**
 * What is wrong with a layout: blocks over one another, text out of its block or over other text, wires that do not end at
 * their terminals, that run through blocks or along one another, labels over something. One line each; none: all is well.
 */
import type { Block } from "../../../src/report/picture/block.ts";
import type { Line } from "../../../src/report/picture/flow.ts";
import type { PictureLayout } from "../../../src/report/picture/layout.ts";
import {
  type Box,
  bundleWidth,
  NAME_SIZE,
  type Point,
  SMALL_SIZE,
  TERMINAL,
} from "../../../src/report/picture/measures.ts";
import { textWidth } from "../../../src/report/picture/text-size.ts";
import { labelBox } from "../../../src/report/picture/wire-label.ts";

type Named = { readonly name: string; readonly box: Box };

/** Everything that is wrong. */
export function faultsOf(layout: PictureLayout): string[] {
  const blocks = layout.blocks.map(({ x, y, block: { device, width, height } }) => ({
    name: device.name,
    box: { x, y, width, height },
  }));
  const labels = layout.lines.map((line) => ({
    name: `label of ${line.wire.id}`,
    box: labelBox(line, layout.picture),
  }));
  return [
    ...meetings(blocks, blocks),
    ...layout.blocks.flatMap(({ block, atEdge }) => textFaults(block, atEdge)),
    ...layout.lines.flatMap((line) => endFaults(line, layout)),
    ...meetings(layout.lines.flatMap(pieces), blocks),
    ...alongFaults(layout.lines),
    ...meetings(labels, blocks),
    ...meetings(labels, labels),
    ...meetings(
      labels,
      layout.lines.flatMap((line) => pieces(line).map(({ name, box }) => ({ name: `label of ${name}`, box }))),
    ),
    ...outside([...blocks, ...labels], layout),
  ];
}

/** Pairs of boxes of different names that share more than their edges. */
function meetings(some: readonly Named[], others: readonly Named[]): string[] {
  const found = some.flatMap((one) =>
    others.flatMap((other) =>
      one.name !== other.name && meet(one.box, other.box) ? [[one.name, other.name].sort().join(" meets ")] : [],
    ),
  );
  return [...new Set(found)];
}

const SLACK = 0.5;

function meet(a: Box, b: Box): boolean {
  return (
    a.x + a.width > b.x + SLACK &&
    b.x + b.width > a.x + SLACK &&
    a.y + a.height > b.y + SLACK &&
    b.y + b.height > a.y + SLACK
  );
}

/** What is written in a block, as boxes. */
function textsOf({ lines, terminals }: Block): readonly Named[] {
  const above = (size: number): number => size * 0.8;
  return [
    ...lines.map(({ text, kind, x, y }): Named => {
      const size = kind === "name" ? NAME_SIZE : SMALL_SIZE;
      const width = textWidth(text, size, kind === "name");
      return { name: `text ${text}`, box: { x, y: y - above(size), width, height: size } };
    }),
    ...terminals.map(({ label, port, side, x, y }): Named => {
      const width = textWidth(label, SMALL_SIZE);
      const left =
        side === "left" ? x + TERMINAL / 2 + 4 : side === "right" ? x - TERMINAL / 2 - 4 - width : x - width / 2;
      const baseline = side === "foot" ? y + TERMINAL / 2 + 10.5 : y + 3.5;
      return { name: `port ${port}`, box: { x: left, y: baseline - above(SMALL_SIZE), width, height: SMALL_SIZE } };
    }),
  ];
}

function textFaults(block: Block, atEdge: boolean): string[] {
  const texts = textsOf(block);
  const { width, height, device } = block;
  const over = meetings(texts, texts);
  // Beyond the edge no block is drawn, but its text must not run into the sheet.
  const out = texts.filter(
    ({ box }) =>
      box.x < -SLACK ||
      box.x + box.width > width + SLACK ||
      (!atEdge && (box.y < -SLACK || box.y + box.height > height + SLACK)),
  );
  return [...over, ...out.map(({ name }) => `${name} leaves its block`)].map((fault) => `${device.name}: ${fault}`);
}

function endFaults({ wire, route, turned }: Line, { blocks }: PictureLayout): string[] {
  const [first, last] = [route[0], route.at(-1)];
  const ends = turned ? [wire.ends[1], wire.ends[0]] : wire.ends;
  return [first, last].flatMap((point, index) => {
    const side = index === 0 ? "right" : "left";
    const placed = blocks.find(({ block }) => block.device.name === ends[index]?.device);
    const terminals =
      placed?.block.terminals.filter(
        (terminal) => terminal.side === side && ends[index]?.ports.includes(terminal.port),
      ) ?? [];
    const middle = terminals.reduce((sum, { y }) => sum + y, 0) / terminals.length;
    const at =
      placed === undefined || terminals[0] === undefined
        ? undefined
        : { x: placed.x + terminals[0].x, y: placed.y + middle };
    const fits =
      point !== undefined && at !== undefined && Math.abs(point.x - at.x) <= SLACK && Math.abs(point.y - at.y) <= SLACK;
    return fits ? [] : [`${wire.id} does not end at its terminal of ${ends[index]?.device}`];
  });
}

/** The pieces of a wire with the width of its threads; what touches its own blocks is left out. */
function pieces({ wire, route }: Line): readonly Named[] {
  const half = bundleWidth(wire.threads.length) / 2;
  return route.slice(1).map((to, index): Named => {
    const from = route[index] ?? to;
    const level = Math.abs(from.y - to.y) < 0.01;
    const [x, y] = [Math.min(from.x, to.x), Math.min(from.y, to.y)];
    const box = level
      ? { x, y: y - half, width: Math.abs(from.x - to.x), height: 2 * half }
      : { x: x - half, y: y, width: 2 * half, height: Math.abs(from.y - to.y) };
    return { name: wire.id, box };
  });
}

/** Wires may cross one another, but not share a piece of their way. */
function alongFaults(lines: readonly Line[]): string[] {
  const isLevel = (box: Box): boolean => box.width >= box.height;
  const all = lines.flatMap(pieces).filter(({ box }) => Math.max(box.width, box.height) > 1);
  const pairs = all.flatMap((one, index) =>
    all
      .slice(index + 1)
      .flatMap((other) =>
        one.name !== other.name && isLevel(one.box) === isLevel(other.box) && meet(one.box, other.box)
          ? [`${one.name} runs along ${other.name}`]
          : [],
      ),
  );
  return [...new Set(pairs)];
}

function outside(boxes: readonly Named[], { area }: PictureLayout): string[] {
  const corners = ({ x, y, width, height }: Box): readonly Point[] => [
    { x, y },
    { x: x + width, y: y + height },
  ];
  const isOut = ({ x, y }: Point): boolean =>
    x < 0 || y < area.y || x > area.x + area.width || y > area.y + area.height;
  return boxes.filter(({ box }) => corners(box).some(isOut)).map(({ name }) => `${name} leaves the sheet`);
}
