/**
 * The link layer as data: ports, links, bonds, bridges and the order of steps that a frame takes through a bridge.
 *
 * An *attachment* is anything a frame can enter or leave a device by: a port, a bond, a wireless association, or a
 * bridge's own port towards its device's stack. What takes a frame on an attachment, in this order (kernel fact 36):
 * the bond whose member it is; an interface on it with the frame's outer tag; a bridge port on it; an untagged
 * interface on it (untagged frames only); nobody.
 */
import type { Ranges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Entry, Id, Part } from "./entry.ts";

/** A physical port, a radio, or one wireless association. */
export type Port = Part & {
  /** Id of its device. */
  readonly device: Id;
  /** Rate in Mbit/s; 0 where unknown (wireless). */
  readonly rateMbps: number;
  /** Largest IP packet in bytes. */
  readonly mtu: number;
  /** False when switched off in the configuration. */
  readonly enabled: boolean;
  /** Its hardware address. */
  readonly hardware: bigint;
};

/** What joins two ports. A port without a link has no carrier; several links on one port act as a hub. */
export type Link = Part & {
  /** The two ports. */
  readonly ends: readonly [Id, Id];
  /** What it is made of; `internet`: what joins two upstreams, which is nothing of the plan. */
  readonly kind: "cable" | "radio" | "tunnel" | "internet";
  /** Shared fates: names of what it fails with. */
  readonly downWith: readonly Id[];
  /** Up only when a question asks for it: the link of a stand-in client (see `Device.standIn`). */
  readonly onDemand: boolean;
  /** A tunnel's outer packets: it is up once they were exchanged. Absent: it is no tunnel. */
  readonly outer?: OuterExchange;
};

/** What the ends of a tunnel send to one another around its packets. */
export type OuterExchange = {
  /** In the order of the link's ends. */
  readonly ends: readonly [OuterEnd, OuterEnd];
};

/** One end of it. */
export type OuterEnd = {
  /** Id of the stack that sends and takes outer packets. */
  readonly stack: Id;
  /** UDP port that it listens on; absent: any free one, so that it must start. */
  readonly port?: number;
  /** Key of the address that it sends to; absent: learned when the other end starts. */
  readonly endpoint?: bigint;
  /** The line that says what it knows of its peer. */
  readonly origin: Origin;
};

/** Several ports used as one. An attachment of its own. */
export type Bond = Part & {
  /** Id of its device. */
  readonly device: Id;
  /** Member ports, in the order of joining: the first lends its hardware address. */
  readonly members: readonly Id[];
  /** How a flow picks its member (kernel fact 45). */
  readonly hash: "layer2" | "layer2+3" | "layer3+4";
  /** What an LACP bond with no partner does: its first member carries, or none (kernel fact 40). */
  readonly alone: "first-member" | "none";
  /** Members that must be fit to carry for any to carry, from 2, with the line that says so; absent: one is enough. */
  readonly minimum?: { readonly members: number; readonly origin: Origin };
  /** How members are chosen; `active` LACP sends unasked, `fast` asks the partner to send each second. */
  readonly mode:
    | { readonly kind: "lacp"; readonly active: boolean; readonly fast: boolean; readonly passiveMayPair: boolean }
    | { readonly kind: "active-backup" }
    | { readonly kind: "static" };
  /** Its hardware address. */
  readonly hardware: bigint;
  /** Largest IP packet in bytes. */
  readonly mtu: number;
};

/** What a bridge does with frames of a reserved group address (01-80-C2-00-00-0x). */
export type ReservedHabit = "pass" | "eat" | "unknown";

/** One step of a frame through a bridge; engines know what each does, the order is data. */
export type BridgeStep = {
  /** Why this step is here. */
  readonly origin: Origin;
} & (
  | {
      /** Reserved group addresses: consumed or passed, by kind. */
      readonly op: "reserved";
      /** LACP and the rest of the block. */
      readonly slow: ReservedHabit;
      /** Spanning-tree frames. */
      readonly spanningTree: ReservedHabit;
    }
  | {
      /**
       * `tree`: a port that the spanning tree blocks neither receives nor sends.
       * `admit`: refuses frames whose kind (tagged; untagged or priority-tagged) the ingress port does not admit.
       * `classify`: outer tag's VLAN, else the port VLAN, else dropped; takes the tag off.
       * `ignore-tags`: the frame stays as it is, in one domain for all tags (an unmanaged switch).
       * `ingress-member`: on ports with `ingressFilter`, drops a frame whose VLAN the port is no member of.
       * `lease-guard`: on ports with `leaseGuard`, drops what carries an answer of a DHCP server.
       * `learn`: notes the source address against the port, per VLAN (or one table where tags are ignored).
       * `lookup`: one port where the destination was learned, else all other ports; never back out of the ingress port.
       *   The sender counts as learned there by then, so what goes to its own address stays; addresses of the bridge do not move.
       * `isolation`: not between ports of one isolation group.
       * `egress-member`: only out of ports that are members of the VLAN.
       * `tag`: puts the tag on or leaves it off, as the egress port's membership says.
       * `fit`: drops what exceeds the egress port's MTU, silently (kernel fact 49).
       */
      readonly op:
        | "tree"
        | "admit"
        | "classify"
        | "ignore-tags"
        | "ingress-member"
        | "lease-guard"
        | "learn"
        | "lookup"
        | "isolation"
        | "egress-member"
        | "tag"
        | "fit";
    }
);

/** A bridge: a switch, a router's own switching, an access point's. At most one a device. */
export type Bridge = Part & {
  /** Id of its device. */
  readonly device: Id;
  /** Its ports, in the order of joining (spanning tree numbers them so, from 1). */
  readonly ports: readonly BridgePort[];
  /** The steps of a frame, in order. */
  readonly steps: readonly BridgeStep[];
  /** Lifetime of a learned address. */
  readonly ageingSeconds: number;
  /** Settings of the spanning tree; absent: runs none. */
  readonly tree?: TreeSettings;
  /** Hardware address of the bridge, used as its identity in the tree. */
  readonly hardware: bigint;
};

/** Spanning-tree settings of one bridge: one tree for all VLANs. */
export type TreeSettings = {
  /** 0..61440 in steps of 4096 (RFC 4188). */
  readonly priority: number;
  /** Seconds between hellos, lifetime of a hello, delay of each of listening and learning. */
  readonly helloSeconds: number;
  /** Seconds that a heard hello is believed. */
  readonly maxAgeSeconds: number;
  /** Seconds in each of listening and learning. */
  readonly forwardDelaySeconds: number;
  /** Per bridge port; every port of the bridge but its own has one. */
  readonly ports: readonly TreePort[];
};

/** Spanning-tree settings of one bridge port. */
export type TreePort = {
  /** Id of the `BridgePort`. */
  readonly port: Id;
  /** Path cost stated, 1..200 000 000; absent: from the rate of what is up. */
  readonly cost?: number;
  /** 0..240 in steps of 16. */
  readonly priority: number;
  /** Forwards at once; expects no bridge behind it. */
  readonly edge: boolean;
  /** Shuts the port when a spanning-tree frame arrives. */
  readonly guard: boolean;
};

/** One port of a bridge. */
export type BridgePort = Entry & {
  /** The attachment: a port, a bond, or, for the bridge's own port, this very id. */
  readonly on: Id;
  /** True for the bridge's own port towards its device's stack; interfaces stand on this id. */
  readonly own: boolean;
  /** VLAN of untagged and priority-tagged frames, or refused; `origin` says why. */
  readonly untagged: { readonly vlan: number | "refused"; readonly origin: Origin };
  /** Which kinds of frames enter. */
  readonly admit: { readonly kinds: "all" | "tagged" | "untagged"; readonly origin: Origin };
  /** Drops at entry what it is no member of (default off in 802.1Q, always on in the kernel: fact 34). */
  readonly ingressFilter: boolean;
  /** Answers of DHCP servers do not enter here: the line that says so; absent: they do. */
  readonly leaseGuard?: Origin;
  /** Ports of one group never reach one another; absent: reaches all. */
  readonly isolation?: string;
  /** Membership; a VLAN stands in at most one entry. */
  readonly members: readonly Member[];
  /** Where a missing VLAN would stand: the origin to blame for every VLAN not in `members`. */
  readonly otherwise: Origin;
};

/** VLANs that a bridge port carries, and how they leave. */
export type Member = {
  /** VLAN numbers, 1..4094. */
  readonly vlans: Ranges;
  /** With or without a tag. */
  readonly leaves: "tagged" | "untagged";
  /** The word of the list, or the default. */
  readonly origin: Origin;
};
