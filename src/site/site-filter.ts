/**
 * Filters and translation of a resolved site: ordered lists whose names are resolved. A key that is not written is
 * absent and matches all; a written list with nothing in it matches nothing.
 */
import type { Address, Family, Service } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { NumberRange } from "../document/index.ts";
import type { SiteTarget } from "./references.ts";
import type { Setting } from "./setting.ts";

/** A written list, resolved: each entry with its word, the whole with the place where something would be missing. */
export type SiteList<T> = Setting<readonly Setting<T>[]>;

/** State of the connection a packet belongs to. */
export type SiteState = "new" | "established" | "related" | "invalid" | "untracked";

/** The three lists of a device; a list not written accepts all. */
export type SiteFilter = {
  /** The whole mapping. */
  readonly origin: Origin;
  /** Packets addressed to the device itself. */
  readonly to?: SiteRuleList;
  /** Packets the device forwards. */
  readonly through?: SiteRuleList;
  /** Packets the device itself sends. */
  readonly from?: SiteRuleList;
  /** What a packet amid a TCP connection is when no entry exists; absent: as the profile says. */
  readonly midStream?: Setting<"new" | "invalid">;
};

/** One ordered list. */
export type SiteRuleList = {
  /** The whole mapping. */
  readonly origin: Origin;
  /** The rules in their order. */
  readonly rules: readonly SiteRule[];
  /** What becomes of a packet that no rule matches. */
  readonly otherwise: Setting<SiteAction>;
};

/** What a rule or list does. */
export type SiteAction =
  | {
      /** Lets it on, or drops it in silence. */
      readonly do: "accept" | "drop";
    }
  | {
      /** Drops it and answers. */
      readonly do: "reject";
      /** The answer. */
      readonly with: "port-unreachable" | "host-unreachable" | "network-unreachable" | "prohibited" | "tcp-reset";
    }
  | {
      /** Nobody knows. */
      readonly do: "unknown";
      /** What is said of it; empty: nothing. */
      readonly note: string;
    };

/** What a rule of any list asks of a packet. */
export type SiteMatch = {
  /** Its name, unique in its list. */
  readonly name: string;
  /** The rule; the span is the name's. */
  readonly origin: Origin;
  /** Version of IP. */
  readonly family?: Setting<Family>;
  /** Interfaces of the device it arrived on. */
  readonly ingress?: SiteList<string>;
  /** Interfaces of the device it leaves by. */
  readonly egress?: SiteList<string>;
  /** Whom it says it is from; sets are unfolded. */
  readonly source?: SiteList<SiteTarget>;
  /** Whom it is for; sets are unfolded. */
  readonly dest?: SiteList<SiteTarget>;
  /** Protocol with destination ports or message type. */
  readonly services?: SiteList<Service>;
  /** Source ports of TCP and UDP. */
  readonly sourcePorts?: SiteList<NumberRange>;
};

/** A filter rule. */
export type SiteRule = SiteMatch & {
  /** States of the connection. */
  readonly states?: SiteList<SiteState>;
  /** Hardware addresses it was sent from. */
  readonly sourceHardware?: SiteList<bigint>;
  /** What becomes of the packet. */
  readonly action: Setting<SiteAction>;
};

/** Address translation. */
export type SiteTranslate = {
  /** The whole mapping. */
  readonly origin: Origin;
  /** Source translation, decided after `through`. */
  readonly source: readonly SiteSourceTranslation[];
  /** Destination translation, decided before `through`. */
  readonly dest: readonly SiteDestTranslation[];
  /** Which packets share a mapping (RFC 4787 section 4.1); absent: as the profile says. */
  readonly mapping?: Setting<"endpoint-independent" | "address-dependent" | "address-and-port-dependent">;
  /** Who may send through a mapping that several connections share (RFC 4787 section 5); absent: as the profile says. */
  readonly filtering?: Setting<"endpoint-independent" | "address-dependent" | "address-and-port-dependent">;
  /** Clients may open forwards by themselves; absent: they may not. */
  readonly clientsMayOpenForwards?: Origin;
};

/** A source translation. */
export type SiteSourceTranslation = SiteMatch & {
  /** The new source. */
  readonly to: Setting<
    | {
        /** The address of the interface it leaves by, or the source as it is. */
        readonly by: "external-address" | "unchanged";
      }
    | {
        /** One of these addresses. */
        readonly by: "addresses";
        /** First, inclusive. */
        readonly first: Address;
        /** Last, inclusive. */
        readonly last: Address;
      }
  >;
  /** New source ports; absent: the old one if free. */
  readonly toPorts?: Setting<NumberRange>;
};

/** A destination translation. */
export type SiteDestTranslation = SiteMatch & {
  /** The new destination; `unchanged`: as it is. */
  readonly to: Setting<Address | "unchanged">;
  /** New destination ports; absent: the old one. */
  readonly toPorts?: Setting<NumberRange>;
};
