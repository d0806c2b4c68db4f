/**
 * A document as text, lists and mappings, each with its place: what is left of YAML before anything is typed.
 * Keys are text, unique within their mapping, in document order.
 */
import type { Span } from "../diagnose/index.ts";

/** One piece of a document. */
export type Node = TextNode | ListNode | MapNode | NothingNode;

/** A scalar, as the text that was meant (quotes and escapes undone). */
export type TextNode = {
  /** Tells the kinds of nodes apart. */
  readonly kind: "text";
  /** The text. */
  readonly text: string;
  /** Where it stands, quotes included. */
  readonly span: Span;
  /** Whether `text` stands in the file letter by letter, so that offsets within it are offsets in the file. */
  readonly plain: boolean;
};

/** A sequence. */
export type ListNode = {
  /** Tells the kinds of nodes apart. */
  readonly kind: "list";
  /** Its items, in order. */
  readonly items: readonly Node[];
  /** Where it stands. */
  readonly span: Span;
};

/** A mapping. */
export type MapNode = {
  /** Tells the kinds of nodes apart. */
  readonly kind: "map";
  /** Its entries, in order; no two keys are equal. */
  readonly entries: readonly MapEntry[];
  /** Where it stands. */
  readonly span: Span;
};

/** One entry of a mapping. */
export type MapEntry = {
  /** The key. */
  readonly key: TextNode;
  /** The value; `nothing` where none is written. */
  readonly value: Node;
};

/** Nothing is written: `ports:` and no more. */
export type NothingNode = {
  /** Tells the kinds of nodes apart. */
  readonly kind: "nothing";
  /** Where it would stand. */
  readonly span: Span;
  /** Set when something stands there that is refused, and a diagnostic says so already. */
  readonly refused?: true;
  /** Set when a comment stands there on the line, which may have been meant as a text. */
  readonly commented?: true;
};

/** The place of a whole entry, key and value. */
export function entrySpan(entry: MapEntry): Span {
  const { key, value } = entry;
  return { file: key.span.file, start: key.span.start, end: Math.max(key.span.end, value.span.end) };
}

/** What a node is, as messages say it. */
export function describeNode(node: Node): string {
  switch (node.kind) {
    case "text":
      return `\`${shorten(node.text)}\``;
    case "list":
      return "a list";
    case "map":
      return "a mapping";
    case "nothing":
      return "nothing";
  }
}

const SHOWN = 60;

/** Text for a message: one line, at most 60 characters. */
export function shorten(text: string): string {
  const line = text.replace(/\s+/g, " ");
  return line.length > SHOWN ? `${line.slice(0, SHOWN - 1)}…` : line;
}
