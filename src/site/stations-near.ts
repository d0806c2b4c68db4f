/** Who stands where a DHCP server lends addresses. */
import { type Directory, type Leg, legKey } from "./directory.ts";
import type { Lender } from "./lenders.ts";

/** Interfaces that stand where a server lends, itself among them. */
export function stationsNear(
  { device, interface: one, network }: Lender,
  { extents, legs, legsOf }: Directory,
): readonly Leg[] {
  const extent = network === undefined ? undefined : extents.get(network);
  const there = extent?.interfaces.flatMap((each) => legs.get(legKey(each.device, each.interface)) ?? []) ?? [];
  return there.length > 0 ? there : legsOf(device.rack.name).filter((leg) => leg.interface === one);
}
