/**
 * A capture file in pcapng (draft-ietf-opsawg-pcapng, from memory), little endian: one section, a block for each
 * interface with its name, a block for each frame with its time in nanoseconds and, if wanted, a comment. Blocks are
 * written one at a time, so that a file can grow while a simulation runs.
 */
import { concat, viewOf } from "./bytes.ts";

/** A frame as it was seen on one interface. */
export type CapturedFrame = {
  /** Place of the interface in the file, counted from 0 in the order of interface blocks. */
  readonly interface: number;
  /** Nanoseconds since the start of the simulated clock (shown as since 1970). */
  readonly atNs: bigint;
  /** The frame without its check sequence. */
  readonly bytes: Uint8Array;
  /** Shown beside the frame. Default: none. */
  readonly comment?: string;
};

/** A whole capture file. */
export type Capture = {
  /** Interface names in the order that frames refer to. */
  readonly interfaces: readonly string[];
  /** Frames in order of time. */
  readonly frames: readonly CapturedFrame[];
};

const SECTION_BLOCK = 0x0a0d0d0a;
const INTERFACE_BLOCK = 1;
const PACKET_BLOCK = 6;
const BYTE_ORDER_MAGIC = 0x1a2b3c4d;
const LINK_ETHERNET = 1;
const OPTION_END = 0;
const OPTION_COMMENT = 1;
const OPTION_INTERFACE_NAME = 2;
const OPTION_TIME_RESOLUTION = 9;
const OPTION_APPLICATION = 4;
const NANOSECONDS = 9; // 10 to the minus 9
const LONGEST_OPTION = 0xffff;

/** Writes a whole file. */
export function emitCapture(capture: Capture): Uint8Array {
  return concat(emitSection(), ...capture.interfaces.map(emitInterface), ...capture.frames.map(emitCapturedFrame));
}

/** Writes the block that begins a file. */
export function emitSection(): Uint8Array {
  const head = new Uint8Array(16);
  const view = viewOf(head);
  view.setUint32(0, BYTE_ORDER_MAGIC, true);
  view.setUint16(4, 1, true);
  view.setBigInt64(8, -1n, true); // length of the section: not stated
  return emitBlock(SECTION_BLOCK, head, emitOptions([[OPTION_APPLICATION, text("dryrack")]]));
}

/** Writes the block that names an interface; all of them come before frames refer to them. */
export function emitInterface(name: string): Uint8Array {
  const head = new Uint8Array(8);
  viewOf(head).setUint16(0, LINK_ETHERNET, true);
  const options = emitOptions([
    [OPTION_INTERFACE_NAME, text(name)],
    [OPTION_TIME_RESOLUTION, Uint8Array.of(NANOSECONDS)],
  ]);
  return emitBlock(INTERFACE_BLOCK, head, options);
}

/** Writes the block of one frame. */
export function emitCapturedFrame(frame: CapturedFrame): Uint8Array {
  const head = new Uint8Array(20);
  const view = viewOf(head);
  view.setUint32(0, frame.interface, true);
  view.setUint32(4, Number(frame.atNs >> 32n), true);
  view.setUint32(8, Number(frame.atNs & 0xffff_ffffn), true);
  view.setUint32(12, frame.bytes.length, true);
  view.setUint32(16, frame.bytes.length, true);
  const options = frame.comment === undefined ? [] : [[OPTION_COMMENT, text(frame.comment)] as const];
  return emitBlock(PACKET_BLOCK, head, padded(frame.bytes), emitOptions(options));
}

function emitBlock(type: number, ...parts: readonly Uint8Array[]): Uint8Array {
  const content = concat(...parts);
  const frame = new Uint8Array(12 + content.length);
  const view = viewOf(frame);
  view.setUint32(0, type, true);
  view.setUint32(4, frame.length, true);
  frame.set(content, 8);
  view.setUint32(frame.length - 4, frame.length, true);
  return frame;
}

function emitOptions(options: readonly (readonly [code: number, value: Uint8Array])[]): Uint8Array {
  if (options.length === 0) return new Uint8Array(0);
  return concat(
    ...options.map(([code, value]) => concat(optionHead(code, value.length), padded(value))),
    optionHead(OPTION_END, 0),
  );
}

function optionHead(code: number, length: number): Uint8Array {
  return Uint8Array.of(code & 0xff, code >> 8, length & 0xff, length >> 8);
}

function padded(bytes: Uint8Array): Uint8Array {
  return concat(bytes, new Uint8Array((4 - (bytes.length % 4)) % 4));
}

function text(value: string): Uint8Array {
  return new TextEncoder().encode(value).slice(0, LONGEST_OPTION);
}
