/**
 * What a name means in an assertion: as *from*, where its frames enter and which stacks begin exchanges; as *to*,
 * which addresses, interfaces and segments belong to it (semantics, section 1).
 */
import type { Ranges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id, Part } from "./entry.ts";

/** A place where a frame that nobody vouches for can enter: it arrives at this attachment of a managed device. */
export type Entrance = {
  /** A port or association of a bridge or stack. */
  readonly at: Id;
};

/** A place that is no entrance, since the plan vouches for who sends there. */
export type Vouched = {
  /** A port or bond of a managed device. */
  readonly at: Id;
  /** The host that alone sends by its cable, and only as itself; not where somebody names it and asks what it might send. */
  readonly device: Id;
  /** Where that is said. */
  readonly origin: Origin;
};

/** A stack with the interfaces that belong to the group; all its interfaces for a whole host. */
export type Party = {
  /** Id of the stack. */
  readonly stack: Id;
  /** Ids of its interfaces that count. */
  readonly interfaces: readonly Id[];
};

/** One broadcast domain as one device sees it. */
export type SegmentPoint = {
  /** A bridge (then `vlan` counts inside it) or an attachment that an interface stands on directly. */
  readonly at: Id;
  /** VLAN in the bridge; on an attachment the tag; absent: untagged, or the only domain of a bridge that ignores tags. */
  readonly vlan?: number;
};

/** Part of a set: a group of its own, or addresses that were written. */
export type SetMember =
  | {
      /** Id of the group. */
      readonly group: Id;
    }
  | {
      /** Address keys. */
      readonly addresses: Ranges;
    };

/** A name that assertions use. */
export type Group = Part & {
  /** What the name names. */
  readonly kind: "network" | "host" | "leg" | "device" | "set" | "internet" | "internet-public";
  /** Stacks that begin exchanges: declared hosts there. */
  readonly begins: readonly Party[];
  /** Where arbitrary frames of its members can enter, for `blocked`. */
  readonly entrances: readonly Entrance[];
  /** Places that would be entrances, if it were not for what is said of them; sorted by place. Of a host or leg none: whoever names it asks about it. */
  readonly vouched: readonly Vouched[];
  /** Ids of the stand-in clients' devices of its networks (a client that took a lease), where leases are served. */
  readonly standIns: readonly Id[];
  /** Stacks that answer. */
  readonly parties: readonly Party[];
  /** Address keys that belong to it, owned or not. */
  readonly addresses: Ranges;
  /** Of a network: a prefix of IPv6 is to be delegated to it, and is not; the line where that would be said. Absent: it has all that it is to have. */
  readonly lacking?: Origin;
  /** Interfaces whose settled addresses belong to it, link-local ones too. */
  readonly interfaces: readonly Id[];
  /** Segments that belong to it. */
  readonly segments: readonly SegmentPoint[];
  /** Upstream interfaces: whatever leaves to one of these counts as reaching it. */
  readonly upstreams: readonly Id[];
  /** Of a set: what it is made of, in its order; an assertion about it holds for each. Absent for other kinds. */
  readonly members?: readonly SetMember[];
};
