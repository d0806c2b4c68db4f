/**
 * How whoever makes up frames gets packets to an interface: in frames to its hardware address. Those that bear this very
 * address a bridge keeps (`kept.ts`), so they go to everyone: that gets everywhere, and the station takes the packet for
 * itself (seen on Linux 6.18), but sends nothing of it on (RFC 1812 section 5.3.4).
 */
import { BROADCAST_HARDWARE, single } from "../address/index.ts";
import { countingAt } from "./aim.ts";
import { SOURCE_HARDWARE } from "./fields.ts";
import { type Flow, framedTo, narrowed, without } from "./flow.ts";
import { isKept } from "./kept.ts";
import type { Touch } from "./link.ts";
import type { Sent } from "./passage.ts";
import type { Walk } from "./walk.ts";

/** Packets in frames that somebody makes up. */
export type Framed = {
  /** The packets. */
  readonly flow: Flow;
  /** How they are sent. */
  readonly sent: Sent;
};

/** Packets that come to an interface so, as far as anything can come of them. */
export function framesTo(walk: Walk, flow: Flow, { leg, trail, sentAt, tags }: Touch): readonly Framed[] {
  const { atlas, aim, looks } = walk.ground;
  const { hardware, session } = leg.interface;
  // Whoever sends frames of their own making makes such as are taken.
  const sent: Sent = { at: sentAt, tags, towards: hardware, ...(session === undefined ? {} : { session: true }) };
  if (!looks.has("sourceHardware") || !isKept(atlas, leg, trail)) return [{ flow, sent }];
  const others = without(flow, SOURCE_HARDWARE, single(hardware));
  const own = narrowed(flow, SOURCE_HARDWARE, single(hardware));
  // No frame of a session goes to everyone (RFC 2516 section 6).
  const isTaken = session === undefined && countingAt(aim, leg.node, leg).length > 0;
  const toAll = own === undefined || !isTaken ? undefined : framedTo(own, BROADCAST_HARDWARE);
  return [
    ...(others === undefined ? [] : [{ flow: others, sent }]),
    ...(toAll === undefined ? [] : [{ flow: toAll, sent: { ...sent, towards: BROADCAST_HARDWARE } }]),
  ];
}
