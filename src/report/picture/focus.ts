/**
 * Where on a drawing to look first, for whoever sees only a part of it at a time.
 */
import type { PictureLights } from "../../result/index.ts";
import type { PictureLayout } from "./layout.ts";
import { litBy } from "./lit.ts";
import { MARGIN } from "./measures.ts";

/** A place on a drawing, from its left edge. */
export type Focus = {
  /** How far from the left edge, in units of the drawing. */
  readonly x: number;
  /** How wide the whole drawing is. */
  readonly width: number;
};

/** The middle of the device where a lit way ends, else of the first that is broken or at the end of a broken wire; undefined: nothing is lit. */
export function focusOf(layout: PictureLayout, lights: PictureLights): Focus | undefined {
  const { picture, blocks } = layout;
  const { flags, brokenDevice, brokenStrands } = litBy(picture, lights);
  const broken = [
    ...picture.devices.flatMap(({ name }) => (brokenDevice(name) ? [name] : [])),
    ...picture.wires.flatMap((wire) => (brokenStrands(wire) > 0 ? [wire.ends[1].device] : [])),
  ];
  const name = flags.at(-1)?.device ?? broken[0];
  const placed = blocks.find(({ block }) => block.device.name === name);
  return placed && { x: placed.x + placed.block.width / 2, width: drawnWidth(layout) };
}

/** How wide a drawing is, its margins included. */
export function drawnWidth({ area }: PictureLayout): number {
  return Math.ceil(area.x + area.width + MARGIN);
}
