/**
 * Edits of a document's text by path, as people make them: one word, entry or item is put in, taken out or replaced, and
 * every other character stays as it was, comments and layout included. Lists and mappings are edited in the style in which
 * they are written, in brackets or line by line. Values that are put in are one line of YAML.
 */
import type { SourceFile, Span } from "../diagnose/index.ts";
import { entrySpan, type ListNode, type MapEntry, type MapNode, type Node } from "./node.ts";
import { parseYaml } from "./yaml-text.ts";

/** A piece of a file that becomes another text. */
export type TextEdit = {
  /** What goes; of no length: nothing does. */
  readonly span: Span;
  /** What comes; empty: nothing does. */
  readonly text: string;
};

/** Keys and positions from the root of a document. */
export type Path = readonly (string | number)[];

/** A document that can be edited. */
export type EditableText = {
  /** The whole text. */
  readonly text: string;
  /** Its tree. */
  readonly root: Node;
};

/** Opens a text that loads without an error; undefined: it does not. */
export function openText(source: SourceFile, file: number): EditableText | undefined {
  const { root } = parseYaml(source, file);
  return root === undefined ? undefined : { text: source.text, root };
}

/** The node at a path; undefined: nothing stands there. */
export function nodeAt({ root }: EditableText, path: Path): Node | undefined {
  return path.reduce<Node | undefined>((node, step) => node && childOf(node, step), root);
}

function childOf(node: Node, step: string | number): Node | undefined {
  if (node.kind === "map") return entryOf(node, step)?.value;
  return node.kind === "list" && typeof step === "number" ? node.items[step] : undefined;
}

function entryOf({ entries }: MapNode, key: string | number): MapEntry | undefined {
  return entries.find((entry) => entry.key.text === String(key));
}

/** The longest path to a value, or to a key with its value, in which a span lies. */
export function pathAt({ root }: EditableText, { start, end }: Span): Path {
  const path: (string | number)[] = [];
  const holds = (span: Span): boolean => span.start <= start && end <= span.end;
  let node: Node | undefined = root;
  while (node !== undefined) {
    if (node.kind === "map") {
      const found: MapEntry | undefined = node.entries.find((entry) => holds(entrySpan(entry)));
      if (found !== undefined) path.push(found.key.text);
      node = found !== undefined && holds(found.value.span) ? found.value : undefined;
    } else if (node.kind === "list") {
      const at: number = node.items.findIndex(({ span }) => holds(span));
      if (at >= 0) path.push(at);
      node = node.items[at];
    } else node = undefined;
  }
  return path;
}

/** A text with edits done, which must not overlap. */
export function withEdits(text: string, edits: readonly TextEdit[]): string {
  const sorted = edits.toSorted((a, b) => b.span.start - a.span.start || b.span.end - a.span.end);
  return sorted.reduce((done, { span, text: put }) => done.slice(0, span.start) + put + done.slice(span.end), text);
}

// -- one value -------------------------------------------------------------------------------------------------------

/** Puts a value in the place of another. */
export function replaced(document: EditableText, path: Path, value: string): readonly TextEdit[] {
  const node = nodeAt(document, path);
  if (node === undefined) throw new Error(`nothing stands at ${path.join(".")}`);
  return [{ span: node.span, text: node.kind === "nothing" ? ` ${value}` : value }];
}

/** Adds a word to what may be one word, a list or nothing yet. */
export function wordAdded(document: EditableText, path: Path, word: string): readonly TextEdit[] {
  const node = nodeAt(document, path);
  if (node?.kind === "list") return itemAdded(document, path, node.items.length, word);
  if (node?.kind !== "text") return replaced(document, path, `[${word}]`);
  return replaced(document, path, `[${document.text.slice(node.span.start, node.span.end)}, ${word}]`);
}

// -- items of lists --------------------------------------------------------------------------------------------------

/** Puts an item before the one at a position, or last. */
export function itemAdded(document: EditableText, path: Path, at: number, item: string): readonly TextEdit[] {
  const node = listAt(document, path);
  const [before, after] = [node.items[at - 1], node.items[at]];
  if (before === undefined && after === undefined) return [{ span: node.span, text: `[${item}]` }];
  if (isFlow(document, node)) return [amongFlow(document, before?.span, after?.span, item)];
  const { text } = document;
  const indent = " ".repeat(columnOf(text, dashOf(text, node.items[0] ?? node)));
  if (before !== undefined) return [afterLine(text, before.span, `${indent}- ${item}`)];
  const start = commentedStart(text, lineStart(text, dashOf(text, after ?? node)));
  return [{ span: { ...node.span, start, end: start }, text: `${indent}- ${item}\n` }];
}

/** Adds an item last to the list at a key, which need not be there yet. */
export function itemPut(document: EditableText, path: Path, key: string, item: string): readonly TextEdit[] {
  const own = [...path, key];
  const node = nodeAt(document, own);
  return node?.kind === "list"
    ? itemAdded(document, own, node.items.length, item)
    : entryAdded(document, path, { key, value: `[${item}]` });
}

/** Takes an item out; a list that loses its last one becomes `[]`. */
export function itemRemoved(document: EditableText, path: Path, at: number): readonly TextEdit[] {
  const node = listAt(document, path);
  const item = node.items[at];
  if (item === undefined) throw new Error(`no item ${at} at ${path.join(".")}`);
  if (node.items.length === 1) return [emptied(document, path, "[]")];
  const spans = node.items.map(({ span }) => span);
  return [
    isFlow(document, node) ? fromFlow(spans, at) : withoutLines(document.text, dashOf(document.text, item), item),
  ];
}

/** Two items change places; comments stay. */
export function itemsSwapped(document: EditableText, path: Path, one: number, other: number): readonly TextEdit[] {
  const { items } = listAt(document, path);
  const [a, b] = [items[one], items[other]];
  if (a === undefined || b === undefined) throw new Error(`no items ${one} and ${other} at ${path.join(".")}`);
  const { text } = document;
  return [
    { span: a.span, text: text.slice(b.span.start, b.span.end) },
    { span: b.span, text: text.slice(a.span.start, a.span.end) },
  ];
}

function listAt(document: EditableText, path: Path): ListNode {
  const node = nodeAt(document, path);
  if (node?.kind !== "list") throw new Error(`no list at ${path.join(".")}`);
  return node;
}

// -- entries of mappings ---------------------------------------------------------------------------------------------

/** Adds an entry last, or before that of a key where there is one. */
export function entryAdded(
  document: EditableText,
  path: Path,
  { key, value, before }: { readonly key: string; readonly value: string; readonly before?: string },
): readonly TextEdit[] {
  const node = nodeAt(document, path);
  const written = `${key}: ${value}`;
  if (node?.kind !== "map") return replaced(document, path, `{ ${written} }`);
  const found = before === undefined ? -1 : node.entries.findIndex((entry) => entry.key.text === before);
  const at = found < 0 ? node.entries.length : found;
  const [earlier, later] = [node.entries[at - 1], node.entries[at]];
  if (earlier === undefined && later === undefined) return [{ span: node.span, text: `{ ${written} }` }];
  if (isFlow(document, node))
    return [amongFlow(document, earlier && entrySpan(earlier), later && entrySpan(later), written)];
  const { text } = document;
  const [first] = node.entries;
  const indent = " ".repeat(columnOf(text, first?.key.span.start ?? node.span.start));
  if (earlier !== undefined) return [afterLine(text, entrySpan(earlier), `${indent}${written}`)];
  // The first entry may stand behind the dash of a list.
  const start = node.span.start;
  return [{ span: { ...node.span, start, end: start }, text: `${written}\n${indent}` }];
}

/** Puts a value at a key, whether or not one stands there. */
export function entrySet(
  document: EditableText,
  path: Path,
  { key, value }: { readonly key: string; readonly value: string },
): readonly TextEdit[] {
  const own = [...path, key];
  return nodeAt(document, own) === undefined
    ? entryAdded(document, path, { key, value })
    : replaced(document, own, value);
}

/** Adds an entry to the mapping at a key, which need not be there yet. */
export function entryBelow(
  document: EditableText,
  path: Path,
  key: string,
  entry: { readonly key: string; readonly value: string },
): readonly TextEdit[] {
  const own = [...path, key];
  return nodeAt(document, own) === undefined
    ? entryAdded(document, path, { key, value: `{ ${entry.key}: ${entry.value} }` })
    : entryAdded(document, own, entry);
}

/** Takes an entry out; a mapping that loses its last one becomes `{}`. */
export function entryRemoved(document: EditableText, path: Path, key: string): readonly TextEdit[] {
  const node = nodeAt(document, path);
  const at = node?.kind === "map" ? node.entries.findIndex((entry) => entry.key.text === key) : -1;
  const entry = node?.kind === "map" ? node.entries[at] : undefined;
  if (node?.kind !== "map" || entry === undefined) throw new Error(`no entry \`${key}\` at ${path.join(".")}`);
  if (node.entries.length === 1) return [emptied(document, path, "{}")];
  const { text } = document;
  if (isFlow(document, node)) return [fromFlow(node.entries.map(entrySpan), at)];
  const next = node.entries[at + 1];
  if (at > 0 || next === undefined) return [withoutLines(text, entry.key.span.start, { span: entrySpan(entry) })];
  return [{ span: { ...node.span, start: entry.key.span.start, end: next.key.span.start }, text: "" }];
}

// -- styles ----------------------------------------------------------------------------------------------------------

function isFlow({ text }: EditableText, { span }: ListNode | MapNode): boolean {
  return text.charAt(span.start) === "[" || text.charAt(span.start) === "{";
}

/** Between two neighbours in brackets; where each stands on a line of its own, on one of its own. */
function amongFlow({ text }: EditableText, before: Span | undefined, after: Span | undefined, put: string): TextEdit {
  if (before !== undefined) {
    const own = ownLineIndent(text, before.start);
    return { span: { ...before, start: before.end }, text: own === undefined ? `, ${put}` : `,\n${own}${put}` };
  }
  if (after === undefined) throw new Error("a place among brackets with no neighbour");
  const own = ownLineIndent(text, after.start);
  return { span: { ...after, end: after.start }, text: own === undefined ? `${put}, ` : `${put},\n${own}` };
}

/** The blank space before a place where nothing else stands before it on its line; undefined: something does. */
function ownLineIndent(text: string, at: number): string | undefined {
  const before = text.slice(lineStart(text, at), at);
  return before.trim() === "" ? before : undefined;
}

/** One of several in brackets, with the comma that joins it to a neighbour. */
function fromFlow(spans: readonly Span[], at: number): TextEdit {
  const [span, before, after] = [spans[at], spans[at - 1], spans[at + 1]];
  if (span === undefined) throw new Error(`nothing at ${at}`);
  if (before !== undefined) return { span: { ...span, start: before.end }, text: "" };
  return { span: { ...span, end: after?.start ?? span.end }, text: "" };
}

/** A whole collection becomes an empty one, on the line of its key. */
function emptied(document: EditableText, path: Path, empty: string): TextEdit {
  const node = nodeAt(document, path);
  const parent = nodeAt(document, path.slice(0, -1));
  const key = path.at(-1);
  if (node === undefined) throw new Error(`nothing stands at ${path.join(".")}`);
  const entry = parent?.kind === "map" && key !== undefined ? entryOf(parent, key) : undefined;
  if (entry === undefined || document.text.slice(entry.key.span.end, node.span.start).includes("#"))
    return { span: node.span, text: empty };
  const colon = document.text.indexOf(":", entry.key.span.end);
  return { span: { ...node.span, start: colon + 1 }, text: ` ${empty}` };
}

/** Where the dash of an item stands that is written line by line. */
function dashOf(text: string, { span: { start } }: Pick<Node, "span">): number {
  return text.charAt(start) === "-" && /\s/.test(text.charAt(start + 1)) ? start : text.lastIndexOf("-", start - 1);
}

/** From the line of a place to the end of a value's last line. */
function withoutLines(text: string, from: number, { span }: Pick<Node, "span">): TextEdit {
  return { span: { ...span, start: lineStart(text, from), end: nextLine(text, span.end) }, text: "" };
}

/** A line after the one in which a value ends. */
function afterLine(text: string, span: Span, line: string): TextEdit {
  const at = nextLine(text, span.end);
  const isOpen = text.charAt(at - 1) !== "\n";
  return { span: { ...span, start: at, end: at }, text: isOpen ? `\n${line}` : `${line}\n` };
}

function lineStart(text: string, at: number): number {
  return text.lastIndexOf("\n", at - 1) + 1;
}

function nextLine(text: string, at: number): number {
  const end = text.indexOf("\n", at);
  return end < 0 ? text.length : end + 1;
}

function columnOf(text: string, at: number): number {
  return at - lineStart(text, at);
}

/** The start of the comments right above a line. */
function commentedStart(text: string, line: number): number {
  let start = line;
  while (start > 0) {
    const above = lineStart(text, start - 1);
    if (!/^\s*#/.test(text.slice(above, start))) break;
    start = above;
  }
  return start;
}
