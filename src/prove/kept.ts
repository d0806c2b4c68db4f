/**
 * Frames that a bridge on their way keeps. It takes in what goes to an address of its own, in whatever VLAN, so that nothing that does
 * passes it to come back in another one (`lookup` of `network/link-layer.ts`).
 *
 * And frames that bear the very hardware address that they go to. A bridge learns where a sender is before it looks where its
 * frame goes, and sends nothing back there (`learn` and `lookup` of `network/link-layer.ts`), so it keeps such a frame. Only
 * an address of its own does a bridge know without learning it (both seen on Linux 6.18).
 */
import type { Atlas, Leg } from "./atlas.ts";
import type { Touch } from "./link.ts";
import type { Trail } from "./trail.ts";

/** Whether a bridge on the way to an interface keeps frames that bear the interface's own hardware address. */
export function isKept(atlas: Atlas, { interface: { on } }: Leg, way: Trail): boolean {
  const place = atlas.bridgePortAt.get(on);
  const own = place?.port.own === true ? place.bridge.id : undefined;
  for (let here: Trail | undefined = way; here !== undefined; here = here.before) {
    const { at } = here.step;
    if (at !== own && atlas.learning.has(at)) return true;
  }
  return false;
}

/**
 * Where the bridge of an interface is first passed on a way to it: there it takes in whatever goes to the interface's address alone.
 * Undefined: it is not passed before it is come to.
 */
export function takenInAt(atlas: Atlas, { interface: { on } }: Leg, way: Trail): Trail | undefined {
  const place = atlas.bridgePortAt.get(on);
  if (place?.port.own !== true) return undefined;
  let first: Trail | undefined;
  for (let here: Trail | undefined = way; here !== undefined; here = here.before) {
    const { at, did, detail } = here.step;
    if (at === place.bridge.id && did === "lookup" && detail !== on) first = here.before;
  }
  return first;
}

/** Who is handed a frame to one interface alone: it, or the one of its bridge in whose VLAN the bridge takes it in; undefined: nobody. */
export function takerOf(atlas: Atlas, touch: Touch, others: Iterable<Touch>): Touch | undefined {
  const passed = takenInAt(atlas, touch.leg, touch.trail);
  if (passed === undefined) return touch;
  for (const other of others) {
    if (other.leg.interface.on !== touch.leg.interface.on) continue;
    for (let here: Trail | undefined = other.trail; here !== undefined; here = here.before)
      if (here === passed && takenInAt(atlas, other.leg, other.trail) === undefined) return other;
  }
  return undefined;
}
