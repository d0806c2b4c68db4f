/**
 * Frames that bear the very hardware address that they go to. A bridge learns where a sender is before it looks where its
 * frame goes, and sends nothing back there (`learn` and `lookup` of `network/link-layer.ts`), so it keeps such a frame. Only
 * an address of its own does a bridge know without learning it (both seen on Linux 6.18).
 */
import type { Atlas, Leg } from "./atlas.ts";
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
