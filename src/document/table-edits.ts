/**
 * The keys of edits by path, and how a path is read.
 */
import type { Span } from "../diagnose/index.ts";
import type { Edit, EditPath, EditStep } from "./edits.ts";
import type { Findings } from "./findings.ts";
import { title } from "./leaf-words.ts";
import { DEEPEST } from "./limits.ts";
import { type Node, shorten, type TextNode } from "./node.ts";
import { mapped, type Shape, wrongShape } from "./shape.ts";
import { sequence } from "./shape-collection.ts";
import { optional, record } from "./shape-record.ts";
import type { Located } from "./values.ts";

const PATH_SAYS = "a path such as `edge.filter.through.rules[visitors go out]`";
// A key may be a run of ports, `p5..8`.
const WORD = "(?:[^.[\\]]*[0-9]\\.\\.[0-9]+|[^.[\\]]+)";
const FIRST = new RegExp(`(${WORD})`, "y");
const KEY = new RegExp(`\\.(${WORD})`, "y");
const ITEM = /\[([^[\]]+)\]/y;

type Piece = { readonly text: string; readonly isItem: boolean; readonly at: number };

/** The pieces of a path; undefined: it is none. */
function piecesOf(text: string): readonly Piece[] | undefined {
  const pieces: Piece[] = [];
  for (let at = 0; at < text.length; ) {
    const isItem = at > 0 && text.charAt(at) === "[";
    const pattern = at === 0 ? FIRST : isItem ? ITEM : KEY;
    pattern.lastIndex = at;
    const [whole, word] = pattern.exec(text) ?? [];
    if (whole === undefined || word === undefined) return undefined;
    pieces.push({ text: word, isItem, at: at + whole.indexOf(word) });
    at += whole.length;
  }
  return pieces.length === 0 ? undefined : pieces;
}

const editPath: Shape<EditPath> = {
  says: PATH_SAYS,
  read(node, findings, subject) {
    if (node.kind !== "text") return wrongShape(node, findings, subject, PATH_SAYS);
    const pieces = piecesOf(node.text);
    if (pieces === undefined) return badPath(node, findings);
    if (pieces.length > DEEPEST) return tooDeep(node, findings);
    return { text: node.text, span: node.span, steps: pieces.map((piece) => stepOf(piece, node)) };
  },
  schema: () => ({ type: "string", pattern: `^${WORD}([.]${WORD}|\\[[^[\\]]+\\])*$` }),
  parts: [],
};

function stepOf({ text, isItem, at }: Piece, { span, plain }: TextNode): EditStep {
  const { file, start } = span;
  const own = plain ? { file, start: start + at, end: start + at + text.length } : span;
  return { text, isItem, span: own };
}

function badPath({ text, span }: TextNode, findings: Findings): undefined {
  findings.report("bad-path", span, `\`${shorten(text)}\` is not a path into the intent`, {
    notes: ["a path is keys joined by `.`, and items of lists in brackets: `edge.dhcp.crew.lease`, `admins[laptop]`"],
    help: "begin it with the name of a device, a network or a set, and name what is meant in there",
  });
}

/** Nothing in a document lies so deep, and every step of a path is looked for with all that follow it. */
function tooDeep({ span }: TextNode, findings: Findings): undefined {
  findings.report("too-deep", span, `the path leads deeper than ${DEEPEST} levels`);
}

/** Any value, for a reader that comes later. */
const anything: Shape<Node> = {
  says: "a value as the intent takes it there",
  read: (node, findings, subject) =>
    node.kind === "nothing" ? wrongShape(node, findings, subject, "a value as the intent takes it there") : node,
  schema: () => ({}),
  parts: [],
};

/** An edit before its kind is told. */
type Written = {
  readonly span: Span;
  readonly set?: EditPath;
  readonly to?: Node;
  readonly add?: EditPath;
  readonly item?: Node;
  readonly before?: Located<string>;
  readonly remove?: EditPath;
};

const written: Shape<Written> = record<Written>({
  id: "edit",
  says: "a mapping with `set`, `add` or `remove`",
  rows: {
    set: optional("set", editPath, {
      says: "Where a value is written, whether or not one stands there; with `to`.",
      example: "edge.dhcp.crew.lease",
    }),
    to: optional("to", anything, { says: "The value that `set` writes.", example: "1h" }),
    add: optional("add", editPath, {
      says: "A list that gets another item, and need not be there yet; with `item`.",
      example: "core.switching.own.tagged",
    }),
    item: optional("item", anything, { says: "The item that `add` puts in.", example: "crew" }),
    before: optional("before", title, {
      says: "The item that the new one goes before: its name, or the word itself.",
      default: "it goes last",
      example: "staff go out",
    }),
    remove: optional("remove", editPath, {
      says: "What is taken away: an entry, or an item of a list.",
      example: "'edge.filter.through.rules[visitors go out]'",
    }),
  },
});

const KINDS = ["set", "add", "remove"] as const;
/** Keys beside each kind, with the field that it cannot do without. */
const BESIDE = { set: ["to"], add: ["item", "before"], remove: [] } as const;

function editOf(found: Written, findings: Findings, clean: boolean): Edit | undefined {
  const [kind, second] = KINDS.filter((key) => found[key] !== undefined);
  if (kind === undefined) {
    if (clean) findings.report("missing-key", found.span, "the edit lacks the key `set`, `add` or `remove`");
    return undefined;
  }
  const strange = (["to", "item", "before"] as const).find(
    (key) => found[key] !== undefined && !BESIDE[kind].some((known) => known === key),
  );
  const odd = second === undefined ? strange : undefined;
  if (second !== undefined || odd !== undefined) {
    const [key, value] = second !== undefined ? [second, found[second]] : [odd, odd && found[odd]];
    findings.report("keys-conflict", value?.span ?? found.span, `\`${key}\` has no meaning beside \`${kind}\``, {
      help: second === undefined ? undefined : "write two edits",
    });
    return undefined;
  }
  return build(kind, found, findings, clean);
}

function build(kind: Edit["kind"], found: Written, findings: Findings, clean: boolean): Edit | undefined {
  const { span, set, add, remove, to, item, before } = found;
  const lacks = (key: string): undefined => {
    if (clean) findings.report("missing-key", found.span, `\`${kind}\` lacks the key \`${key}\``);
  };
  if (kind === "set" && set !== undefined) return to === undefined ? lacks("to") : { kind, span, path: set, value: to };
  if (kind === "add" && add !== undefined) {
    const where = before === undefined ? {} : { before };
    return item === undefined ? lacks("item") : { kind, span, path: add, value: item, ...where };
  }
  return remove && { kind: "remove", span, path: remove };
}

/** A list of edits. */
export const edits: Shape<Located<readonly Edit[]>> = sequence(
  mapped(written, (found, _node, { findings, clean }) => editOf(found, findings, clean)),
  "a list of edits",
  { atLeast: 1 },
);
