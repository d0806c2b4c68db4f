/**
 * Why an entry of the description exists: the line that was written, the list where something is absent,
 * the default and whose it is, or the protocol it was learned from. Every answer ends at an origin.
 */
import type { Span } from "./span.ts";

/** The reason an entry exists, with the best place to show for it. */
export type Origin = {
  /** The place to show: what was written, or the list where something is missing. */
  readonly span: Span;
  /** Further places on the way, outermost first: the use of a role or set, when `span` lies inside its definition. */
  readonly through?: readonly Span[];
} & (
  | {
      /** It stands in a document. */
      readonly by: "written";
    }
  | {
      /** It stands nowhere; `span` is the list or mapping that lacks it. */
      readonly by: "absent";
      /** What would have to stand there, as a phrase: "`visitors` in this list of tagged networks". */
      readonly wanted: string;
    }
  | {
      /** A default filled it in; `span` is the thing it was filled in for. */
      readonly by: "default";
      /** The rule as a phrase: "connected route", "an undecided packet is dropped". */
      readonly rule: string;
      /** Whose default: "RFC 1812 section 5.2.4.3", "common practice", "linux". */
      readonly source: string;
    }
  | {
      /** A protocol brought it. */
      readonly by: "learned";
      /** Which protocol. */
      readonly from: "lease" | "advertisement" | "lacp" | "spanning-tree";
    }
);
