/**
 * Where frames get to on the link layer, as plain records: interfaces, parts of broadcast domains, and ends.
 */
import type { Ranges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { DropReason, Id } from "../network/index.ts";
import type { Leg } from "./atlas.ts";
import type { Trail } from "./trail.ts";
import type { Part } from "./wave.ts";

/** How a frame was sent. */
type Framed = {
  /** Attachment where it entered; of an interface's frames, its own. */
  readonly sentAt: Id;
  /** Tags on it, outermost first. */
  readonly tags: readonly number[];
  /** Of what several entrances share. */
  readonly part?: Part;
};

/** An interface that frames get to. */
export type Touch = Framed & {
  /** The interface. */
  readonly leg: Leg;
  /** The way there. */
  readonly trail: Trail;
};

/** A part of a broadcast domain that frames get to. */
export type Point = {
  /** Bridge or attachment. */
  readonly at: Id;
  /** VLANs inside a bridge, tags at an attachment; empty: untagged, or all of a bridge that ignores tags. */
  readonly vlans: Ranges;
  /** Attachment where they entered; of an interface's frames, its own. */
  readonly sentAt: Id;
  /** Tags that the sender put on, outermost first, before the one that says the VLAN. */
  readonly taken: readonly number[];
  /** The sender put that one on too. */
  readonly chosen: boolean;
  /** Behind those stands whatever the sender chose. */
  readonly inner: boolean;
  /** Absent: they begin here. */
  readonly trail?: Trail;
  /** Of what several entrances share. */
  readonly part?: Part;
};

/** Frames that go no further. */
export type LinkStop = Framed & {
  /** Attachment, interface or bridge. */
  readonly at: Id;
  /** Why. */
  readonly reason: DropReason;
  /** The line that decided. */
  readonly origin: Origin;
  /** The way there. */
  readonly trail: Trail;
  /** Copies of a flood that find nobody: worth telling only where there is nothing else to tell. */
  readonly idle: boolean;
};

/** Where frames get to. */
export type LinkReach = {
  /** Each interface once, nearest first. */
  readonly touches: readonly Touch[];
  /** Parts of broadcast domains. */
  readonly points: readonly Point[];
  /** Where they go no further. */
  readonly stops: readonly LinkStop[];
  /** Parts that were looked at. */
  readonly looked: readonly Id[];
};
