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
export type Assertion = ReachAssertion | ResolvesAssertion | PolicyAssertion | LeaseAssertion | SegmentAssertion;

/** What every assertion has. */
export type AssertionHead = {
  /** Its name. */
  readonly name: Located<string>;
  /** The whole assertion. */
  readonly span: Span;
  /** Words for people. */
  readonly note?: Located<string>;
  /** Failures under which it must hold, too. Absent: it need not. */
  readonly survives?: Survives;
  /** It must hold after everything was off and came on again, in whatever order. Absent: it need not. */
  readonly recovers?: Located<"from-dark">;
};

/** Over which version of IP something must hold: over that one alone, or over each of both. */
export type AskedFamily = "ipv4" | "ipv6" | "each";

/** Parts of a site that can fail. */
export type FailingKind = "cables" | "bond-members" | "devices" | "servers";

/** Failures that an assertion must live through, each of its own. */
export type Survives = {
  /** The whole mapping. */
  readonly span: Span;
  /** Any one of these parts fails. */
  readonly oneOf?: List<FailingKind>;
  /** Any two of these parts fail together. */
  readonly twoOf?: List<FailingKind>;
};

/** Whether packets get there, and on which way. */
export type ReachAssertion = AssertionHead & {
  /** Tells the kinds of assertions apart. */
  readonly kind: "reach";
  /** Who begins; an assertion over several holds for each. */
  readonly from: List<Target>;
  /** Who is meant; an assertion over several holds for each. */
  readonly to: List<Target>;
  /** Which services; always there with `only`. Not written: every packet for `blocked`, else ICMP echo. */
  readonly service?: List<Service>;
  /** What must come of it; `only`: these services and no others. */
  readonly expect: Located<"connects" | "arrives" | "blocked" | "only">;
  /** Whether a router may or must lie on the way. */
  readonly routed?: Located<"never" | "always">;
  /** Devices that every path must pass. */
  readonly through?: List<string>;
  /** Devices that no path may pass. */
  readonly avoids?: List<string>;
  /** So much gets through, in Mbit/s: there, and with `connects` back. Not written: any rate is enough. */
  readonly bandwidth?: Located<number>;
  /** `cut-off`: a pass because the source cannot reach anything counts as a pass. */
  readonly evenIf?: Located<"cut-off">;
  /** Over which version of IP. Not written: an exchange over either, packets of both. */
  readonly family?: Located<AskedFamily>;
};

/** Whether names are resolved: a resolver that was told answers, and those whom it asks in turn. */
export type ResolvesAssertion = AssertionHead & {
  /** Tells the kinds of assertions apart. */
  readonly kind: "resolves";
  /** Who asks; an assertion over several holds for each. */
  readonly from: List<Target>;
  /** The word that makes it one of these. */
  readonly expect: Located<"resolves">;
  /** The name that is asked for. Not written: one that no resolver of the site has itself. */
  readonly looksUp?: Located<string>;
  /** Over which version of IP the source asks. Not written: over either. */
  readonly family?: Located<AskedFamily>;
};

/** Who may speak to whom: every cell of a table, those that nobody wrote included. */
export type PolicyAssertion = AssertionHead & {
  /** Tells the kinds of assertions apart. */
  readonly kind: "policy";
  /** Over which version of IP each cell holds. Not written: exchanges over either, packets of both. */
  readonly family?: Located<AskedFamily>;
  /** The table. */
  readonly policy: {
    /** The whole mapping. */
    readonly span: Span;
    /** Rows: who begins. */
    readonly from: List<Target>;
    /** Columns: who is meant. */
    readonly to: List<Target>;
    /** What is open, by row. */
    readonly open: readonly PolicyRow[];
  };
};

/** What is open to one of those who begin. */
export type PolicyRow = {
  /** The row. */
  readonly from: Located<Target>;
  /** Its cells that were written, in document order. */
  readonly cells: readonly PolicyCell[];
};

/** What is open between two ends. */
export type PolicyCell = {
  /** The column. */
  readonly to: Located<Target>;
  /** Exactly these; a word stands alone. */
  readonly open: List<Opening>;
};

/**
 * What a cell may hold: a service; `anything`: an echo works, and nothing is forbidden; `nothing`: all is blocked;
 * `unjudged`: nothing is asked.
 */
export type Opening =
  | {
      /** One of those that are open. */
      readonly by: "service";
      /** It. */
      readonly service: Service;
    }
  | {
      /** The word. */
      readonly by: "anything" | "nothing" | "unjudged";
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
