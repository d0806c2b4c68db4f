/**
 * YAML text to nodes: the only importer of the YAML library. Failsafe schema (every scalar is text); what makes a
 * plan hard to point at or dangerous to unfold is refused: aliases, anchors, merge keys, tags, directives, duplicate
 * keys, keys that are not text, several documents in a file.
 *
 * Guarantees: never throws on any text; all faults of the tree at once; of syntax errors only the first, since the rest
 * mostly follow from it. Depth is checked while tokens arrive, because the library's own recursion is unbounded.
 */
import { Composer, type Document, isAlias, isMap, isScalar, isSeq, Lexer, Parser, type Node as YamlNode } from "yaml";
import { type Diagnostic, type DiagnosticCode, diagnosticAt, type SourceFile, type Span } from "../diagnose/index.ts";
import { DEEPEST, LARGEST_FILE, MOST_VALUES } from "./limits.ts";
import { type MapEntry, type Node, shorten, type TextNode } from "./node.ts";
import { helpSyntax, tellSyntax } from "./syntax-words.ts";

/** What reading a text gives. */
export type ParsedText = {
  /** The root; undefined when the text cannot be trusted to mean what it seems to. */
  readonly root?: Node;
  /** What is wrong. */
  readonly diagnostics: readonly Diagnostic[];
};

/**
 * The library's trees take 60 times the room of a text. So after so many of its words what is complete of every list and
 * mapping becomes nodes, and is taken from the library: about 40 KB of text.
 */
const PIECE = 8192;

/** Reads the one YAML document of a file. `piece`: the answer is the same for each. */
export function parseYaml(source: SourceFile, file: number, piece: number = PIECE): ParsedText {
  const whole: Span = { file, start: 0, end: source.text.length };
  if (source.text.length > LARGEST_FILE) return refused("file-too-large", whole, tooLarge(source.text.length));
  const lone = source.text.search(/\r(?!\n)/);
  if (lone >= 0) return { diagnostics: [diagnosticAt("syntax", at(file, lone), LONE, { help: LONE_HELP })] };
  const read = readBy(piece, source, file) ?? readBy(Number.POSITIVE_INFINITY, source, file);
  if (read === undefined) throw new Error(`${source.path} was read whole, and yet in pieces`);
  return read;
}

/**
 * Reads a text in pieces of so many words. Undefined where something is wrong with one of several: what is told of a fault depends
 * on what stands around it, so that it is looked for in the whole.
 */
function readBy(piece: number, { text }: SourceFile, file: number): ParsedText | undefined {
  const reading = new Reading(file, text);
  const parser = new Parser();
  const tokens: Token[] = [];
  let words = 0;
  for (const lexeme of new Lexer().lex(text)) {
    for (const token of parser.next(lexeme)) tokens.push(token);
    // A level of nesting is one token on the parser's stack; the document and a scalar take two more.
    if (parser.stack.length > DEEPEST + 2) {
      if (words >= piece) return undefined;
      const place = parser.offset - lexeme.length;
      tokens.push(...parser.end());
      return reading.brokenBefore(place, composed(tokens, place)) ?? refused("too-deep", at(file, place), TOO_DEEP);
    }
    if (++words % piece === 0 && !parser.stack.every((token) => reading.take(token))) return undefined;
  }
  for (const token of parser.end()) tokens.push(token);
  const read = reading.read(composed(tokens, text.length));
  return words < piece || read.diagnostics.length === 0 || reading.isTooMany ? read : undefined;
}

// YAML 1.2.2 section 5.4 has it end a line; the library takes it for text.
const LONE = "a line ends in a carriage return alone";
const LONE_HELP = "save the file with line feeds, or with both";
const TOO_DEEP = `lists and mappings are nested deeper than ${DEEPEST} levels`;

function tooLarge(length: number): string {
  return `the file holds ${length} characters, more than the ${LARGEST_FILE} that are read`;
}

function refused(code: DiagnosticCode, span: Span, message: string): ParsedText {
  return { diagnostics: [diagnosticAt(code, span, message)] };
}

function at(file: number, offset: number): Span {
  return { file, start: offset, end: offset + 1 };
}

type Token = ReturnType<Parser["parse"]> extends Generator<infer T, void> ? T : never;

/** The parser looks back at the items before the one that it is at, for the comments between them. */
const LOOKED_AT = 3;

function composed(tokens: readonly Token[], length: number): readonly Document.Parsed[] {
  const composer = new Composer({
    schema: "failsafe",
    merge: false,
    uniqueKeys: false,
    prettyErrors: false,
    keepSourceTokens: true,
  });
  return [...composer.compose(tokens, true, length)];
}

// A hexadecimal text that ends in a colon, in the place of a key whose value is missing: `fd71::` without quotes.
const CUT_ADDRESS = /^[0-9a-fA-F:]*:$/;
// From the end of a key, or of its colon: nothing more on the line but a comment.
const COMMENT = /:?[ \t]*#/y;
// Everything but tab, line feed and carriage return below the space, and DEL.
// biome-ignore lint/suspicious/noControlCharactersInRegex: finding control characters is the purpose
const CONTROL = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]/;

/** What is asked of the library's scalars. */
type PlainScalar = YamlNode & { readonly value: unknown; readonly type?: string };

/** What was taken of a list or mapping so far. */
type Taken = { readonly items: Node[]; readonly entries: MapEntry[]; readonly keys: Map<string, TextNode> };

/** One pass over one file's tree: collects what is wrong while it builds nodes. */
class Reading {
  readonly #file: number;
  readonly #text: string;
  readonly #diagnostics: Diagnostic[] = [];
  readonly #cutAddresses: Diagnostic[] = [];
  /** By the parser's token, until the list or mapping is complete. */
  readonly #taken = new Map<unknown, Taken>();
  #values = 0;

  constructor(file: number, text: string) {
    this.#file = file;
    this.#text = text;
  }

  /** The file holds more values than are read. */
  get isTooMany(): boolean {
    return this.#values > MOST_VALUES;
  }

  /** Makes nodes of what is complete of a list or mapping, and takes it from the parser; false: something is wrong. */
  take(token: Token): boolean {
    if ((token.type !== "block-map" && token.type !== "block-seq") || token.items.length <= LOOKED_AT) return true;
    const items = token.items.splice(0, token.items.length - LOOKED_AT);
    // That alone is told, whatever else is wrong.
    if (this.isTooMany) return true;
    // The items are those of the token, of whichever kind it is.
    const value = { ...token, items } as typeof token;
    const [document] = composed([{ type: "document", offset: token.offset, start: [], value }], token.offset);
    const taken = this.#takenOf(token);
    const contents = document?.contents;
    if (isSeq<YamlNode>(contents)) this.#items(contents.items, token.offset, taken);
    else if (isMap<YamlNode, YamlNode>(contents)) this.#entries(contents.items, token.offset, taken);
    this.#taken.set(token, taken);
    return document?.errors.length === 0 && this.#diagnostics.length + this.#cutAddresses.length === 0;
  }

  #takenOf(token: unknown): Taken {
    const taken = this.#taken.get(token) ?? { items: [], entries: [], keys: new Map() };
    this.#taken.delete(token);
    return taken;
  }

  /**
   * What is told of a text that is read up to a place, where something is wrong with it before: behind a bracket that is not
   * closed each line nests deeper.
   */
  brokenBefore(place: number, documents: readonly Document.Parsed[]): ParsedText | undefined {
    const isBefore = documents[0]?.errors.some(({ pos: [start] }) => start < place) === true;
    return isBefore ? this.read(documents) : undefined;
  }

  read(documents: readonly Document.Parsed[]): ParsedText {
    const [document, second] = documents;
    if (document === undefined) return { root: this.#nothing(0), diagnostics: [] };
    const root = this.#node(document.contents, 0);
    if (this.isTooMany) return refused("too-many", this.#whole(), this.#tooMany());
    // What an unquoted `::` does to the rest of the file is not worth telling.
    if (this.#cutAddresses.length > 0) return { diagnostics: this.#cutAddresses };
    const broken = this.#syntax(document) ?? this.#several(second) ?? this.#directive(document);
    if (broken !== undefined) return { diagnostics: [...this.#before(broken), broken] };
    return { root, diagnostics: this.#diagnostics };
  }

  /** What was found before a fault of syntax; what comes after it mostly follows from it. */
  #before(broken: Diagnostic): readonly Diagnostic[] {
    const startOf = ({ labels }: Diagnostic): number => labels[0]?.span.start ?? 0;
    return this.#diagnostics.filter((diagnostic) => startOf(diagnostic) < startOf(broken));
  }

  #whole(): Span {
    return { file: this.#file, start: 0, end: this.#text.length };
  }

  #tooMany(): string {
    return `the file holds more than ${MOST_VALUES} values`;
  }

  #syntax(document: Document.Parsed): Diagnostic | undefined {
    const [error] = document.errors;
    if (error === undefined) return undefined;
    const [start, end] = error.pos;
    // At the end of the file the place to show is the last thing that is written.
    const from = Math.min(start, Math.max(0, this.#text.trimEnd().length - 1));
    return this.#say(
      "syntax",
      from,
      start > from ? from + 1 : Math.max(end, from + 1),
      `this is not well-formed YAML: ${tellSyntax(error)}`,
      helpSyntax(error, this.#text, from),
    );
  }

  #several(second: Document.Parsed | undefined): Diagnostic | undefined {
    if (second === undefined) return undefined;
    const [start] = second.range;
    // Behind the end of a document (`...`) the next one needs no mark.
    const isMarked = this.#text.startsWith("---", start);
    const from = isMarked ? start : (second.contents?.range[0] ?? start);
    return this.#say(
      "syntax",
      from,
      from + (isMarked ? 3 : 1),
      "a second YAML document begins in this file",
      "write it into a file of its own",
    );
  }

  #directive(document: Document.Parsed): Diagnostic | undefined {
    const { yaml, tags } = document.directives;
    const foreign = Object.keys(tags).some((handle) => handle !== "!!");
    if (yaml.explicit !== true && !foreign) return undefined;
    const start = Math.max(0, this.#text.search(/(?<=^\ufeff?)%/m));
    return this.#say("syntax", start, start + 1, "YAML directives (`%` lines) are not accepted", "remove the line");
  }

  #say(code: DiagnosticCode, start: number, end: number, message: string, help?: string): Diagnostic {
    return diagnosticAt(code, this.#inside({ file: this.#file, start, end }), message, { help });
  }

  #report(code: DiagnosticCode, span: Span, message: string, help?: string): void {
    this.#diagnostics.push(diagnosticAt(code, this.#inside(span), message, { help }));
  }

  /** The place with at least one character, none of them behind the end of the file. */
  #inside({ file, start, end }: Span): Span {
    const length = this.#text.length;
    const from = Math.max(0, Math.min(start, length - 1));
    return { file, start: from, end: Math.min(length, Math.max(end, from + 1)) };
  }

  #nothing(offset: number): Node {
    const span: Span = { file: this.#file, start: offset, end: offset };
    COMMENT.lastIndex = offset;
    return { kind: "nothing", span, ...(COMMENT.test(this.#text) ? { commented: true } : {}) };
  }

  /** A node and all below it; `offset` is where it would stand if there is none. */
  #node(node: YamlNode | null, offset: number): Node {
    this.#values++;
    if (node === null || this.isTooMany) return this.#nothing(offset);
    this.#refuseOrnaments(node);
    if (isScalar(node)) return this.#scalar(node);
    const [start, end] = node.range ?? [offset, offset];
    const span: Span = { file: this.#file, start, end: this.#trimmed(start, end) };
    const taken = this.#takenOf(node.srcToken);
    if (isSeq<YamlNode>(node)) {
      const items = this.#items(node.items, start, taken);
      return { kind: "list", items, span: node.flow === true ? span : upTo(span, items.at(-1)) };
    }
    if (isMap<YamlNode, YamlNode>(node)) {
      const entries = this.#entries(node.items, start, taken);
      return { kind: "map", entries, span: node.flow === true ? span : upTo(span, entries.at(-1)?.value) };
    }
    return { kind: "nothing", span, refused: true }; // an alias
  }

  #refuseOrnaments(node: YamlNode): void {
    const [start, end] = node.range ?? [0, 0];
    const span: Span = { file: this.#file, start, end: Math.max(this.#trimmed(start, end), start + 1) };
    if (isAlias(node)) {
      this.#report("alias-refused", span, `the alias \`*${node.source}\` is not accepted`, aliasHelp("*"));
      return;
    }
    // The range of a node leaves out what stands before it, so the ornament is looked for there.
    if (node.anchor !== undefined)
      this.#report(
        "alias-refused",
        this.#wordBefore(start, "&"),
        `the anchor \`&${node.anchor}\` is not accepted`,
        aliasHelp("&"),
      );
    if (node.tag !== undefined) {
      const place = this.#wordBefore(start, "!");
      this.#report(
        "tag-refused",
        place,
        `the tag \`${shorten(this.#text.slice(place.start, place.end))}\` is not accepted`,
        TAG_HELP,
      );
    }
  }

  /** The word before `start` that begins with `mark`. */
  #wordBefore(start: number, mark: string): Span {
    let begin = this.#text.lastIndexOf(mark, Math.max(0, start - 1));
    if (begin < 0) begin = start;
    while (begin > 0 && this.#text.charAt(begin - 1) === mark) begin--;
    const word = /^[^\s,[\]{}]*/.exec(this.#text.slice(begin, begin + 200))?.[0] ?? "";
    return { file: this.#file, start: begin, end: begin + Math.max(1, word.length) };
  }

  /** The end without the blank space that block collections take in behind them. */
  #trimmed(start: number, end: number): number {
    let last = end;
    while (last > start && /\s/.test(this.#text.charAt(last - 1))) last--;
    return last;
  }

  #scalar(node: PlainScalar): Node {
    const [start = 0, end = start] = node.range ?? [];
    const span: Span = { file: this.#file, start, end };
    const text = typeof node.value === "string" ? node.value : "";
    const plain = node.type === "PLAIN" && end - start === text.length;
    const isAdorned = node.tag !== undefined || node.anchor !== undefined;
    if (text === "" && node.type === "PLAIN")
      return { ...this.#nothing(start), ...(isAdorned ? { refused: true } : {}) };
    if (CONTROL.test(text)) {
      this.#report("syntax", span, "this text holds a control character");
      return { kind: "nothing", span, refused: true };
    }
    return { kind: "text", text, span, plain };
  }

  #items(items: readonly YamlNode[], offset: number, { items: known }: Taken): readonly Node[] {
    for (const item of items) known.push(this.#node(item, offset));
    return known;
  }

  #entries(
    items: readonly { readonly key: YamlNode | null; readonly value: YamlNode | null }[],
    offset: number,
    { entries, keys }: Taken,
  ): readonly MapEntry[] {
    for (const item of items) {
      const key = this.#node(item.key, offset);
      if (this.#isMerge(key)) continue;
      const value = this.#node(item.value, key.span.end);
      if (key.kind === "text" && this.#acceptKey(key, value, keys)) entries.push({ key, value });
      else if (key.kind === "list" || key.kind === "map" || (key.kind === "nothing" && key.refused !== true))
        this.#report("wrong-shape", key.span, "a key of a mapping is text");
    }
    return entries;
  }

  #isMerge(key: Node): boolean {
    if (key.kind !== "text" || !key.plain || key.text !== "<<") return false;
    this.#report("alias-refused", key.span, "the merge key `<<` is not accepted", ALIAS_HELP);
    return true;
  }

  #acceptKey(key: TextNode, value: Node, seen: Map<string, TextNode>): boolean {
    if (key.plain && value.kind === "nothing" && CUT_ADDRESS.test(key.text)) return this.#cutAddress(key);
    const first = seen.get(key.text);
    if (first === undefined) {
      seen.set(key.text, key);
      return true;
    }
    this.#duplicate(key, first);
    return false;
  }

  #duplicate(key: TextNode, first: TextNode): void {
    const message = `the key \`${shorten(key.text)}\` stands twice in this mapping`;
    this.#diagnostics.push(
      diagnosticAt("duplicate-key", key.span, message, { also: [{ span: first.span, text: "first here" }] }),
    );
  }

  #cutAddress(key: TextNode): false {
    const written = `${key.text}:`;
    const help = `write \`"${written}"\``;
    const span: Span = { ...key.span, end: key.span.end + 1 };
    this.#cutAddresses.push(
      diagnosticAt(
        "trailing-colons",
        span,
        `\`${written}\` needs quotes: YAML takes its last colon for the end of a key`,
        { help },
      ),
    );
    return false;
  }
}

/** A block collection ends with its last value, whatever blank space or comments the library counts to it. */
function upTo(span: Span, last: Node | undefined): Span {
  return last === undefined ? span : { ...span, end: Math.max(span.start, last.span.end) };
}

const ALIAS_HELP = "write the settings out, or use a port role, a set or a range";
const aliasHelp = (mark: string): string => `${ALIAS_HELP}; a text that begins with \`${mark}\` needs quotes`;
const TAG_HELP = "remove it, or put quotes around a text that begins with `!`";
