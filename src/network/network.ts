/**
 * The description of a network: what `compile/` writes and both engines read. Types only; plain, readonly,
 * cloneable data; arrays sorted by id, never records keyed by user text.
 */
import type { Id, Part } from "./entry.ts";
import type { Group } from "./group.ts";
import type { Bond, Bridge, Link, Port } from "./link-layer.ts";
import type { Service } from "./service.ts";
import type { Stack } from "./stack.ts";
import type { Table } from "./tables.ts";

/** A box. */
export type Device = Part & {
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
  readonly devices: readonly Device[];
  readonly ports: readonly Port[];
  readonly links: readonly Link[];
  readonly bonds: readonly Bond[];
  readonly bridges: readonly Bridge[];
  readonly stacks: readonly Stack[];
  readonly tables: readonly Table[];
  readonly services: readonly Service[];
  readonly groups: readonly Group[];
};
