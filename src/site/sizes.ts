/**
 * Largest packets: the device's setting, or what a membership says of a port. A bond's members have its size.
 */

import type { Rack } from "./rack.ts";
import { defaultAt, type Setting, settingOf } from "./setting.ts";
import type { SiteBridge } from "./site-switching.ts";

/** Largest IP packet in bytes by what one stands on. */
export type Sizes = {
  /** Of a port outside bonds, or a bond. */
  readonly of: (attachment: string) => Setting<number>;
  /** Of the bridge: the least of its ports. */
  readonly bridge: Setting<number>;
};

/** Sizes on one device. */
export function sizesOf({ topology, intent }: Rack, bridge: SiteBridge | undefined): Sizes {
  const usual: Setting<number> =
    intent?.mtu === undefined
      ? { value: 1500, origin: defaultAt(topology.name.span, "packets of up to 1500 bytes", "RFC 894") }
      : settingOf(intent.mtu);
  const stated = new Map<string, Setting<number>>();
  for (const { name, membership } of bridge?.ports ?? []) {
    if (membership.mtu !== undefined) stated.set(name, membership.mtu);
  }
  const all = (bridge?.ports ?? []).map(({ name }) => stated.get(name) ?? usual);
  const least = all.reduce((small, next) => (next.value < small.value ? next : small), all[0] ?? usual);
  return { of: (attachment) => stated.get(attachment) ?? usual, bridge: least };
}
