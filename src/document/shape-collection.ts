/**
 * Shapes of lists, of mappings keyed by the user's names, and of alternatives that the look of a node tells apart.
 */
import type { Span } from "../diagnose/index.ts";
import type { Findings } from "./findings.ts";
import { entrySpan, type Node, shorten } from "./node.ts";
import {
  type JsonSchema,
  type Part,
  type SchemaDefinitions,
  type Shape,
  type Subject,
  type Word,
  wrongShape,
} from "./shape.ts";
import type { List, Located } from "./values.ts";

/** How many items a list must have, and whether a single item may stand for a list of one. */
type ListRules = {
  /** Default 0. */
  readonly atLeast?: 0 | 1;
  /** Default no: brackets or dashes are needed. */
  readonly single?: boolean;
};

/** A list of single values; one value alone is a list of one. */
export function list<T>(item: Shape<Located<T>>, says: string, atLeast: 0 | 1 = 0): Shape<List<T>> {
  return sequence(item, says, { atLeast, single: true });
}

/** A list of records, each with a place of its own. */
export function sequence<T>(item: Shape<T>, says: string, rules: ListRules = {}): Shape<Located<readonly T[]>> {
  const { atLeast = 0, single = false } = rules;
  return {
    says,
    read(node, findings, subject) {
      if (node.kind === "nothing") return wrongShape(node, findings, subject, says);
      if (node.kind !== "list" && !single) return wrongShape(node, findings, subject, says);
      const nodes = node.kind === "list" ? node.items : [node];
      if (nodes.length < atLeast) return emptyList(node, findings, subject, says);
      return { value: readAll(nodes, item, findings, subject), span: node.span };
    },
    schema: (definitions) => listSchema(item.schema(definitions), atLeast, single),
    parts: [{ suffix: "", shape: item }],
  };
}

function emptyList(node: Node, findings: Findings, subject: Subject, says: string): undefined {
  findings.report("wrong-shape", node.span, `the list of ${subject.says} is empty`, {
    notes: [`${subject.says} takes ${says}`],
  });
  return undefined;
}

function readAll<T>(nodes: readonly Node[], item: Shape<T>, findings: Findings, subject: Subject): readonly T[] {
  const values: T[] = [];
  for (const node of nodes) {
    const value = item.read(node, findings, itemSubject(node, subject));
    if (value !== undefined) values.push(value);
  }
  return values;
}

/** An item that is a mapping is told of as such, and shown by its first key. */
function itemSubject(node: Node, subject: Subject): Subject {
  if (node.kind !== "map") return subject;
  return { says: `an item of ${subject.says}`, span: node.entries[0]?.key.span ?? node.span };
}

function listSchema(item: JsonSchema, atLeast: number, single: boolean): JsonSchema {
  const many = { type: "array", items: item, ...(atLeast > 0 ? { minItems: atLeast } : {}) };
  return single ? { anyOf: [item, many] } : many;
}

/** How a mapping keyed by the user's names is read. */
export type EntriesDefinition<K, V, T> = {
  /** See `Shape.says`. */
  readonly says: string;
  /** The shape of its keys. */
  readonly key: Shape<Located<K>>;
  /** JSON Schema of a key, where it can be told by a pattern. */
  readonly keySchema?: JsonSchema;
  /** The shape of its values. */
  readonly value: Shape<V>;
  /** Puts an entry together; `span` is that of key and value. */
  readonly build: (key: Located<K>, value: V, span: Span) => T;
  /** Whether entries that could not be read wholly are noted by name. */
  readonly tracked?: boolean;
  /** Looks at all entries together. */
  readonly check?: (entries: readonly T[], findings: Findings) => void;
};

/** A mapping keyed by the user's names, as entries in document order. */
export function entries<K, V, T>(definition: EntriesDefinition<K, V, T>): Shape<Located<readonly T[]>> {
  const { says, value, keySchema } = definition;
  return {
    says,
    read(node, findings, subject) {
      if (node.kind !== "map") return wrongShape(node, findings, subject, says);
      const found: T[] = [];
      for (const entry of node.entries) {
        const before = findings.errors();
        const key = definition.key.read(entry.key, findings, subject);
        const inner = { says: `\`${shorten(entry.key.text)}\``, span: entry.key.span };
        const read = value.read(entry.value, findings, inner);
        if (definition.tracked === true && findings.errors() > before) findings.markIncomplete(entry.key.text);
        if (key !== undefined && read !== undefined) found.push(definition.build(key, read, entrySpan(entry)));
      }
      definition.check?.(found, findings);
      return { value: found, span: node.span };
    },
    schema: (definitions) => ({
      type: "object",
      ...(keySchema === undefined ? {} : { propertyNames: keySchema }),
      additionalProperties: value.schema(definitions),
    }),
    parts: [{ suffix: ".*", shape: value }],
  };
}

/** What may stand in one place by the look of the node. */
export type Alternatives<T> = {
  /** Read when a text stands there. */
  readonly text?: Shape<T>;
  /** Read when a list stands there. */
  readonly list?: Shape<T>;
  /** Read when a mapping stands there. */
  readonly map?: Shape<T>;
};

/** One of several shapes, told apart by whether a text, a list or a mapping is written. */
export function either<T>(says: string, alternatives: Alternatives<T>): Shape<T> {
  const shapes = [alternatives.text, alternatives.list, alternatives.map].filter((shape) => shape !== undefined);
  return {
    says,
    read(node, findings, subject) {
      const shape = node.kind === "nothing" ? undefined : alternatives[node.kind];
      return shape === undefined ? wrongShape(node, findings, subject, says) : shape.read(node, findings, subject);
    },
    schema: (definitions) => anyOf(shapes, definitions),
    parts: shapes.map((shape): Part => ({ suffix: "", shape })),
    words: shapes.flatMap((shape): readonly Word[] => shape.words ?? []),
  };
}

function anyOf(shapes: readonly Shape<unknown>[], definitions: SchemaDefinitions): JsonSchema {
  return { anyOf: shapes.map((shape) => shape.schema(definitions)) };
}
