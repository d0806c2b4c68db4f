/**
 * What was seen on the links of a site that stands on a kernel, told like a way: one line for each time that a packet came
 * in at a device or went out.
 */
import type { WayMark } from "../result/index.ts";

/** A frame that was seen at an interface of a device. */
export type SeenFrame = {
  /** Name of the device. */
  readonly device: string;
  /** Name of the interface in the kernel. */
  readonly interface: string;
  /** True when it left the device there. */
  readonly out: boolean;
  /** What it was, in words. */
  readonly what: string;
};

/** A dispute shows no more than this many. */
const MOST_MARKS = 40;

/** Frames in words, in the order seen. */
export function tellWay(frames: readonly SeenFrame[]): readonly WayMark[] {
  return frames.slice(0, MOST_MARKS).map(({ device, interface: name, out, what }) => ({
    device,
    text: `${out ? "sends" : "hears"} at ${name}: ${what}`,
  }));
}
