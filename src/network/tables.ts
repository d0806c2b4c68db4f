/**
 * Tables: ordered rules (filters and translations) and routes. Each table says what a miss does.
 */
import type { Ranges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Entry, Id, Part } from "./entry.ts";
import type { Alternatives } from "./match.ts";
import type { DropReason, Refusal } from "./stack.ts";

/** What a filter rule does. First match is final. */
export type FilterAction =
  | { readonly do: "accept" }
  | { readonly do: "drop" }
  | {
      readonly do: "refuse";
      /** How it is turned away. */
      readonly with: Refusal;
    }
  /** Nobody knows: every verdict it touches is undecided, with the note. */
  | {
      readonly do: "unknown";
      /** What the document says of it. */
      readonly note: string;
    };

/** What a translation rule does. */
export type TranslateAction =
  | { readonly do: "keep" }
  | {
      readonly do: "rewrite";
      /** Address keys to choose from (first free, a prefix maps one to one with `oneToOne`), or the egress interface's address that faces the gateway. */
      readonly to: Ranges | "egress-address" | "same";
      /** Ports to choose from, or `offset`: the nth of the matched range becomes the nth of these; absent: kept if free, else another of its class. */
      readonly ports?: Ranges;
      /** Maps the nth address matched to the nth of `to`. */
      readonly oneToOne: boolean;
      /** The nth port matched becomes the nth of `ports`. Default: true at the destination end, false at the source end. */
      readonly byOffset?: boolean;
      /** At the source end: the port stays as it is if it lies in `ports` and is free, as in the kernel. Default: false, the lowest free one is taken. */
      readonly keepPort?: boolean;
    };

/** Where a route leads. */
export type RouteAction =
  | {
      readonly do: "forward";
      /** Several hops of equal rank are a choice. `via` absent: on link. Family as the route's. */
      readonly hops: readonly { readonly egress: Id; readonly via?: bigint }[];
    }
  | {
      readonly do: "refuse";
      /** Why. */
      readonly reason: DropReason;
      /** How it is turned away. */
      readonly with: Refusal;
    }
  /** To this stack itself: an upstream that stands for everything beyond it. */
  | { readonly do: "local" };

/** A rule with its place in the order given by the table. */
export type Rule<Action> = Entry & {
  /** Fits when one of these does. */
  readonly when: Alternatives;
  /** What becomes of a packet that fits. */
  readonly action: Action;
};

/** A route. */
export type Route = Entry & {
  /** 4 or 6. */
  readonly family: 4 | 6;
  /** Network address, host bits zero. */
  readonly prefix: bigint;
  /** Prefix length in bits. */
  readonly length: number;
  /** Lower wins among equal prefixes; then the first. What was advertised adds half a step for its preference, or takes it off. */
  readonly metric: number;
  /** Where it leads. */
  readonly action: RouteAction;
};

/** An ordered list of filter rules. */
export type FilterTable = Part & {
  readonly kind: "filter";
  /** In their order; the first that fits is final. */
  readonly rules: readonly Rule<FilterAction>[];
  /** What becomes of a packet that no rule fits. */
  readonly otherwise: { readonly action: FilterAction; readonly origin: Origin };
};

/** An ordered list of translation rules; a miss keeps the packet as it is. */
export type TranslateTable = Part & {
  readonly kind: "translate";
  /** In their order; the first that fits is final. */
  readonly rules: readonly Rule<TranslateAction>[];
  /** A miss keeps the packet. */
  readonly otherwise: { readonly action: TranslateAction; readonly origin: Origin };
};

/** Routes, static and connected; learned ones come with `Settled`. Sorted by family, length (longest first), prefix, metric, document order. */
export type RouteTable = Part & {
  readonly kind: "routes";
  /** Best first. */
  readonly routes: readonly Route[];
  /** What a miss does: no route. */
  readonly otherwise: { readonly action: RouteAction; readonly origin: Origin };
};

/** Any table. */
export type Table = FilterTable | TranslateTable | RouteTable;
