/**
 * The description of a network: what `compile/` writes and both engines read. Types only; plain, readonly,
 * cloneable data; arrays sorted by id, never records keyed by user text.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Id, Part } from "./entry.ts";
import type { Group } from "./group.ts";
import type { Bond, Bridge, Link, Port } from "./link-layer.ts";
import type { Service } from "./service.ts";
import type { Stack } from "./stack.ts";
import type { Table } from "./tables.ts";

/** A box. */
export type Device = Part & {
  /** What it is. */
  readonly is: "router" | "switch" | "unmanaged-switch" | "access-point" | "host" | "upstream";
  /** `linux` does what the kernel does, `rfc` what the standards ask. */
  readonly profile: "linux" | "rfc";
  /** Ports that power it. */
  readonly poweredBy: readonly Id[];
  /** A client that exists only in questions: one that was just plugged in and took a lease. */
  readonly standIn: boolean;
};

/** Everything that is known before anything runs. */
export type Network = {
  readonly format: 1;
  /** Boxes. */
  readonly devices: readonly Device[];
  /** Sockets, radios and wireless associations. */
  readonly ports: readonly Port[];
  /** What joins them. */
  readonly links: readonly Link[];
  /** Several ports used as one. */
  readonly bonds: readonly Bond[];
  /** At most one a device. */
  readonly bridges: readonly Bridge[];
  /** At most one a device. */
  readonly stacks: readonly Stack[];
  /** Filters, translations, routes. */
  readonly tables: readonly Table[];
  /** What runs on stacks. */
  readonly services: readonly Service[];
  /** Names that assertions use. */
  readonly groups: readonly Group[];
  /** Services that are configured and do not run at present; engines find none of them. Default: there are none. */
  readonly stopped?: readonly Stopped[];
};

/** A service that does not run while its device does. */
export type Stopped = {
  /** It. */
  readonly service: Service;
  /** The line that stopped it; of one that failed its own. */
  readonly by: Origin;
};
