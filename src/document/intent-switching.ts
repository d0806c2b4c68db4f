/**
 * Intent of the link layer: bonds, switching, port membership, spanning tree, radio networks.
 */
import type { Hardware } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { List, Located, NetworkOrVlans, PortNames } from "./values.ts";

/** Several ports acting as one. */
export type Bond = {
  /** Its name; ports, bonds and tunnels of a device share one namespace. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** Its ports, in the order that counts for the first member and the hash. */
  readonly members: List<PortNames>;
  /** How the members agree. */
  readonly mode: Located<"lacp" | "static" | "active-backup">;
  /** LACP only: who speaks first. Default `active`. */
  readonly activity?: Located<"active" | "passive">;
  /** LACP only: fast (1 s) or slow (30 s) frames. Default `slow`. */
  readonly speed?: Located<"fast" | "slow">;
  /** LACP only: what carries while no partner answers. Default `first-member`. */
  readonly alone?: Located<"first-member" | "none">;
  /** What picks a flow's member. Default `layer2`. */
  readonly hash?: Located<"layer2" | "layer2+3" | "layer3+4">;
  /** How many members must be up for the bond to be up. Default 1. */
  readonly minimum?: Located<number>;
  /** Hardware address. Default: its first member's. */
  readonly mac?: Located<Hardware>;
};

/** The switching part of a device: one bridge. */
export type Switching = {
  /** Its whole mapping. */
  readonly span: Span;
  /** Whether VLAN tags are obeyed at all. Default `obeyed`. */
  readonly tags?: Located<"obeyed" | "ignored">;
  /** What a port does that is not listed. Default `as-unboxed`: up, VLAN 1 untagged. */
  readonly unlisted?: Located<"as-unboxed" | "off">;
  /** What each port or bond does, in document order. */
  readonly ports?: Located<readonly SwitchedPort[]>;
  /** The device's own membership in its bridge. Default: VLAN 1 untagged, as unboxed. */
  readonly own?: Membership;
  /** Spanning tree. Default: on for `is: switch`, off for every other device. */
  readonly spanningTree?: Located<SpanningTree>;
  /** Seconds after which an unused learned address is forgotten. Default 300 (RFC 4188). */
  readonly ageingSeconds?: Located<number>;
};

/** What one entry of `switching.ports` says. */
export type SwitchedPort = {
  /** The port, bond or run of ports. */
  readonly ports: Located<PortNames>;
  /** Its whole entry. */
  readonly span: Span;
  /** The role, the membership written out, or off. */
  readonly use:
    | { /** A port role. */ readonly by: "role" /** Its name. */; readonly role: Located<string> }
    | { /** Written out. */ readonly by: "membership" /** The membership. */; readonly membership: Membership }
    | { /** The port is down. */ readonly by: "off" /** The word. */; readonly span: Span };
};

/** Which networks a port carries, and how. */
export type Membership = {
  /** Its whole mapping. */
  readonly span: Span;
  /** Shorthand: this network's VLAN both enters (port VLAN) and leaves untagged. */
  readonly untagged?: Located<NetworkOrVlans>;
  /** The VLAN that an untagged frame enters; `none` refuses untagged frames. */
  readonly portVlan?: Located<NetworkOrVlans | { /** The word `none`. */ readonly by: "none" }>;
  /** VLANs that leave untagged. */
  readonly leavesUntagged?: List<NetworkOrVlans>;
  /** VLANs that enter and leave tagged. */
  readonly tagged?: List<NetworkOrVlans>;
  /** Which frames may enter. Default `all`. */
  readonly admit?: Located<"all" | "tagged" | "untagged">;
  /** Whether a tag outside the membership is refused on the way in. Default: the profile's. */
  readonly filterIngress?: Located<boolean>;
  /** Isolated ports never reach each other. Default no. */
  readonly isolated?: Located<boolean>;
  /** Whether lease answers may enter here. Default yes. */
  readonly leasesTrusted?: Located<boolean>;
  /** Largest payload of a frame, in bytes. Default: the device's. */
  readonly mtu?: Located<number>;
};

/** Spanning tree, switched off or with its settings. */
export type SpanningTree =
  | { /** Off. */ readonly on: false }
  | {
      /** On, with what follows; a plain `on` leaves all at default. */
      readonly on: true;
      /** Bridge priority, 0-61440 in steps of 4096. Default 32768. */
      readonly priority?: Located<number>;
      /** Path costs of ports, 1-200000000. Default: by rate. */
      readonly costs?: Located<readonly PortNumber[]>;
      /** Port priorities, 0-240 in steps of 16. Default 128. */
      readonly portPriorities?: Located<readonly PortNumber[]>;
      /** Ports that forward at once. */
      readonly edge?: List<PortNames>;
      /** Ports that go down when a spanning-tree frame arrives. */
      readonly guard?: List<PortNames>;
      /** Seconds between frames, 1-10. Default 2. */
      readonly helloSeconds?: Located<number>;
      /** Seconds a heard frame is believed, 6-40. Default 20. */
      readonly maxAgeSeconds?: Located<number>;
      /** Seconds in each of listening and learning, 4-30. Default 15. */
      readonly forwardDelaySeconds?: Located<number>;
    };

/** A number for a port or a run of ports. */
export type PortNumber = {
  /** The port, bond or run of ports. */
  readonly ports: Located<PortNames>;
  /** The whole entry. */
  readonly span: Span;
  /** The number. */
  readonly number: Located<number>;
};

/** A radio network that an access point offers. */
export type Ssid = {
  /** Its name as clients see it: any text of 1-32 bytes. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** The radios that offer it. */
  readonly radio: List<string>;
  /** The network that its clients are put on. */
  readonly network: Located<NetworkOrVlans>;
  /** Whether its clients reach each other. Default `free`. */
  readonly clients?: Located<"isolated" | "free">;
};

/** Used by bonds and interfaces alike: a fixed hardware address, or a private one that never matches a reservation. */
export type HardwareChoice = Hardware | "private";
