/**
 * The assertions kind: what must hold.
 */
import type { Service } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { AddressOrName, AddressRange, List, Located, NameReference, PortNames, Target } from "./values.ts";

/** A loaded `assertions/1` document. */
export type AssertionsDocument = {
  /** Tells the kinds of documents apart. */
  readonly kind: "assertions";
  /** The whole document. */
  readonly span: Span;
  /** Every assertion, in document order; names are unique within the file. */
  readonly assertions: readonly Assertion[];
};

/** One assertion. */
export type Assertion = ReachAssertion | LeaseAssertion | SegmentAssertion;

/** What every assertion has. */
export type AssertionHead = {
  /** Its name. */
  readonly name: Located<string>;
  /** The whole assertion. */
  readonly span: Span;
  /** Words for people. */
  readonly note?: Located<string>;
};

/** Whether packets get there, and on which way. */
export type ReachAssertion = AssertionHead & {
  /** Tells the kinds of assertions apart. */
  readonly kind: "reach";
  /** Who begins; an assertion over several holds for each. */
  readonly from: List<Target>;
  /** Who is meant; an assertion over several holds for each. */
  readonly to: List<Target>;
  /** Which services. Not written: every packet for `blocked`, ICMP echo for `connects` and `arrives`. */
  readonly service?: List<Service>;
  /** What must come of it. */
  readonly expect: Located<"connects" | "arrives" | "blocked">;
  /** Whether a router may or must lie on the way. */
  readonly routed?: Located<"never" | "always">;
  /** Devices that every path must pass. */
  readonly through?: List<string>;
  /** Devices that no path may pass. */
  readonly avoids?: List<string>;
  /** `cut-off`: a pass because the source cannot reach anything counts as a pass. */
  readonly evenIf?: Located<"cut-off">;
};

/** What a client is leased. */
export type LeaseAssertion = AssertionHead & {
  /** Tells the kinds of assertions apart. */
  readonly kind: "lease";
  /** The expectation. */
  readonly lease: {
    /** The whole mapping. */
    readonly span: Span;
    /** The client, and its leg when it has several. */
    readonly client: Located<NameReference>;
    /** The address lies in this run; `none`: no lease comes. Not written: any address. */
    readonly address?: Located<
      { /** The word `none`. */ readonly by: "none" } | ({ /** A run. */ readonly by: "addresses" } & AddressRange)
    >;
    /** The router it is told; `none`: it is told none. */
    readonly router?: Located<AddressOrName | { /** The word `none`. */ readonly by: "none" }>;
    /** The resolvers it is told, in order. */
    readonly resolvers?: Located<
      | { /** The word `none`. */ readonly by: "none" }
      | { /** These. */ readonly by: "list" /** In order. */; readonly items: readonly Located<AddressOrName>[] }
    >;
    /** The device that leased it. */
    readonly server?: Located<NameReference>;
  };
};

/** Exactly which ports share one segment. */
export type SegmentAssertion = AssertionHead & {
  /** Tells the kinds of assertions apart. */
  readonly kind: "segment";
  /** The expectation. */
  readonly segment: {
    /** The whole mapping. */
    readonly span: Span;
    /** The network meant. */
    readonly network: Located<string>;
    /** Exactly the edge ports that carry it untagged or tagged, with their devices. */
    readonly ports: List<SegmentPorts>;
  };
};

/** Ports of one device, `core:p3..6`. */
export type SegmentPorts = {
  /** The device. */
  readonly device: Located<string>;
  /** Its ports. */
  readonly ports: Located<PortNames>;
};
