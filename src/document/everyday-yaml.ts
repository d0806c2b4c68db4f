/**
 * The everyday part of YAML, read fast: block mappings and lists, brackets, single-line scalars, comments. A plan is nearly always
 * written in it, and the general library takes ten times as long, most of what a short run costs.
 *
 * Guarantees: whatever is unusual or wrong gives undefined, and the library decides; what is read equals, node for node and
 * place for place, what the library reads without complaint (held to it by a property test).
 */
import {
  type Cursor,
  isBlank,
  nextIndent,
  readScalar,
  skipColon,
  skipLine,
  skipSpaces,
  spanOf,
} from "./everyday-cursor.ts";
import { DEEPEST, MOST_VALUES } from "./limits.ts";
import type { ListNode, MapEntry, MapNode, Node, TextNode } from "./node.ts";

// Tabs, carriage returns, other controls, and what YAML takes for breaks or marks of byte order.
// biome-ignore lint/suspicious/noControlCharactersInRegex: finding control characters is the purpose
const UNUSUAL = /[\u0000-\u0009\u000b-\u001f\u007f-\u009f\u2028\u2029\ufeff\ud800-\udfff]|^(?:---|\.\.\.|%)/m;

/** Reads a file of everyday YAML whose root is a block mapping; undefined for every other. */
export function readEverydayYaml(text: string, file: number): Node | undefined {
  if (UNUSUAL.test(text)) return undefined;
  const cursor: Cursor = { file, text, at: 0, values: 0 };
  if (nextIndent(cursor) !== 0) return undefined;
  const root = readBlockMap(cursor, 0, 1);
  return root === undefined || cursor.at < text.length || cursor.values > MOST_VALUES ? undefined : root;
}

const DASH = 45;

function atDash({ text, at }: Cursor): boolean {
  return text.charCodeAt(at) === DASH && isBlank(text, at + 1);
}

/**
 * A block mapping whose keys stand at column `indent`; the cursor is at its first key. Afterwards the cursor is at the content of the first
 * line that is indented less, or at the end.
 */
function readBlockMap(cursor: Cursor, indent: number, depth: number): MapNode | undefined {
  if (depth > DEEPEST) return undefined;
  const entries = startEntries();
  const start = cursor.at;
  cursor.values++;
  for (let next = indent; next === indent && !atDash(cursor); next = columnOf(cursor)) {
    const key = readScalar(cursor, false);
    if (key === undefined || !skipColon(cursor)) return undefined;
    const value = readBlockValue(cursor, indent, depth);
    if (value === undefined || !entries.add({ key, value })) return undefined;
  }
  return columnOf(cursor) > indent ? undefined : mapOf(cursor, start, entries.all);
}

/** Column of the cursor in its line; -1 at the end of the file. */
function columnOf({ text, at }: Cursor): number {
  return at >= text.length ? -1 : at - (text.lastIndexOf("\n", at - 1) + 1);
}

function mapOf(cursor: Cursor, start: number, entries: readonly MapEntry[]): MapNode {
  const end = entries.at(-1)?.value.span.end ?? start;
  return { kind: "map", entries, span: spanOf(cursor, start, end) };
}

/** Entries of a mapping; `add` is false for a key that stands there already or that has a meaning of its own. */
function startEntries(): { readonly all: readonly MapEntry[]; readonly add: (entry: MapEntry) => boolean } {
  const all: MapEntry[] = [];
  const keys = new Set<string>();
  return {
    all,
    add(entry) {
      const { text } = entry.key;
      if (text === "<<" || keys.has(text)) return false;
      keys.add(text);
      all.push(entry);
      return true;
    },
  };
}

/** What follows a key's colon: on the same line, or a collection on the next ones. */
function readBlockValue(cursor: Cursor, indent: number, depth: number): Node | undefined {
  skipSpaces(cursor);
  if (!atLineEnd(cursor)) return readLineValue(cursor, indent, depth);
  if (!skipLine(cursor)) return undefined;
  const inner = nextIndent(cursor);
  if (atDash(cursor) && inner >= indent) return readBlockList(cursor, inner, depth + 1);
  return inner > indent ? readBlockMap(cursor, inner, depth + 1) : undefined;
}

function atLineEnd({ text, at }: Cursor): boolean {
  return at >= text.length || text.charAt(at) === "\n" || (text.charAt(at) === "#" && isBlank(text, at - 1));
}

/** A scalar or brackets, then the end of the line; the next line with content is not indented more. */
function readLineValue(cursor: Cursor, indent: number, depth: number): Node | undefined {
  const value = readInLine(cursor, indent, depth, false);
  if (value === undefined || !skipLine(cursor)) return undefined;
  return nextIndent(cursor) > indent ? undefined : value;
}

/** A block list whose dashes stand at column `indent`; the cursor is at its first dash. */
function readBlockList(cursor: Cursor, indent: number, depth: number): ListNode | undefined {
  if (depth > DEEPEST) return undefined;
  const items: Node[] = [];
  const start = cursor.at;
  cursor.values++;
  while (columnOf(cursor) === indent && atDash(cursor)) {
    cursor.at++;
    const item = readListItem(cursor, indent, depth);
    if (item === undefined) return undefined;
    items.push(item);
  }
  const end = items.at(-1)?.span.end ?? start;
  return columnOf(cursor) > indent ? undefined : { kind: "list", items, span: spanOf(cursor, start, end) };
}

/** What follows a dash: a value, or a mapping whose first key stands on the dash's line. */
function readListItem(cursor: Cursor, indent: number, depth: number): Node | undefined {
  skipSpaces(cursor);
  if (atLineEnd(cursor)) return undefined;
  const { at, values } = cursor;
  const scalar = readScalar(cursor, false);
  const isKey = scalar !== undefined && skipColon(cursor);
  cursor.at = at;
  cursor.values = values;
  return isKey ? readBlockMap(cursor, columnOf(cursor), depth + 1) : readLineValue(cursor, indent, depth);
}

/** A scalar or brackets; within brackets `indent` is that of the block around them. */
function readInLine(cursor: Cursor, indent: number, depth: number, inBrackets: boolean): Node | undefined {
  const first = cursor.text.charAt(cursor.at);
  if (first === "{") return readFlowMap(cursor, indent, depth + 1);
  if (first === "[") return readFlowList(cursor, indent, depth + 1);
  return readScalar(cursor, inBrackets);
}

function readFlowMap(cursor: Cursor, indent: number, depth: number): MapNode | undefined {
  const entries = startEntries();
  const span = readFlow(cursor, indent, depth, "}", () => {
    const key: TextNode | undefined = readScalar(cursor, true);
    if (key === undefined || !skipColon(cursor) || !skipFlowSpace(cursor, indent)) return false;
    const value = readInLine(cursor, indent, depth, true);
    return value !== undefined && entries.add({ key, value });
  });
  return span && { kind: "map", entries: entries.all, span };
}

function readFlowList(cursor: Cursor, indent: number, depth: number): ListNode | undefined {
  const items: Node[] = [];
  const span = readFlow(cursor, indent, depth, "]", () => {
    const item = readInLine(cursor, indent, depth, true);
    if (item !== undefined) items.push(item);
    return item !== undefined;
  });
  return span && { kind: "list", items, span };
}

/** Brackets with items between commas, of which one may trail; `readItem` says whether it could. */
function readFlow(
  cursor: Cursor,
  indent: number,
  depth: number,
  close: string,
  readItem: () => boolean,
): MapNode["span"] | undefined {
  if (depth > DEEPEST) return undefined;
  const start = cursor.at;
  cursor.at++;
  cursor.values++;
  for (;;) {
    if (!skipFlowSpace(cursor, indent)) return undefined;
    if (cursor.text.charAt(cursor.at) === close) break;
    if (!readItem() || !skipFlowSpace(cursor, indent)) return undefined;
    const after = cursor.text.charAt(cursor.at);
    if (after === ",") cursor.at++;
    else if (after !== close) return undefined;
  }
  cursor.at++;
  return spanOf(cursor, start, cursor.at);
}

/** Blanks, line ends and comments within brackets. False: a line is not indented more than the block around, or the file ends. */
function skipFlowSpace(cursor: Cursor, indent: number): boolean {
  skipSpaces(cursor);
  if (!atLineEnd(cursor)) return true;
  return skipLine(cursor) && nextIndent(cursor) > indent;
}
