/**
 * Wires: threads side by side, bonds with their strands braided into one line, radios dotted, blocked ports barred.
 */
import type { PictureEnd, PictureThread, PictureWire, SitePicture } from "../../result/index.ts";
import type { Anchor } from "./block.ts";
import { crossAt, shortTold } from "./draw-block.ts";
import type { Line } from "./flow.ts";
import type { Lit } from "./lit.ts";
import { bundleWidth, type Point, THREAD_PITCH, threadPitch } from "./measures.ts";
import { at, firstPiece, lengthOf, movedAside, pathAlong, pointAfter } from "./polyline.ts";
import { el, num, pieces, type Svg } from "./svg.ts";
import { dottedStyle, type ThreadStyle, threadStyle } from "./thread-style.ts";
import { BRAID, labelBox, wireLabel } from "./wire-label.ts";

/** Both places where a wire meets its blocks, on the sheet: left end, right end. */
export type Anchors = readonly [Anchor, Anchor];

/** Draws a wire. */
export function drawWire(line: Line, anchors: Anchors, picture: SitePicture, lit: Lit): Svg {
  const { wire } = line;
  const state = lit.wire(wire);
  const broken = lit.brokenStrands(wire) > 0;
  const told = tellWire(wire, picture, broken);
  const classes = ["dp-wire", ...(state === "aside" ? ["dp-aside"] : [])];
  return el(
    "g",
    { class: classes.join(" "), role: "img" },
    pieces([
      el("title", {}, told),
      ...(state === "lit" ? halo(line) : []),
      ...(wire.kind === "radio" ? radio(line, picture) : cable(line, anchors, { picture, lit })),
      ...bars(line),
      ...labelOf(line, picture),
      ...(broken ? [crossOn(line)] : []),
    ]),
  );
}

/** What a screen reader says of a wire. */
export function tellWire(wire: PictureWire, picture: SitePicture, broken: boolean): string {
  const { kind, ends, threads, up } = wire;
  const { text, lacking } = wireLabel(wire, picture);
  const blocked = ends.filter((end) => end.blocked).map(({ device }) => `blocked by spanning tree at ${device}`);
  const names = threads
    .filter(({ carriedBy }) => carriedBy === "both")
    .map(({ network, tagged }) => `${network}${tagged ? " tagged" : ""}`);
  const parts = [
    `${kind} ${ends.map(tellEnd).join(" to ")}`,
    text,
    ...(names.length === 0 ? [] : [names.join(", ")]),
    ...(lacking === "" ? [] : [lacking]),
    ...blocked,
    ...(up ? [] : ["down"]),
    ...(broken ? ["broken"] : []),
  ];
  return shortTold(parts.filter((part) => part !== "").join("; "));
}

function tellEnd({ device, ports, bond }: PictureEnd): string {
  return `${device}:${bond === undefined ? "" : `${bond} = `}${ports.join("+")}`;
}

type Ways = { readonly picture: SitePicture; readonly lit: Lit };

function cable(line: Line, anchors: Anchors, ways: Ways): Svg[] {
  const count = line.wire.threads.length;
  const isBond = line.wire.kind === "bond";
  const tied = isBond ? { ...line, route: betweenTies(line.route, anchors) } : line;
  const hull = el("path", { class: "dp-sheath", "stroke-width": bundleWidth(count) + 5, d: pathAlong(tied.route) });
  return [...(count > 1 || isBond ? [hull] : []), ...threadsOf(tied, ways), ...(isBond ? braids(line, anchors) : [])];
}

/** Threads side by side, each in its own place; what carries none that has a name is a line of ink. */
function threadsOf(line: Line, { picture, lit }: Ways): Svg[] {
  const { wire, route } = line;
  const { threads } = wire;
  if (threads.length === 0 || !wire.up)
    return [el("path", { class: wire.up ? "dp-line" : "dp-down", d: pathAlong(route) })];
  const indexes = new Map(picture.networks.map(({ name }, index) => [name, index]));
  const pitch = threadPitch(threads.length);
  return threads.flatMap((thread, place) => {
    const way = movedAside(route, (place - (threads.length - 1) / 2) * pitch);
    const drawn = drawThread(thread, way, {
      turned: line.turned,
      style: threadStyle(indexes.get(thread.network) ?? 0, pitch / THREAD_PITCH),
    });
    const aside = lit.wire(wire) === "lit" && lit.thread(wire, thread.network) === "aside";
    return aside ? [el("g", { class: "dp-aside" }, ...drawn)] : drawn;
  });
}

/** A thread that one end lacks stops on the way, at an open ring; one that both lack leaves its place empty. */
function drawThread(
  { carriedBy }: PictureThread,
  way: readonly Point[],
  { turned, style }: { readonly turned: boolean; readonly style: ThreadStyle },
): Svg[] {
  if (carriedBy === "neither") return [];
  if (carriedBy === "both") return strokes(pathAlong(way), style);
  const fromLeft = (carriedBy === "first") !== turned;
  const piece = firstPiece(fromLeft ? way : [...way].reverse(), lengthOf(way) * 0.42);
  const end = piece.at(-1) ?? { x: 0, y: 0 };
  return [...strokes(pathAlong(piece), style), el("circle", { class: "dp-stop", cx: end.x, cy: end.y, r: 3 })];
}

function strokes(d: string, { outline, core }: ThreadStyle): Svg[] {
  return [el("path", { ...outline, d }), el("path", { ...core, d })];
}

/** The way without the pieces where strands are still apart. */
function betweenTies(route: readonly Point[], [left, right]: Anchors): readonly Point[] {
  const short = (way: readonly Point[], { strands }: Anchor): readonly Point[] =>
    strands.length > 1 ? firstPiece(way, lengthOf(way) - BRAID) : way;
  return [...short([...short(route, right)].reverse(), left)].reverse();
}

/** Each strand crosses over to the other side of the bundle, where a tie holds them. */
function braids({ route, wire }: Line, anchors: Anchors): Svg[] {
  const half = bundleWidth(wire.threads.length) / 2 + 2;
  return anchors.flatMap((anchor, side) => {
    const [start, towards] = [side === 0 ? route[0] : route.at(-1), side === 0 ? 1 : -1];
    if (start === undefined || anchor.strands.length < 2) return [];
    const tie = start.x + towards * BRAID;
    const count = anchor.strands.length;
    const strands = anchor.strands.map((y, index) => {
      const to = start.y + ((count - 1) / 2 - index) * Math.min(6, (2 * half) / count);
      const bend = start.x + (towards * BRAID) / 2;
      return el("path", {
        class: "dp-line",
        d: `M${at({ x: start.x, y })}C${num(bend)} ${num(y)} ${num(bend)} ${num(to)} ${at({ x: tie, y: to })}`,
      });
    });
    return [
      ...strands,
      el("rect", { class: "dp-tie", x: tie - 2.5, y: start.y - half - 3, width: 5, height: 2 * half + 6, rx: 2.5 }),
    ];
  });
}

/** Dots along an arc, and waves at the end that sends. */
function radio({ route, wire, turned }: Line, picture: SitePicture): Svg[] {
  const [thread] = wire.threads;
  const index = picture.networks.findIndex(({ name }) => name === thread?.network);
  const [left, right] = [route[0], route.at(-1)];
  if (left === undefined || right === undefined) return [];
  const senderLeft = turned;
  const sender = senderLeft ? left : right;
  const towards = senderLeft ? 1 : -1;
  const waves = [5, 9].map((radius) => {
    const [x, dy] = [sender.x + towards * (radius + 3), radius * 0.8];
    return el("path", {
      class: "dp-line",
      d: `M${num(x)} ${num(sender.y - dy)}Q${num(x + towards * radius * 0.6)} ${num(sender.y)} ${num(x)} ${num(sender.y + dy)}`,
    });
  });
  return [...strokes(arc(route), dottedStyle(index < 0 ? undefined : index)), ...waves];
}

/** Between neighbouring layers a free curve, which meets no block; along a longer way the way itself. */
function arc(route: readonly Point[]): string {
  const [left, right] = [route[0], route.at(-1)];
  const turns = new Set(route.slice(1, -1).map(({ x }) => Math.round(x)));
  if (left === undefined || right === undefined || turns.size > 1) return pathAlong(route);
  const middle = (left.x + right.x) / 2;
  const lift = Math.abs(left.y - right.y) < 8 ? 9 : 0;
  return `M${at(left)}C${num(middle)} ${num(left.y - lift)} ${num(middle)} ${num(right.y - lift)} ${at(right)}`;
}

/** A short bar across the line of a port that spanning tree blocks. */
function bars({ wire, route, turned }: Line): Svg[] {
  const half = bundleWidth(wire.threads.length) / 2 + 6;
  const away = wire.kind === "bond" ? BRAID + 10 : 12;
  return wire.ends.flatMap(({ blocked }, index) => {
    const atLeft = (index === 0) !== turned;
    const { x, y } = pointAfter(atLeft ? route : [...route].reverse(), away);
    return blocked ? [el("path", { class: "dp-bar", d: `M${num(x)} ${num(y - half)}V${num(y + half)}` })] : [];
  });
}

function halo({ wire, route }: Line): Svg[] {
  const width = bundleWidth(wire.threads.length) + 7;
  const d = wire.kind === "radio" ? arc(route) : pathAlong(route);
  return [
    el("path", { class: "dp-halo-ink", "stroke-width": width + 2, d }),
    el("path", { class: "dp-halo", "stroke-width": width, d }),
  ];
}

function labelOf(line: Line, picture: SitePicture): Svg[] {
  const { text, lacking } = wireLabel(line.wire, picture);
  if (text === "" && lacking === "") return [];
  const { x, y, width, height } = labelBox(line, picture);
  const lack = lacking === "" ? [] : [el("tspan", { class: "dp-lacking" }, `${text === "" ? "" : " "}${lacking}`)];
  const place = { x: x + width, y: y + height - 2, "text-anchor": "end" };
  return [el("text", { class: "dp-wire-label", ...place }, text, ...lack)];
}

function crossOn({ route }: Line): Svg {
  const { x, y } = pointAfter(route, lengthOf(route) / 2);
  return crossAt(x, y, 8);
}

/** A piece of a thread for the legend. */
export function sample(index: number, { x, y }: Point): Svg {
  return el("g", {}, ...strokes(`M${num(x)} ${num(y)}H${num(x + 44)}`, threadStyle(index)));
}
