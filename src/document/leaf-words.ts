/**
 * Leaves that are words, texts and names.
 */
import { nearestWord } from "../diagnose/index.ts";
import { LONGEST_NAME } from "./limits.ts";
import { shorten } from "./node.ts";
import { type JsonSchema, leaf, type Problem, type Shape } from "./shape.ts";
import type { Located } from "./values.ts";

/** One of certain words, each written with what it means. */
export function words<W extends string>(meanings: Readonly<Record<W, string>>): Shape<Located<W>> {
  // Object.keys gives exactly the keys of a record written out in code.
  const known = Object.keys(meanings) as unknown as readonly W[];
  return leaf<W>({
    says: alternatives(known),
    parse: (text) => known.find((word) => word === text) ?? unknownWord(text, known),
    schema: { enum: known },
    words: known.map((word) => ({ word, says: meanings[word] })),
  });
}

/** `a`, `b` or `c`, each in backticks. */
function alternatives(known: readonly string[]): string {
  const quoted = known.map((word) => `\`${word}\``);
  const last = quoted.pop() ?? "nothing";
  return quoted.length === 0 ? last : `${quoted.join(", ")} or ${last}`;
}

/** The problem of a word that has no meaning where it stands. */
export function unknownWord(text: string, known: readonly string[]): Problem {
  const nearest = nearestWord(text, known);
  return {
    refuse: "unknown-word",
    message: `\`${shorten(text)}\` is not a word that is understood here`,
    notes: [`the words here are ${known.map((word) => `\`${word}\``).join(", ")}`],
    help: nearest === undefined ? undefined : `write \`${nearest}\``,
  };
}

/** `yes` or `no`. */
export const yesNo: Shape<Located<boolean>> = switchWords("yes", "no");

/** `on` or `off`. */
export const onOff: Shape<Located<boolean>> = switchWords("on", "off");

const TRUTHS: ReadonlyMap<string, boolean> = new Map([
  ["yes", true],
  ["on", true],
  ["true", true],
  ["enabled", true],
  ["no", false],
  ["off", false],
  ["false", false],
  ["disabled", false],
]);

function switchWords(truth: string, lie: string): Shape<Located<boolean>> {
  return leaf<boolean>({
    says: `\`${truth}\` or \`${lie}\``,
    parse(text) {
      if (text === truth || text === lie) return text === truth;
      const meant = TRUTHS.get(text.toLowerCase());
      const problem = unknownWord(text, [truth, lie]);
      return meant === undefined ? problem : { ...problem, help: `write \`${meant ? truth : lie}\`` };
    },
    // Parsers of YAML 1.1 read these words as booleans.
    schema: { enum: [truth, lie, true, false] },
  });
}

/** Any text, for people. A core-schema parser may have typed it. */
export const freeText: Shape<Located<string>> = leaf<string>({
  says: "a text",
  parse: (text) => text,
  schema: { type: ["string", "number", "boolean"] },
});

/** Reads any text on one line. */
export function parseTitle(text: string): string | Problem {
  return /[\r\n]|^\s*$/.test(text) ? { refuse: "bad-name", message: "a name is one line of text" } : text;
}

/** The name of a rule or an assertion: any text on one line. */
export const title: Shape<Located<string>> = leaf<string>({
  says: "a name, which may hold spaces",
  parse: parseTitle,
  schema: { type: ["string", "number", "boolean"], minLength: 1 },
});

// Words that stand where a name may stand too.
const RESERVED = ["internet", "all", "none", "any", "default", "lease", "unchanged", "external-address", "off"];

const NAME = /^[\p{L}\p{M}\p{N}_][\p{L}\p{M}\p{N}._-]*$/u;
const PORT_NAME = /^[\p{L}\p{M}\p{N}_][\p{L}\p{M}\p{N}._/-]*$/u;
const HAS_LETTER = /\p{L}/u;
// What a core-schema parser takes for something else than text although a letter is in it.
const MISREAD = /^(?:null|true|false|[0-9]+(?:\.[0-9]*)?e[0-9-]+|0x[0-9a-f]+|0o[0-7]+)$/i;

function badName(text: string, why: string): Problem {
  return { refuse: "bad-name", message: `\`${shorten(text)}\` cannot be a name: ${why}` };
}

function nameProblem(text: string, pattern: RegExp, characters: string): Problem | undefined {
  if (text.length > LONGEST_NAME) return badName(text, `it is longer than ${LONGEST_NAME} characters`);
  if (!pattern.test(text)) return badName(text, `names hold ${characters}, and begin with a letter, a digit or \`_\``);
  if (text.includes("..")) return badName(text, "`..` writes a range");
  if (RESERVED.includes(text)) return badName(text, "the word has a meaning of its own");
  return undefined;
}

/** Reads the name of a device, a network, a set or a role being declared. */
function parseName(text: string): string | Problem {
  const problem = nameProblem(text, NAME, "letters, digits, `-`, `_` and `.`");
  if (problem !== undefined) return problem;
  if (!HAS_LETTER.test(text)) return badName(text, "without a letter it reads as a number or an address");
  return MISREAD.test(text) ? badName(text, "other YAML tools read it as something else than text") : text;
}

/** Reads the name of a port, a bond, a tunnel, a radio or an interface being declared. */
export function parsePortName(text: string): string | Problem {
  return nameProblem(text, PORT_NAME, "letters, digits, `-`, `_`, `.` and `/`") ?? text;
}

/** JSON Schema of a declared name. */
export const NAME_SCHEMA: JsonSchema = { type: "string", pattern: NAME.source, maxLength: LONGEST_NAME };

/** JSON Schema of the name of a port or interface. */
export const PORT_NAME_SCHEMA: JsonSchema = { type: "string", pattern: PORT_NAME.source, maxLength: LONGEST_NAME };

/** The name of a device, a network, a set or a role, where it is declared. */
export const declaredName: Shape<Located<string>> = leaf<string>({
  says: "a name",
  parse: parseName,
  schema: NAME_SCHEMA,
});

/** The name of a port, a bond, a tunnel, a radio or an interface, where it is declared. */
export const declaredPart: Shape<Located<string>> = leaf<string>({
  says: "a name",
  parse: parsePortName,
  schema: { anyOf: [PORT_NAME_SCHEMA, { type: "number" }] },
});

/** A name that is declared elsewhere; whether it exists is for `site/` to say. */
export function nameOf(what: string): Shape<Located<string>> {
  return leaf<string>({
    says: `the name of ${what}`,
    parse: (text) => text,
    schema: { type: ["string", "number"], ...EXPLICIT },
  });
}

// A name is short; anything longer is no name of ours.
const EXPLICIT: JsonSchema = { minLength: 1, maxLength: 2 * LONGEST_NAME + 1 };

const LONGEST_SSID = 32;

/** Name of a radio network: 1 to 32 bytes of UTF-8 (IEEE 802.11, from memory). */
export const ssidName: Shape<Located<string>> = leaf<string>({
  says: "the name of a radio network",
  parse(text) {
    const bytes = new TextEncoder().encode(text).length;
    if (bytes >= 1 && bytes <= LONGEST_SSID) return text;
    return badName(text, `an SSID is 1 to ${LONGEST_SSID} bytes long, and this is ${bytes}`);
  },
  schema: { type: ["string", "number", "boolean"], minLength: 1, maxLength: LONGEST_SSID },
});
