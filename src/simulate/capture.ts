/**
 * Frames for a capture file: each link, and each place where a frame was let in by hand, is an interface of the file, in
 * the order in which they are first seen. The caller writes the bytes wherever it wants.
 */
import type { Id } from "../network/index.ts";
import { type CapturedFrame, emitCapture, emitFrame } from "../wire/index.ts";
import type { CaptureSink } from "./results.ts";

/** A capture that grows while a simulation runs. */
export type CapturedSite = {
  /** To be given to a simulation. */
  readonly sink: CaptureSink;
  /** The file so far, in pcapng. */
  readonly file: () => Uint8Array;
  /** Puts words beside the last frame, where that was seen within a millisecond of this time; else nowhere. */
  readonly remark: (atMs: number, text: string) => void;
};

const SECOND_US = 1_000_000;
const NEAR_US = 1000;

/** An empty capture. Given to several simulations, each of which begins at time 0, it shows them a second apart. */
export function captureTo(): CapturedSite {
  let beganUs = 0;
  let lastUs = 0;
  const points = new Map<Id, number>();
  const frames: CapturedFrame[] = [];
  const sink: CaptureSink = {
    frame: (point, atUs, frame) => {
      const known = points.get(point) ?? points.size;
      points.set(point, known);
      if (beganUs + atUs < lastUs) beganUs = lastUs + SECOND_US;
      lastUs = beganUs + atUs;
      frames.push({ interface: known, atNs: BigInt(lastUs) * 1000n, bytes: emitFrame(frame) });
    },
  };
  const remark = (atMs: number, text: string): void => {
    const last = frames.at(-1);
    if (last === undefined || Math.abs(lastUs - atMs * 1000) > NEAR_US) return;
    const before = last.comment === undefined ? "" : `${last.comment}\n`;
    frames[frames.length - 1] = { ...last, comment: `${before}${text}` };
  };
  return { sink, remark, file: () => emitCapture({ interfaces: [...points.keys()], frames }) };
}
