/**
 * Edits of intent by path, as a storyline writes them.
 */
import type { Span } from "../diagnose/index.ts";
import type { Node } from "./node.ts";
import type { Located } from "./values.ts";

/** One edit. */
export type Edit = EditSet | EditAdd | EditRemove;

/** Writes a value, whether or not one stands there. */
export type EditSet = {
  /** Tells the kinds of edits apart. */
  readonly kind: "set";
  /** The whole edit. */
  readonly span: Span;
  /** Where. */
  readonly path: EditPath;
  /** What. */
  readonly value: Node;
};

/** Puts an item into a list, which need not be there yet. */
export type EditAdd = {
  /** Tells the kinds of edits apart. */
  readonly kind: "add";
  /** The whole edit. */
  readonly span: Span;
  /** The list. */
  readonly path: EditPath;
  /** What. */
  readonly value: Node;
  /** The item that it goes before, by its name or word. Default: it goes last. */
  readonly before?: Located<string>;
};

/** Takes an entry or an item away. */
export type EditRemove = {
  /** Tells the kinds of edits apart. */
  readonly kind: "remove";
  /** The whole edit. */
  readonly span: Span;
  /** What. */
  readonly path: EditPath;
};

/** `edge.filter.through.rules[visitors go out]`: keys, and items of lists in brackets. */
export type EditPath = {
  /** As written. */
  readonly text: string;
  /** Where it stands. */
  readonly span: Span;
  /** At least one; the first is a device, a network or a set, or `port-roles`. */
  readonly steps: readonly EditStep[];
};

/** One step of a path. */
export type EditStep = {
  /** The key, or the item's name or word. */
  readonly text: string;
  /** Whether it was written in brackets. */
  readonly isItem: boolean;
  /** Where it stands. */
  readonly span: Span;
};
