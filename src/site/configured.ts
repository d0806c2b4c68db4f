/**
 * A device while a site is being resolved: racked, bonded, switched, with interfaces; names that lead to other devices
 * are still to come.
 */
import type { Bonds } from "./bonds.ts";
import type { Switched } from "./bridge.ts";
import type { RackInterface } from "./interfaces.ts";
import type { Rack } from "./rack.ts";
import type { Setting } from "./setting.ts";
import type { SiteSsid } from "./site-switching.ts";
import type { Sizes } from "./sizes.ts";

/** A device with all that is its own. */
export type Configured = {
  /** As racked. */
  readonly rack: Rack;
  /** Its bonds. */
  readonly bonds: Bonds;
  /** Its switching. */
  readonly switched: Switched;
  /** Its largest packets. */
  readonly sizes: Sizes;
  /** Whether it forwards. */
  readonly forwarding: Setting<boolean>;
  /** Its interfaces, in document order. */
  readonly interfaces: readonly RackInterface[];
  /** Radio networks it offers. */
  readonly ssids: readonly SiteSsid[];
  /** Radio networks it joins. */
  readonly joins: readonly Setting<string>[];
};

/** Every device, by name, in document order. */
export type AllConfigured = ReadonlyMap<string, Configured>;

/** Port or bond that a frame of a physical port belongs to. */
export function attachmentOf({ bonds }: Configured, port: string): string {
  return bonds.byMember.get(port)?.name ?? port;
}

/** Physical ports of a port or bond. */
export function portsBehind({ bonds }: Configured, attachment: string): readonly string[] {
  return bonds.byName.get(attachment)?.members.map(({ value }) => value) ?? [attachment];
}
