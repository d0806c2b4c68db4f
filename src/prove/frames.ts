/**
 * How whoever makes up frames gets packets to an interface: in frames to its hardware address. Those that bear this very
 * address a bridge keeps (`kept.ts`), so they go to everyone: that gets everywhere, and the station takes the packet for
 * itself (seen on Linux 6.18), but sends nothing of it on (RFC 1812 section 5.3.4). It can begin a connection so, and what belongs
 * to that needs no such frame.
 */
import { BROADCAST_HARDWARE, EMPTY_RANGES, type Ranges, single } from "../address/index.ts";
import { type Aim, ALL_ADDRESSES, countingAt } from "./aim.ts";
import type { Leg } from "./atlas.ts";
import { DESTINATION, SOURCE_HARDWARE } from "./fields.ts";
import { type Flow, framedTo, narrowed, without } from "./flow.ts";
import { isKept, takenInAt } from "./kept.ts";
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
  // No frame of a session goes to everyone (RFC 2516 section 6).
  const kept = session === undefined ? takenBy(leg, aim) : EMPTY_RANGES;
  if (takenInAt(atlas, leg, trail) !== undefined) return toEveryone(narrowed(flow, DESTINATION, kept), sent);
  if (!looks.has("sourceHardware") || !isKept(atlas, leg, trail)) return [{ flow, sent }];
  const others = without(flow, SOURCE_HARDWARE, single(hardware));
  const own = narrowed(flow, SOURCE_HARDWARE, single(hardware));
  const taken = own && narrowed(own, DESTINATION, kept);
  return [...(others === undefined ? [] : [{ flow: others, sent }]), ...toEveryone(taken, sent)];
}

function toEveryone(flow: Flow | undefined, sent: Sent): readonly Framed[] {
  if (flow === undefined) return [];
  return [{ flow: framedTo(flow, BROADCAST_HARDWARE), sent: { ...sent, towards: BROADCAST_HARDWARE } }];
}

/** Destinations of what something can come of in a frame to everyone: at a target, and where a stack tracks what it takes for itself. */
function takenBy(leg: Leg, aim: Aim): Ranges {
  const { node } = leg;
  if (countingAt(aim, node, leg).length > 0) return ALL_ADDRESSES;
  const { received } = node.stack;
  if (!received.some(({ op }) => op === "track")) return EMPTY_RANGES;
  return received.some((step) => step.op === "translate" && step.end === "destination") ? ALL_ADDRESSES : node.own;
}
