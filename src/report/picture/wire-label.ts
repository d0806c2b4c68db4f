/**
 * What is written on a wire: rate, letters of its threads, and which are missing.
 */
import type { PictureThread, PictureWire, SitePicture } from "../../result/index.ts";
import type { Line } from "./flow.ts";
import { type Box, bundleWidth, SMALL_SIZE } from "./measures.ts";
import { rateText, textWidth } from "./text-size.ts";

/** How far the strands of a bond take to become one. */
export const BRAID = 24;

/** The label of a wire. */
export type WireLabel = {
  /** Rate and letters: `2 x 1G  A C D`. */
  readonly text: string;
  /** What is missing: `no B`; empty: nothing. */
  readonly lacking: string;
};

/** More pieces than this are counted, not listed. */
const MOST_PIECES = 6;

/** Writes it. */
export function wireLabel(wire: PictureWire, { networks }: SitePicture): WireLabel {
  const places = new Map(networks.map(({ name }, index) => [name, index]));
  const list = (threads: readonly PictureThread[]): string =>
    lettersOf(
      threads.map(({ network }) => places.get(network) ?? 0),
      networks,
    );
  const there = wire.threads.filter(({ carriedBy }) => carriedBy === "both");
  const ends = wire.threads.filter(({ carriedBy }) => carriedBy === "first" || carriedBy === "second");
  const missing = wire.threads.filter(({ carriedBy }) => carriedBy === "neither");
  const lacking = [
    ...(ends.length === 0 ? [] : [`${list(ends)} ${ends.length === 1 ? "stops" : "stop"}`]),
    ...(missing.length === 0 ? [] : [`no ${list(missing)}`]),
  ];
  return { text: [headOf(wire), list(there)].filter((each) => each !== "").join(" "), lacking: lacking.join(", ") };
}

/** The letters of some networks, in the order of the picture; empty: of none. */
export function lettersOfNames(names: readonly string[], networks: SitePicture["networks"]): string {
  return lettersOf(
    networks.flatMap(({ name }, index) => (names.includes(name) ? [index] : [])),
    networks,
  );
}

/** `A C-F`: three and more in a row are told by the first and the last. */
function lettersOf(places: readonly number[], networks: SitePicture["networks"]): string {
  const runs: { first: number; last: number }[] = [];
  for (const place of places) {
    const run = runs.at(-1);
    if (run !== undefined && run.last === place - 1) run.last = place;
    else runs.push({ first: place, last: place });
  }
  const letter = (place: number): string => networks[place]?.letter ?? "";
  const told = runs.flatMap(({ first, last }) =>
    last - first < 2 ? [...new Set([letter(first), letter(last)])] : [`${letter(first)}\u2013${letter(last)}`],
  );
  return told.length > MOST_PIECES ? `${places.length} networks` : told.join(" ");
}

function headOf({ kind, parts, rateMbps, up }: PictureWire): string {
  const down = up ? "" : "down";
  const rate = rateText(rateMbps);
  return [kind === "bond" ? `${parts.length} \u00d7 ${rate}` : rate, down].filter((each) => each !== "").join(" ");
}

/** Room that the label of a wire needs before its right end. */
export function labelRoom(wire: PictureWire, picture: SitePicture): number {
  const end = { x: 0, y: 0 };
  return -labelBox({ wire, route: [end] }, picture).x;
}

/** Where the label stands: above the last piece of the way, close to the block at the right. */
export function labelBox({ wire, route }: Pick<Line, "wire" | "route">, picture: SitePicture): Box {
  const end = route.at(-1);
  if (end === undefined) throw new Error(`${wire.id} has no way`);
  const { text, lacking } = wireLabel(wire, picture);
  const width = textWidth(text, SMALL_SIZE) + textWidth(lacking === "" ? "" : ` ${lacking}`, SMALL_SIZE, true);
  const away = wire.kind === "bond" ? BRAID + 6 : wire.ends.some(({ blocked }) => blocked) ? 20 : 7;
  const bottom = end.y - bundleWidth(wire.threads.length) / 2 - (wire.kind === "radio" ? 6 : 3);
  return { x: end.x - away - width, y: bottom - SMALL_SIZE, width, height: SMALL_SIZE };
}
