/**
 * Intent of filters and translation: ordered lists, first match final, each filter list with its `otherwise`.
 */
import type { Family, Hardware, Service } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { AddressOrName, AddressRange, List, Located, NumberRange, Target } from "./values.ts";

/** State of the connection a packet belongs to. */
export type ConnectionState = "new" | "established" | "related" | "invalid" | "untracked";

/** How a rejected packet is answered. */
export type RejectAnswer = "port-unreachable" | "host-unreachable" | "network-unreachable" | "prohibited" | "tcp-reset";

/** The three lists of a device; a list not written accepts all. */
export type Filter = {
  /** The whole mapping. */
  readonly span: Span;
  /** Packets addressed to the device itself. */
  readonly to?: RuleList;
  /** Packets the device forwards. */
  readonly through?: RuleList;
  /** Packets the device itself sends. */
  readonly from?: RuleList;
  /** What a packet amid a TCP connection is when no entry exists. Default: the profile's. */
  readonly midStream?: Located<"new" | "invalid">;
};

/** One ordered list. */
export type RuleList = {
  /** The whole mapping. */
  readonly span: Span;
  /** What becomes of a packet that no rule matches; always written. */
  readonly otherwise: Located<FilterAction>;
  /** The rules in their order; none when not written. */
  readonly rules: readonly Rule[];
};

/** What a rule or list does with a packet. */
export type FilterAction =
  | {
      /** Let it on, or drop it in silence. */
      readonly do: "accept" | "drop";
    }
  | {
      /** Drop it and answer. */
      readonly do: "reject";
      /** The answer; not written: `port-unreachable` (kernel fact 14). */
      readonly with?: Located<RejectAnswer>;
    }
  | { /** Not known: every verdict it touches is undecided. */ readonly do: "unknown" };

/** What a rule of any list may ask of a packet; a key that is not written matches all. */
export type RuleMatch = {
  /** The rule's name, unique in its list. */
  readonly name: Located<string>;
  /** The whole rule. */
  readonly span: Span;
  /** Version of IP. Default both. */
  readonly family?: Located<Family>;
  /** Interfaces it arrived on. */
  readonly in?: List<string>;
  /** Interfaces it leaves by. */
  readonly out?: List<string>;
  /** Whom it says it is from. */
  readonly source?: List<Target>;
  /** Whom it is for. */
  readonly dest?: List<Target>;
  /** Protocol with destination ports or message type. */
  readonly service?: List<Service>;
  /** Source ports of TCP and UDP. */
  readonly sourcePort?: List<NumberRange>;
  /** Words for people. */
  readonly note?: Located<string>;
};

/** A filter rule. */
export type Rule = RuleMatch & {
  /** States of the connection. */
  readonly state?: List<ConnectionState>;
  /** Hardware addresses it was sent from. */
  readonly sourceMac?: List<Hardware>;
  /** What becomes of the packet; the span is the word's. */
  readonly action: Located<FilterAction>;
};

/** Address translation. */
export type Translate = {
  /** The whole mapping. */
  readonly span: Span;
  /** Source translation, decided after `through`; span of the list. */
  readonly source?: Located<readonly SourceTranslation[]>;
  /** Destination translation (forwards), decided before `through`; span of the list. */
  readonly dest?: Located<readonly DestTranslation[]>;
  /** Whether clients may open forwards by themselves: voids every proof about the internet. Default no. */
  readonly clientsMayOpenForwards?: Located<boolean>;
  /** Which packets share a mapping (RFC 4787 section 4.1). Default: the profile's. */
  readonly mapping?: Located<TranslationScope>;
  /** Who may answer through a mapping (RFC 4787 section 5). Default: the profile's. */
  readonly filtering?: Located<TranslationScope>;
};

/** What a mapping or its filter depends on (RFC 4787). */
export type TranslationScope = "endpoint-independent" | "address-dependent" | "address-and-port-dependent";

/** A source translation rule. */
export type SourceTranslation = RuleMatch & {
  /** The new source: the outgoing interface's address, addresses, or the source left as it is. */
  readonly to: Located<
    | { /** `external-address`: that of the interface it leaves by. */ readonly by: "external-address" }
    | { /** `unchanged`: no translation. */ readonly by: "unchanged" }
    | ({ /** Written addresses. */ readonly by: "addresses" } & AddressRange)
  >;
  /** New source ports. Default: the old one if free, else another of its class (kernel fact 21). */
  readonly toPort?: Located<NumberRange>;
};

/** A destination translation rule: a forward. */
export type DestTranslation = RuleMatch & {
  /** The new destination, or the destination left as it is. */
  readonly to: Located<AddressOrName | { /** `unchanged`: no translation. */ readonly by: "unchanged" }>;
  /** New destination ports. Default: the old one. */
  readonly toPort?: Located<NumberRange>;
};
