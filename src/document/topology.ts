/**
 * The topology kind: what is racked and cabled. Facts one can touch; no configuration.
 */
import type { Hardware } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { List, Located, PortNames, PortReference } from "./values.ts";

/** What a device is; decides what it does without any intent. */
export type DeviceKind = "router" | "switch" | "unmanaged-switch" | "access-point" | "host" | "upstream";

/** What an unmanaged switch does with spanning-tree frames. */
export type FrameHabit = "pass" | "eat" | "unknown";

/** A loaded `topology/1` document. */
export type TopologyDocument = {
  /** Tells the kinds of documents apart. */
  readonly kind: "topology";
  /** The whole document. */
  readonly span: Span;
  /** Every device, in document order. */
  readonly devices: readonly TopologyDevice[];
  /** Every cable, in document order. */
  readonly cables: readonly Cable[];
  /** Things that take several cables or devices down together, in document order. */
  readonly sharedFates: readonly SharedFate[];
};

/** One racked device. */
export type TopologyDevice = {
  /** Its name; devices, networks and sets share one namespace. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** What it is. */
  readonly is: Located<DeviceKind>;
  /** Its sockets, in document order; none when not written. */
  readonly ports: readonly PortGroup[];
  /** Its radios; none when not written. */
  readonly radios?: List<string>;
  /** The ports that feed it; any one suffices. Not written: it has power of its own. */
  readonly poweredBy?: List<PortReference>;
  /** Hardware address of its first port; each further port counts one up. Default: derived from the names. */
  readonly mac?: Located<Hardware>;
  /** Unmanaged switches only: what becomes of spanning-tree frames. Default `unknown`. */
  readonly spanningTreeFrames?: Located<FrameHabit>;
  /** The shared fates it goes down with. */
  readonly shares?: List<string>;
  /** Words for people. */
  readonly note?: Located<string>;
};

/** Ports of one rate: `p1..24: 1G`. */
export type PortGroup = {
  /** The names, expanded. */
  readonly names: Located<PortNames>;
  /** The whole entry. */
  readonly span: Span;
  /** Line rate in Mbit/s. */
  readonly rateMbps: Located<number>;
  /** Hardware address of the first of them; each further one counts up. */
  readonly mac?: Located<Hardware>;
};

/** A cable between two ports. */
export type Cable = {
  /** The whole entry. */
  readonly span: Span;
  /** The two ports it joins, in the order written. */
  readonly ends: readonly [Located<PortReference>, Located<PortReference>];
  /** What it limits the rate to, in Mbit/s. Default: no limit of its own. */
  readonly rateMbps?: Located<number>;
  /** The shared fates it goes down with. */
  readonly shares?: List<string>;
  /** Words for people. */
  readonly note?: Located<string>;
};

/** A duct, a power strip, a pole: what takes several things down together. */
export type SharedFate = {
  /** Its name, used by `shares`. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** What it is, in words for people. */
  readonly note: Located<string>;
};
