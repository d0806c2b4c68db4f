/**
 * Switching in a resolved site: the bridge of a device, each port's full membership, and radio networks.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Setting } from "./setting.ts";

/** The bridge of a device. */
export type SiteBridge = {
  /** The `switching` mapping, or the device when none is written. */
  readonly origin: Origin;
  /** Whether tags are obeyed; an unmanaged switch ignores them. */
  readonly tags: Setting<"obeyed" | "ignored">;
  /** True for an unmanaged switch: no settings, no own port. */
  readonly unmanaged: boolean;
  /** What becomes of spanning-tree frames while it runs no tree itself; `unknown` both must be considered. */
  readonly spanningTreeFrames: Setting<"pass" | "eat" | "unknown">;
  /** Its ports: bonds and ports in the order of the topology's ports, a bond at its first member. */
  readonly ports: readonly SiteBridgePort[];
  /** The device's own membership; absent for an unmanaged switch. */
  readonly own?: SiteMembership;
  /** Spanning tree; absent: runs none. */
  readonly tree?: SiteTree;
  /** Seconds after which an unused learned address is forgotten. */
  readonly ageingSeconds: Setting<number>;
  /** Hardware address: the lowest of its members' unless stated. */
  readonly hardware: Setting<bigint>;
};

/** A port or bond in a bridge. Ports that are switched off are not in it. */
export type SiteBridgePort = {
  /** Name of the port or bond. */
  readonly name: string;
  /** The entry of `switching.ports`, or the default. */
  readonly origin: Origin;
  /** What it carries. */
  readonly membership: SiteMembership;
};

/** Which VLANs a port carries, and how. */
export type SiteMembership = {
  /** VLAN of untagged and priority-tagged frames. */
  readonly portVlan: Setting<number | "refused">;
  /** Which kinds of frames enter. */
  readonly admit: Setting<"all" | "tagged" | "untagged">;
  /** Whether a tag outside the membership is refused on the way in; absent: as the profile says. */
  readonly filterIngress?: Setting<boolean>;
  /** Whether answers of DHCP servers may enter. */
  readonly leasesTrusted: Setting<boolean>;
  /** Never reaches another isolated port. */
  readonly isolated: Setting<boolean>;
  /** What it carries; a VLAN stands in at most one entry. */
  readonly members: readonly SiteMember[];
  /** Where a VLAN that is in no entry would stand. */
  readonly otherwise: Origin;
  /** Largest payload of a frame in bytes; absent: the device's. */
  readonly mtu?: Setting<number>;
};

/** A run of VLANs of a membership. */
export type SiteMember = {
  /** First VLAN, 1..4094. */
  readonly first: number;
  /** Last VLAN, inclusive. */
  readonly last: number;
  /** How its frames leave. */
  readonly leaves: "tagged" | "untagged";
  /** The word that says so. */
  readonly origin: Origin;
};

/** Spanning-tree settings. */
export type SiteTree = {
  /** The mapping or word, or the default for a switch. */
  readonly origin: Origin;
  /** Bridge priority, 0..61440 in steps of 4096. */
  readonly priority: Setting<number>;
  /** Seconds between frames. */
  readonly helloSeconds: Setting<number>;
  /** Seconds a heard frame is believed. */
  readonly maxAgeSeconds: Setting<number>;
  /** Seconds in each of listening and learning. */
  readonly forwardDelaySeconds: Setting<number>;
  /** One entry for each port or bond of the bridge, in its order. */
  readonly ports: readonly {
    /** Name of the port or bond. */
    readonly name: string;
    /** Path cost; absent: by rate. */
    readonly cost?: Setting<number>;
    /** Port priority, 0..240 in steps of 16. */
    readonly priority: Setting<number>;
    /** Forwards at once. */
    readonly edge: Setting<boolean>;
    /** Goes down when a spanning-tree frame arrives. */
    readonly guard: Setting<boolean>;
  }[];
};

/** A radio network that an access point offers. */
export type SiteSsid = {
  /** Its name as clients see it. */
  readonly name: string;
  /** Its entry. */
  readonly origin: Origin;
  /** Radios that offer it. */
  readonly radios: readonly Setting<string>[];
  /** VLAN that its clients are put on. */
  readonly vlan: Setting<number>;
  /** Whether its clients are kept apart. */
  readonly isolated: Setting<boolean>;
};
