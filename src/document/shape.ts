/**
 * A shape says in one place what may stand somewhere in a document: how it is read, which JSON Schema it has, how people
 * are told of it. The key tables are built of shapes, and loading, `explain`, the schemas and the suggestions all
 * come from them, so there is no second source of truth.
 *
 * Guarantees: `read` reports at least one diagnostic whenever it answers undefined, and never throws.
 */
import type { DiagnosticCode, Span } from "../diagnose/index.ts";
import type { Findings } from "./findings.ts";
import { describeNode, type Node } from "./node.ts";
import { HASH_HELP } from "./syntax-words.ts";
import type { Located } from "./values.ts";

/** A JSON Schema (draft 2020-12), as plain data. */
export type JsonSchema = { readonly [keyword: string]: unknown };

/** What may stand in one place, and what it is read as. */
export type Shape<T> = {
  /** A noun phrase that completes "takes ...": "a duration such as `12h`". */
  readonly says: string;
  /** Reads a node. Undefined: reported. */
  readonly read: (node: Node, findings: Findings, subject: Subject) => T | undefined;
  /** Its JSON Schema, true of what a failsafe and what a core-schema YAML parser yields. */
  readonly schema: (definitions: SchemaDefinitions) => JsonSchema;
  /** What lies within, for the key table. */
  readonly parts: readonly Part[];
  /** Words that have a meaning here, each with that meaning. */
  readonly words?: readonly Word[];
};

/** What a node belongs to, as messages name and show it. */
export type Subject = {
  /** A phrase: "`lease`", "an item of `rules`". */
  readonly says: string;
  /** The key, or what else can be shown for the whole. */
  readonly span: Span;
};

/** Where schemas that are used more than once are kept, by name, while one schema is built. */
export type SchemaDefinitions = Map<string, JsonSchema>;

/** Something within a shape. */
export type Part = {
  /** What it adds to the path: `.lease`, `.*` for names of the user's, nothing for an item or an alternative. */
  readonly suffix: string;
  /** Its line in the key table, where the part is a key of ours. */
  readonly row?: KeyRow;
  /** Its shape. */
  readonly shape: Shape<unknown>;
};

/** A word with a meaning. */
export type Word = {
  /** The word. */
  readonly word: string;
  /** What it means, as a phrase. */
  readonly says: string;
};

/** One line of the key table. */
export type KeyRow = {
  /** The key as written. */
  readonly key: string;
  /** What may stand there. */
  readonly shape: Shape<unknown>;
  /** One sentence: what it means, with its unit. */
  readonly says: string;
  /** What holds when it is not written; undefined for a key that must be. */
  readonly default?: string;
  /** A value as one would write it. */
  readonly example: string;
};

/** Why a text is not what its shape asks for. */
export type Problem = {
  /** The code of the diagnostic. */
  readonly refuse: DiagnosticCode;
  /** Its headline. */
  readonly message: string;
  /** Facts. */
  readonly notes?: readonly string[];
  /** What to do. */
  readonly help?: string | undefined;
  /** The piece of the text that is wrong, as offsets within it; default all of it. */
  readonly piece?: readonly [start: number, end: number];
};

/** Whether a parser's answer is a problem. No value of a document has a key `refuse`. */
export function isProblem(answer: unknown): answer is Problem {
  return typeof answer === "object" && answer !== null && "refuse" in answer;
}

/** How a single text is read. */
export type Leaf<T> = {
  /** See `Shape.says`. */
  readonly says: string;
  /** Reads the text. */
  readonly parse: (text: string) => T | Problem;
  /** Its JSON Schema. */
  readonly schema: JsonSchema;
  /** See `Shape.words`. */
  readonly words?: readonly Word[];
};

/** The shape of a single text. */
export function leaf<T>(definition: Leaf<T>): Shape<Located<T>> {
  const { says, parse, schema, words } = definition;
  return {
    says,
    read(node, findings, subject) {
      if (node.kind !== "text") return wrongShape(node, findings, subject, says);
      const value = parse(node.text);
      if (!isProblem(value)) return { value, span: node.span };
      reportProblem(value, node, findings);
      return undefined;
    },
    schema: () => schema,
    parts: [],
    ...(words === undefined ? {} : { words }),
  };
}

function reportProblem(problem: Problem, node: Node & { readonly kind: "text" }, findings: Findings): void {
  const { refuse, message, notes = [], help, piece } = problem;
  const span = piece === undefined || !node.plain ? node.span : within(node.span, piece);
  findings.report(refuse, span, message, { notes, help });
}

function within(span: Span, [start, end]: readonly [number, number]): Span {
  return { file: span.file, start: span.start + start, end: span.start + end };
}

/** Reports that a node has another shape than its place asks for. */
export function wrongShape(node: Node, findings: Findings, subject: Subject, says: string): undefined {
  if (node.kind !== "nothing") {
    findings.report("wrong-shape", node.span, `${subject.says} takes ${says}, not ${describeNode(node)}`);
  } else if (node.refused === true) {
    findings.countTold();
  } else {
    const notes = [`${subject.says} takes ${says}`];
    const help = node.commented === true ? HASH_HELP : undefined;
    findings.report("wrong-shape", subject.span, `nothing is written for ${subject.says}`, { notes, help });
  }
  return undefined;
}

/** What a later step may want to know of a reading. */
export type Aside = {
  /** Where to report. */
  readonly findings: Findings;
  /** Whether nothing was wrong within; if something was, what is absent may have been meant by it. */
  readonly clean: boolean;
};

/** The same shape, read on to something else; where `change` answers undefined it has reported why, or `clean` is false. */
export function mapped<T, U>(shape: Shape<T>, change: (value: T, node: Node, aside: Aside) => U | undefined): Shape<U> {
  return {
    ...shape,
    read(node, findings, subject) {
      const before = findings.errors();
      const value = shape.read(node, findings, subject);
      return value === undefined ? undefined : change(value, node, { findings, clean: findings.errors() === before });
    },
  };
}

/** The value together with the place of the whole node. */
export function located<T>(shape: Shape<T>): Shape<Located<T>> {
  return mapped(shape, (value, node) => ({ value, span: node.span }));
}

/** The value without its place. */
export function unlocated<T>(shape: Shape<Located<T>>): Shape<T> {
  return mapped(shape, (found) => found.value);
}
