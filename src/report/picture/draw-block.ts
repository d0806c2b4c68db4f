/**
 * Devices as blocks with their terminals, and the flags that stand on them.
 */
import type { PictureDevice, SitePicture } from "../../result/index.ts";
import type { Terminal, TextLine } from "./block.ts";
import type { Placed } from "./layout.ts";
import type { Flag, Lit } from "./lit.ts";
import { TERMINAL } from "./measures.ts";
import { el, label, pieces, type Svg } from "./svg.ts";
import { plainText, rateText } from "./text-size.ts";
import { threadStyle } from "./thread-style.ts";

/** Draws a device. */
export function drawBlock({ x, y, block, atEdge }: Placed, picture: SitePicture, lit: Lit): Svg {
  const { device, width, height } = block;
  const state = lit.device(device.name);
  const broken = lit.brokenDevice(device.name);
  const classes = [
    "dp-device",
    ...(state === "lit" ? ["dp-lit"] : state === "aside" ? ["dp-out"] : []),
    ...(broken ? ["dp-broken"] : []),
  ];
  const told = tellDevice(device, picture, broken);
  const body = atEdge ? [] : [el("rect", { class: "dp-block", width, height })];
  const flags = lit.flags.filter((flag) => flag.device === device.name);
  return el(
    "g",
    {
      class: classes.join(" "),
      transform: `translate(${Math.round(x * 100) / 100} ${Math.round(y * 100) / 100})`,
      role: "img",
    },
    pieces([
      el("title", {}, told),
      ...body,
      ...block.lines.map((line) => drawText(line, atEdge, width)),
      ...block.terminals.map((terminal) => drawTerminal(terminal, device, picture)),
      ...(broken ? [crossAt(10, 0, 7)] : []),
      ...flags.map((flag, index) => drawFlag(flag, width - (flags.length - index) * 20)),
    ]),
  );
}

/** Beyond the edge, text stands close to it. */
function drawText({ x, y, text, kind }: TextLine, atEdge: boolean, width: number): Svg {
  return label(atEdge && kind === "name" ? x : Math.min(x, width), y, text, {
    class: kind === "name" ? "dp-name" : "dp-small",
  });
}

/** What a screen reader says of a device. */
function tellDevice({ name, is, ports, networks }: PictureDevice, picture: SitePicture, broken: boolean): string {
  const used = ports.filter(({ state }) => state === "used").length;
  const letters = new Map(picture.networks.map((network) => [network.name, network.letter]));
  const inside = networks.map((network) => `${letters.get(network) ?? ""} ${network}`).join(", ");
  const parts = [
    `${name}, ${is}`,
    `${used} of ${ports.length} ports in use`,
    inside === "" ? "in no network" : `in ${inside}`,
  ];
  return shortTold(`${parts.join("; ")}${broken ? "; broken" : ""}`);
}

const LONGEST_TOLD = 600;

/** Of what is told of a hostile name the first part is enough. */
export function shortTold(text: string): string {
  const plain = plainText(text.slice(0, 2 * LONGEST_TOLD));
  return plain.length > LONGEST_TOLD ? `${plain.slice(0, LONGEST_TOLD)}\u2026` : plain;
}

function drawTerminal(terminal: Terminal, { ports }: PictureDevice, { networks }: SitePicture): Svg {
  const { x, y, height, state, port, side, label: text } = terminal;
  const { rateMbps = 0, alone = [] } = ports.find(({ name }) => name === port) ?? {};
  const told = shortTold([port, rateText(rateMbps), state, ...alone].filter((word) => word !== "").join(", "));
  const square = el("rect", { class: `dp-${state}`, x: x - TERMINAL / 2, y: y - height / 2, width: TERMINAL, height });
  const slash = state === "off" ? [el("path", { class: "dp-off", d: `M${x - 4} ${y + 4}L${x + 4} ${y - 4}` })] : [];
  const inside = threadsIn(
    networks.flatMap(({ name }, index) => (alone.includes(name) ? [index] : [])),
    x,
    y,
  );
  return el("g", {}, el("title", {}, told), square, ...inside, ...slash, terminalLabel(side, x, y, text));
}

/** The colours of networks that are drawn nowhere else, side by side in the lower half of a free port, which stays hollow above. */
function threadsIn(indexes: readonly number[], x: number, y: number): Svg[] {
  const width = (TERMINAL - 2) / Math.max(indexes.length, 1);
  return indexes.map((index, place) => {
    const { stroke } = threadStyle(index).core;
    return el("rect", { fill: stroke, x: x - TERMINAL / 2 + 1 + place * width, y, width, height: TERMINAL / 2 - 1 });
  });
}

function terminalLabel(side: Terminal["side"], x: number, y: number, text: string): Svg {
  const away = TERMINAL / 2 + 4;
  switch (side) {
    case "left":
      return label(x + away, y + 3.5, text, { class: "dp-small" });
    case "right":
      return label(x - away, y + 3.5, text, { class: "dp-small", "text-anchor": "end" });
    case "foot":
      return label(x, y + TERMINAL / 2 + 10.5, text, { class: "dp-small", "text-anchor": "middle" });
  }
}

/** A flag on the upper edge; the one at the end is filled. */
function drawFlag({ number, last }: Flag, x: number): Svg {
  const d = `M${x} 6V-9H${x + 17}L${x + 14} -3L${x + 17} 3H${x}`;
  return el(
    "g",
    {},
    el("path", { class: last ? "dp-flag-end" : "dp-flag", d }),
    label(x + 7, 0.5, `${number}`, { class: "dp-flag-number" }),
  );
}

/** A cross over something broken. */
export function crossAt(x: number, y: number, size: number): Svg {
  const d = `M${x - size} ${y - size}L${x + size} ${y + size}M${x + size} ${y - size}L${x - size} ${y + size}`;
  return el("path", { class: "dp-cross", d });
}
