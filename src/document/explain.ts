/**
 * What `explain` says of a word or a code, as plain text: where a key stands, what it means, what it takes, what holds
 * without it. All of it comes from the key table and the table of codes.
 */
import { CODES, type DiagnosticCode, nearestWord } from "../diagnose/index.ts";
import { ASSERTION_KINDS, isAssertionKind } from "./assertion-kinds.ts";
import { UNMODELLED } from "./not-modelled.ts";
import type { Shape, Word } from "./shape.ts";
import { ABOUT, KINDS } from "./table-header.ts";
import { keyTable, type TableLine } from "./tables.ts";
import { meantBy, REPORT_WORDS, TRADE_WORDS, tradeWord } from "./trade-words.ts";
import { explainVerdict, VERDICT_WORDS } from "./verdict-words.ts";

/** What is said of a diagnostic code. */
export function explainCode(code: DiagnosticCode): string {
  const { severity = "error", explanation, example } = CODES[code];
  const shown = example.split("\n").map((line) => `    ${line}`);
  return [`${code} (${severity})`, "", ...wrap(explanation, "  "), "", "  for example:", "", ...shown].join("\n");
}

/**
 * What is said of a word of the documents: a kind (`intent`), a kind of assertion (`blocked`), a key (`lease`), a path or the end of one (`dhcp.*.lease`), a word that is a value
 * (`highest-first`), or a key that is not modelled. Undefined when it has no meaning anywhere.
 */
export function explainWord(word: string): string | undefined {
  const table = keyTable();
  for (const form of formsOf(word)) {
    const sections = sectionsOf(form, table);
    if (sections.length > 0) return together(sections).join("\n\n");
  }
  return undefined;
}

function sectionsOf(word: string, table: readonly TableLine[]): readonly string[] {
  return [
    ...kindSections(word, table),
    ...assertionSections(word),
    ...verdictSections(word),
    ...tradeSections(word),
    ...table.filter((line) => isMeant(line.path, word)).map((line) => explainKey(line, table)),
    ...valueSections(word, table),
    ...unmodelledSections(word),
  ];
}

/** A word as it was typed, then as it may stand in the tables: `VLAN`, `spanning tree`, `cable`, `leases`, `policies`, `masquerade`. */
function formsOf(word: string): readonly string[] {
  const plain = word.trim().toLowerCase().replaceAll(/\s+/g, "-");
  const one = [plain.replace(/ies$/, "y"), plain.replace(/s$/, ""), plain.replace(/es$/, "")];
  return [...new Set([word, plain, meantBy(plain), `${plain}s`, ...one, ...one.map(meantBy)])];
}

/** What is said alike of several places is said once, under all of them. */
function together(sections: readonly string[]): readonly string[] {
  const headings = new Map<string, string[]>();
  for (const section of sections) {
    const end = section.indexOf("\n");
    const body = section.slice(end);
    headings.set(body, [...(headings.get(body) ?? []), section.slice(0, end)]);
  }
  return [...headings].map(([body, places]) => [...fewOf(places), body.slice(1)].join("\n"));
}

/** Places told of one meaning; of more only the first are, and how many others there are. */
const MOST_PLACES = 6;

function fewOf(places: readonly string[]): readonly string[] {
  if (places.length <= MOST_PLACES + 1) return places;
  return [...places.slice(0, MOST_PLACES), `and in ${places.length - MOST_PLACES} more places`];
}

/** The word or code nearest to one that has no meaning. */
export function nearestExplained(word: string): string | undefined {
  return nearestWord(word, [...explainedWords(), ...Object.keys(CODES)]);
}

/** What can be explained, for whoever names no word. */
export function explainTopics(): string {
  return [
    ...KINDS.map((kind) => [kind, ...wrap(ABOUT[kind], "  ")].join("\n")),
    ["kinds of assertions", ...wrap(Object.keys(ASSERTION_KINDS).join(", "), "  ")].join("\n"),
    ["words of verdicts", ...wrap(Object.keys(VERDICT_WORDS).join(", "), "  ")].join("\n"),
    ["words of reports", ...wrap(Object.keys(REPORT_WORDS).join(", "), "  ")].join("\n"),
    ["words of the trade", ...wrap(Object.keys(TRADE_WORDS).join(", "), "  ")].join("\n"),
    [
      "and",
      ...wrap(
        "every key and value of a document, by its name or the end of its path (`lease`, `dhcp.*.lease`), every diagnostic by its code, and `profile`",
        "  ",
      ),
    ].join("\n"),
  ].join("\n\n");
}

/** Every single word that `explainWord` knows, sorted by code point. */
export function explainedWords(): readonly string[] {
  const table = keyTable();
  const values = table.flatMap(({ row }) => wordsOf(row.shape)).map(({ word }) => word);
  const all = [
    ...Object.keys(ABOUT),
    ...Object.keys(ASSERTION_KINDS),
    ...Object.keys(VERDICT_WORDS),
    ...Object.keys(REPORT_WORDS),
    ...Object.keys(TRADE_WORDS),
    ...table.map(({ row }) => row.key),
    ...values,
    ...UNMODELLED.map(({ key }) => key),
  ];
  // Default order of strings is that of their code units; words of ours are ASCII.
  return [...new Set(all)].sort();
}

function kindSections(word: string, table: readonly TableLine[]): readonly string[] {
  const kind = KINDS.find((known) => known === word);
  if (kind === undefined) return [];
  const keys = table.filter((line) => line.kind === kind && !line.path.includes(".")).map(({ row }) => row.key);
  return [[`${kind}  (a kind of document)`, ...wrap(ABOUT[kind], "  "), ...field("keys", keys.join(", "))].join("\n")];
}

function assertionSections(word: string): readonly string[] {
  if (!isAssertionKind(word)) return [];
  const { explanation, example } = ASSERTION_KINDS[word];
  const shown = example.split("\n").map((line) => `    ${line}`);
  return [[`${word}  (a kind of assertion)`, ...wrap(explanation, "  "), "  for example:", ...shown].join("\n")];
}

function verdictSections(word: string): readonly string[] {
  const said = explainVerdict(word);
  return said === undefined ? [] : [[`${word}  (a word of verdicts)`, ...wrap(said, "  ")].join("\n")];
}

function tradeSections(word: string): readonly string[] {
  const known = tradeWord(word);
  if (known === undefined) return [];
  const see = known.see.map((each) => `\`${each}\``).join(", ");
  return [[`${word}  (a word of ${known.of})`, ...wrap(known.says, "  "), ...field("see", see)].join("\n")];
}

function isMeant(path: string, word: string): boolean {
  return path === word || path.endsWith(`.${word}`);
}

function explainKey({ kind, path, row }: TableLine, table: readonly TableLine[]): string {
  const inner = keysWithin(path, kind, table);
  return [
    `${row.key}  (${kind}: ${path})`,
    ...wrap(row.says, "  "),
    ...field("takes", row.shape.says),
    ...wordsOf(row.shape).flatMap(({ word, says }) => wrap(`\`${word}\`: ${says}`, "            ")),
    ...field("default", row.default ?? "none: it must be written"),
    ...field("example", `${row.key}: ${row.example}`),
    ...(inner.length === 0 ? [] : field("keys", inner.join(", "))),
  ].join("\n");
}

/** The keys one level down, past names of the user's. */
function keysWithin(path: string, kind: string, table: readonly TableLine[]): readonly string[] {
  const below = table.filter((line) => line.kind === kind && line.path.startsWith(`${path}.`));
  return below
    .filter((line) => !/\.[^*.]/.test(line.path.slice(path.length).replace(/^(?:\.\*)*\.[^.]+/, "")))
    .map(({ row }) => row.key);
}

/** Words of a shape and of what stands in its lists and behind names of the user's, not of keys within it. */
function wordsOf(shape: Shape<unknown>): readonly Word[] {
  const own = shape.words ?? [];
  const inner = shape.parts
    .filter(({ suffix, row }) => row === undefined && suffix === "")
    .flatMap((part) => wordsOf(part.shape));
  return [...own, ...inner].filter(({ word }, index, all) => all.findIndex((other) => other.word === word) === index);
}

function valueSections(word: string, table: readonly TableLine[]): readonly string[] {
  return table.flatMap(({ kind, path, row }) => {
    const found = wordsOf(row.shape).find((known) => known.word === word);
    return found === undefined
      ? []
      : [[`${word}  (${kind}: a value of ${path})`, ...wrap(found.says, "  ")].join("\n")];
  });
}

function unmodelledSections(word: string): readonly string[] {
  return UNMODELLED.filter(({ key }) => key === word).map(({ key, says }) =>
    [`${key}  (not modelled)`, ...wrap(says, "  ")].join("\n"),
  );
}

function field(name: string, text: string): readonly string[] {
  const [first = "", ...rest] = wrap(text, "            ");
  return [`  ${name.padEnd(9)} ${first.trimStart()}`, ...rest];
}

const WIDTH = 80;

/** Lines of at most 80 columns, each indented. */
function wrap(text: string, indent: string): readonly string[] {
  const lines: string[] = [];
  let line = "";
  for (const word of text.split(" ")) {
    if (line !== "" && indent.length + line.length + 1 + word.length > WIDTH) {
      lines.push(indent + line);
      line = word;
    } else line = line === "" ? word : `${line} ${word}`;
  }
  return [...lines, indent + line];
}
