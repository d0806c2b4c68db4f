/**
 * What stands below the drawing: tunnels under the fold, the legend, notes, and the steps of a way.
 */
import type { PictureNetwork, PictureWire, SitePicture } from "../../result/index.ts";
import { crossAt } from "./draw-block.ts";
import { sample, tellWire } from "./draw-wire.ts";
import type { PictureLayout } from "./layout.ts";
import type { Lit } from "./lit.ts";
import { NAME_SIZE, type Point, SMALL_SIZE, TERMINAL } from "./measures.ts";
import { el, label, num, type Svg } from "./svg.ts";
import { shortened, textWidth, wrapped } from "./text-size.ts";
import { wireLabel } from "./wire-label.ts";

/** Something drawn, and the height that it takes. */
export type Part = {
  /** It, from its own corner. */
  readonly svg: readonly Svg[];
  /** In pixels. */
  readonly height: number;
};

const NOTHING: Part = { svg: [], height: 0 };
const TUNNEL_ROW = 40;
const BODY_SIZE = 12;
const BODY_LINE = 17;
const LONGEST_END = 160;

/** Tunnels, a row each, under the fold of the sheet. */
export function drawTunnels({ picture, tunnels, area }: PictureLayout, top: number, lit: Lit): Part {
  if (tunnels.length === 0) return NOTHING;
  const x = area.x + 24;
  const fold = el("path", { class: "dp-fold", d: `M${num(area.x)} ${num(top)}H${num(area.x + area.width)}` });
  const rows = tunnels.map((wire, index) => drawTunnel(wire, { x, y: top + 20 + index * TUNNEL_ROW }, picture, lit));
  return { svg: [fold, ...rows], height: 20 + tunnels.length * TUNNEL_ROW };
}

function drawTunnel(wire: PictureWire, { x, y }: Point, picture: SitePicture, lit: Lit): Svg {
  const [left, right] = wire.ends.map(({ device, ports }) =>
    shortened(`${device}:${ports[0] ?? ""}`, LONGEST_END, NAME_SIZE, true),
  );
  const width = LONGEST_END + 16;
  const gap = 140;
  const told = tellWire(wire, picture, lit.brokenStrands(wire) > 0);
  const end = (at: number, text = ""): Svg[] => [
    el("rect", { class: "dp-block", x: at, y, width, height: 26 }),
    label(at + 8, y + 17, text, { class: "dp-name" }),
  ];
  const { text, lacking } = wireLabel(wire, picture);
  const said = [text, lacking, wire.up ? "" : "down"].filter((word) => word !== "").join(", ");
  const line = (dy: number): Svg =>
    el("path", { class: "dp-line", "stroke-dasharray": "9 4", d: `M${num(x + width)} ${num(y + 13 + dy)}h${gap}` });
  const children = [
    el("title", {}, told),
    ...end(x, left),
    line(-2.5),
    line(2.5),
    ...end(x + width + gap, right),
    ...(said === ""
      ? []
      : [label(x + width + gap / 2, y + 6, shortened(said, gap - 8, SMALL_SIZE), { "text-anchor": "middle" })]),
    ...(lit.brokenStrands(wire) > 0 ? [crossAt(x + width + gap / 2, y + 13, 8)] : []),
  ];
  const state = lit.wire(wire);
  return el("g", { class: state === "aside" ? "dp-aside" : "dp-wire", role: "img" }, ...children);
}

/** Networks with their threads, then the marks that occur. */
export function drawLegend({ picture, area }: PictureLayout, top: number): Part {
  const cells = [...picture.networks.map(networkCell), ...marksOf(picture)];
  if (cells.length === 0) return NOTHING;
  const width = Math.max(...cells.map((cell) => cell.width)) + 24;
  const columns = Math.max(1, Math.min(cells.length, Math.floor((area.width - 16) / width)));
  const svg = cells.map((cell, index) =>
    cell.draw({ x: area.x + 16 + (index % columns) * width, y: top + Math.floor(index / columns) * 20 + 16 }),
  );
  return { svg, height: Math.ceil(cells.length / columns) * 20 + 24 };
}

type Cell = { readonly width: number; readonly draw: (at: Point) => Svg };

const LONGEST_LEGEND = 330;

function networkCell({ name, letter, vlan, prefixes }: PictureNetwork, index: number): Cell {
  const shown = shortened(name, 260, BODY_SIZE, true);
  const rest = shortened(
    [vlan === undefined ? "untagged" : `VLAN ${vlan}`, ...prefixes].join("  "),
    LONGEST_LEGEND,
    SMALL_SIZE,
  );
  const from = 72 + textWidth(shown, BODY_SIZE, true) + 8;
  return {
    width: from + textWidth(rest, SMALL_SIZE),
    draw: ({ x, y }) =>
      el(
        "g",
        {},
        sample(index, { x, y: y - 4 }),
        label(x + 52, y, letter, { class: "dp-body dp-strong" }),
        label(x + 72, y, shown, { class: "dp-body dp-strong" }),
        label(x + from, y, rest, { class: "dp-small" }),
      ),
  };
}

/** Each mark that is drawn somewhere, with its word. */
function marksOf({ devices, wires }: SitePicture): readonly Cell[] {
  const states = new Set(devices.flatMap(({ ports }) => ports.map(({ state }) => state)));
  const has = (test: (wire: PictureWire) => boolean): boolean => wires.some(test);
  const square = (state: string) => (x: number, y: number) =>
    el("rect", { class: `dp-${state}`, x: x + 18, y: y - 8, width: TERMINAL, height: TERMINAL });
  const path =
    (name: string, data: (x: number, y: number) => string, more: Record<string, string | number> = {}) =>
    (x: number, y: number) =>
      el("path", { class: name, d: data(x, y), ...more });
  const marks: readonly (readonly [boolean, string, (x: number, y: number) => Svg])[] = [
    [states.has("used"), "port in use", square("used")],
    [states.has("free"), "free port", square("free")],
    [states.has("off"), "port switched off", path("dp-off", (x, y) => `M${x + 18} ${y - 8}h8v8h-8zm0 8l8 -8`)],
    [
      has(({ kind }) => kind === "bond"),
      "bond, tied",
      path(
        "dp-line",
        (x, y) =>
          `M${x} ${y - 8}C${x + 20} ${y - 8} ${x + 20} ${y} ${x + 40} ${y}M${x} ${y}C${x + 20} ${y} ${x + 20} ${y - 8} ${x + 40} ${y - 8}`,
      ),
    ],
    [
      has(({ kind }) => kind === "radio"),
      "radio",
      path("dp-ink", (x, y) => `M${x} ${y - 1}q20 -10 40 0`, {
        "stroke-width": 3,
        "stroke-linecap": "round",
        "stroke-dasharray": "0 7",
      }),
    ],
    [
      has(({ ends }) => ends.some(({ blocked }) => blocked)),
      "blocked by spanning tree",
      path("dp-bar", (x, y) => `M${x + 22} ${y - 11}v14`),
    ],
    [
      has(({ kind }) => kind === "tunnel"),
      "tunnel",
      path("dp-line", (x, y) => `M${x} ${y - 6}h40m-40 5h40`, { "stroke-dasharray": "9 4" }),
    ],
    [has(({ up, kind }) => !up && kind !== "tunnel"), "no carrier", path("dp-down", (x, y) => `M${x} ${y - 4}h40`)],
    [
      has(({ threads }) => threads.some(({ carriedBy }) => carriedBy === "first" || carriedBy === "second")),
      "network that one end lacks",
      (x, y) => el("circle", { class: "dp-stop", cx: x + 22, cy: y - 4, r: 3 }),
    ],
  ];
  return marks.flatMap(([there, word, draw]): readonly Cell[] =>
    there
      ? [
          {
            width: 52 + textWidth(word, BODY_SIZE),
            draw: ({ x, y }) => el("g", {}, draw(x, y), label(x + 52, y, word, { class: "dp-body" })),
          },
        ]
      : [],
  );
}

/** Marks of a proof-reader, with the word of each. */
const MARKS = { works: "\u2713", broken: "\u2717" } as const;
const MOST_NOTES = 12;

/** Sentences about the whole and what is broken, then the steps of a way, a number each, and what became of the packet. */
export function drawWords({ picture, area }: PictureLayout, top: number, lit: Lit): Part {
  const width = Math.max(280, area.width - 40);
  const rows: Svg[] = [];
  let y = top;
  const say = (text: string, lead: string, kind = "dp-body"): void => {
    // What is bold is wider; a fifth is left for it.
    for (const [index, line] of wrapped(text, kind === "dp-body" ? width : width * 0.8, BODY_SIZE, 4).entries()) {
      y += BODY_LINE;
      if (index === 0 && lead !== "") rows.push(label(area.x + 16, y, lead, { class: `${kind} dp-strong` }));
      rows.push(label(area.x + (lead === "" ? 16 : 40), y, line, { class: kind }));
    }
  };
  for (const note of picture.notes.slice(0, MOST_NOTES)) say(note, "");
  if (picture.notes.length > MOST_NOTES) say(`${picture.notes.length - MOST_NOTES} more of this kind.`, "");
  for (const text of brokenOf(picture, lit)) say(`broken: ${text}`, MARKS.broken, "dp-body dp-lacking");
  for (const { number, device, texts } of lit.flags)
    say(`${shortened(device, 200, BODY_SIZE)}: ${texts.join("; ")}`, `${number}`);
  if (lit.end !== undefined) {
    const { works, sentence } = lit.end;
    say(sentence, works ? MARKS.works : MARKS.broken, works ? "dp-body dp-strong" : "dp-body dp-lacking");
  }
  return { svg: rows, height: rows.length === 0 ? 0 : y - top + 18 };
}

/** What is crossed out, in words. */
function brokenOf({ devices, wires }: SitePicture, lit: Lit): readonly string[] {
  const told = [
    ...devices.flatMap(({ name }) => (lit.brokenDevice(name) ? [shortened(name, 200, BODY_SIZE)] : [])),
    ...wires.flatMap((wire) => (lit.brokenStrands(wire) > 0 ? [brokenText(wire, lit.brokenStrands(wire))] : [])),
  ];
  return told.length > MOST_NOTES ? [...told.slice(0, MOST_NOTES), `${told.length - MOST_NOTES} more`] : told;
}

/** Of a bond, how many of its cables. */
function brokenText({ kind, ends, parts }: PictureWire, count: number): string {
  const what = count < parts.length ? `${count} of ${parts.length} cables of the ${kind}` : `the ${kind}`;
  return `${what} ${ends.map(({ device, ports }) => `${device}:${ports.join("+")}`).join(" - ")}`;
}
