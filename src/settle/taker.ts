/**
 * What takes a frame that arrives on an attachment (see `network/link-layer.ts`): the bond whose member it is, an interface
 * with the frame's tag, a bridge port, an interface for untagged frames, nobody; in this order (kernel fact 36).
 */
import type { Bond, Id } from "../network/index.ts";
import type { BridgePlace, Leg, Plant } from "./plant.ts";

/** Who takes the frame. */
export type Taker =
  | {
      readonly kind: "bond";
      /** The bond whose member the port is. */
      readonly bond: Bond;
    }
  | ({ readonly kind: "interface" } & Leg)
  | ({ readonly kind: "bridge" } & BridgePlace)
  | { readonly kind: "nobody" };

const NOBODY: Taker = { kind: "nobody" };

/**
 * Who takes a frame with this outer tag (0: untagged or priority-tagged) on an attachment. On a bridge's own port: the
 * interface that takes what the bridge sends there.
 */
export function takerOf(plant: Plant, attachment: Id, tag: number): Taker {
  const bond = plant.bondOf.get(attachment);
  if (bond) return { kind: "bond", bond };
  const legs = plant.legsAt.get(attachment);
  const leg = legs?.find((candidate) => (candidate.interface.vlan ?? 0) === tag);
  if (leg && tag !== 0) return { kind: "interface", ...leg };
  const place = plant.placeAt.get(attachment);
  if (place && !place.port.own) return { kind: "bridge", ...place };
  return leg ? { kind: "interface", ...leg } : NOBODY;
}
