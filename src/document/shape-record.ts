/**
 * Shapes of mappings with keys of ours: each key is one row of the key table, tied by the compiler to the field of the
 * documented type that it is read into.
 */
import { nearestWord, type Span } from "../diagnose/index.ts";
import type { Findings } from "./findings.ts";
import { type MapEntry, type Node, shorten } from "./node.ts";
import { looksSecret, notModelled } from "./not-modelled.ts";
import { type JsonSchema, type KeyRow, type SchemaDefinitions, type Shape, type Subject, wrongShape } from "./shape.ts";
import type { Located } from "./values.ts";
import { parseYaml } from "./yaml-text.ts";

/** A row of the key table together with the field's type and what its absence means. */
export type Row<T, Need extends string> = KeyRow & {
  /** What may stand there. */
  readonly shape: Shape<T>;
  /** `required`: an error when absent; `optional`: the field is absent too; `defaulted`: the field holds `fallback`. */
  readonly need: Need;
  /** The field's value when the key is absent. */
  readonly fallback?: T;
};

/** A row for every field of a documented type: an optional field takes an optional row, and no other. */
export type Rows<T> = {
  readonly [Field in keyof T]-?: object extends Pick<T, Field>
    ? Row<Exclude<T[Field], undefined>, "optional">
    : Row<T[Field], "required" | "defaulted">;
};

/** What a row says to people. */
export type Telling = {
  /** One sentence: what it means, with its unit. */
  readonly says: string;
  /** What holds when it is not written. */
  readonly default?: string;
  /** A value as one would write it. */
  readonly example: string;
};

/** A key that may be absent. */
export function optional<T>(key: string, shape: Shape<T>, telling: Telling): Row<T, "optional"> {
  return { key, shape, need: "optional", ...telling, default: telling.default ?? "nothing" };
}

/** A key that must be written. */
export function required<T>(key: string, shape: Shape<T>, telling: Omit<Telling, "default">): Row<T, "required"> {
  return { key, shape, need: "required", ...telling };
}

/** A key whose absence reads as `fallback`. */
export function defaulted<T>(key: string, shape: Shape<T>, fallback: T, telling: Telling): Row<T, "defaulted"> {
  return { key, shape, need: "defaulted", fallback, ...telling, default: telling.default ?? "nothing" };
}

/** How a mapping with keys of ours is read. */
export type RecordDefinition<T> = {
  /** Its name: that of its schema, and the place that `not-modelled.ts` lists keys for. */
  readonly id: string;
  /** See `Shape.says`. */
  readonly says: string;
  /** Every key. */
  readonly rows: Rows<Omit<T, "span">>;
  /** Looks at the whole once it is read; `clean`: nothing within was wrong, so what is absent was not meant by it. */
  readonly check?: (value: T, findings: Findings, clean: boolean) => void;
};

/** A mapping with keys of ours. */
export function record<T extends { readonly span: Span }>(definition: RecordDefinition<T>): Shape<T> {
  const rows = Object.entries<Row<unknown, string>>(definition.rows);
  const fieldOf = new Map(rows.map(([field, row]) => [row.key, { field, row }]));
  const keyed = rows.map(([, row]) => row);
  return {
    says: definition.says,
    read(node, findings, subject) {
      if (node.kind !== "map") return wrongShape(node, findings, subject, definition.says);
      const before = findings.errors();
      const values: Record<string, unknown> = { span: node.span };
      const mistyped = new Set<string>();
      for (const entry of node.entries) {
        const known = fieldOf.get(entry.key.text);
        if (known === undefined) mistyped.add(unknownKey(entry, keyed, definition.id, findings) ?? "");
        else values[known.field] = readValue(entry, known.row, findings);
      }
      const whole = fillIn(values, rows, findings, mistyped, subject);
      if (!whole) return undefined;
      // Every field of T has a row (Rows), each row's value is of its field's type, and none that T requires is undefined here.
      const value = values as unknown as T;
      definition.check?.(value, findings, findings.errors() === before);
      return value;
    },
    schema: (definitions) => recordSchema(definition.id, rows, definitions),
    parts: rows.map(([, row]) => ({ suffix: `.${row.key}`, row, shape: row.shape })),
  };
}

function readValue({ key, value }: MapEntry, row: Row<unknown, string>, findings: Findings): unknown {
  return row.shape.read(value, findings, { says: `\`${row.key}\``, span: key.span });
}

/** Reports absent keys, fills in fallbacks, drops fields that could not be read. False: a required field is missing. */
function fillIn(
  values: Record<string, unknown>,
  rows: readonly (readonly [string, Row<unknown, string>])[],
  findings: Findings,
  mistyped: ReadonlySet<string>,
  subject: Subject,
): boolean {
  let whole = true;
  for (const [field, row] of rows) {
    if (values[field] !== undefined) continue;
    const written = Object.hasOwn(values, field);
    delete values[field];
    if (row.need === "defaulted") values[field] = row.fallback;
    if (row.need !== "required") continue;
    whole = false;
    if (!written && !mistyped.has(row.key)) missingKey(row, findings, subject);
  }
  return whole;
}

function missingKey(row: Row<unknown, string>, findings: Findings, subject: Subject): void {
  const notes = [`\`${row.key}\`: ${row.says}`];
  const help = `write it, as in \`${row.key}: ${row.example}\``;
  findings.report("missing-key", subject.span, `${subject.says} lacks the key \`${row.key}\``, { notes, help });
}

/** Reports a key without meaning; the nearest valid one, if there is one. */
function unknownKey(
  entry: MapEntry,
  rows: readonly Row<unknown, string>[],
  id: string,
  findings: Findings,
): string | undefined {
  const key = entry.key.text;
  const unmodelled = notModelled(id, key);
  if (unmodelled !== undefined) {
    findings.report("not-modelled", entry.key.span, `\`${key}\` is not modelled: ${unmodelled}`);
    return undefined;
  }
  if (looksSecret(key)) {
    findings.report("secret-refused", entry.key.span, `\`${shorten(key)}\` looks like a secret, and a plan holds none`);
    return undefined;
  }
  if (findings.full()) {
    findings.countTold();
    return undefined;
  }
  const keys = rows.map((row) => row.key);
  const nearest = nearestWord(key, keys);
  const holder = holderOf(key, rows);
  const belongs = holder === undefined ? undefined : `\`${key}\` is a key of \`${holder}\`: write it in there`;
  const help = nearest === undefined ? belongs : `write \`${nearest}\``;
  const notes = [
    `the ${keys.length === 1 ? "key here is" : "keys here are"} ${keys.map((valid) => `\`${valid}\``).join(", ")}`,
  ];
  findings.report("unknown-key", entry.key.span, `the key \`${shorten(key)}\` has no meaning here`, { notes, help });
  return nearest;
}

/** The only one of some keys whose value, or each item of it, is a mapping that has this key. */
function holderOf(key: string, rows: readonly Row<unknown, string>[]): string | undefined {
  const [holder, ...others] = rows.filter(({ shape }) => keysIn(shape).includes(key));
  return others.length === 0 ? holder?.key : undefined;
}

function keysIn({ parts }: Shape<unknown>): readonly string[] {
  return parts.flatMap(({ suffix, row, shape }) => {
    if (row !== undefined) return [row.key];
    return suffix === "" ? keysIn(shape) : [];
  });
}

function recordSchema(
  id: string,
  rows: readonly (readonly [string, Row<unknown, string>])[],
  definitions: SchemaDefinitions,
): JsonSchema {
  if (!definitions.has(id)) {
    definitions.set(id, {});
    const properties = rows.map(([, row]) => [row.key, describedSchema(row, definitions)]);
    const required = rows.filter(([, row]) => row.need === "required").map(([, row]) => row.key);
    const schema: JsonSchema = {
      type: "object",
      properties: Object.fromEntries(properties),
      required,
      additionalProperties: false,
    };
    definitions.set(id, schema);
  }
  return { $ref: `#/$defs/${id}` };
}

function describedSchema(row: KeyRow, definitions: SchemaDefinitions): JsonSchema {
  const whenAbsent = row.default === undefined ? "" : ` Default: ${row.default}.`;
  const description = `${row.says}${whenAbsent}`;
  return { description, examples: [exampleOf(row)], ...row.shape.schema(definitions) };
}

/** The example as an editor's parser yields it, which types plain digits. */
function exampleOf({ key, example }: KeyRow): unknown {
  const { root } = parseYaml({ path: key, text: `${key}: ${example}\n` }, 0);
  const value = root?.kind === "map" ? root.entries[0]?.value : undefined;
  if (value === undefined) throw new Error(`the example of \`${key}\` is no YAML`);
  return plainOf(value);
}

function plainOf(node: Node): unknown {
  switch (node.kind) {
    case "text":
      return node.plain && /^(?:0|[1-9]\d*)$/.test(node.text) ? Number(node.text) : node.text;
    case "list":
      return node.items.map(plainOf);
    case "map":
      return Object.fromEntries(node.entries.map(({ key, value }) => [key.text, plainOf(value)]));
    case "nothing":
      return null;
  }
}

/** One row's entry put together from its name, its value and its place. */
export function named<T extends { readonly name: Located<string>; readonly span: Span }>(
  name: Located<string>,
  value: Omit<T, "name">,
  span: Span,
): T {
  // T is its name, its span and the rest, all of which are given here.
  return { ...value, name, span } as unknown as T;
}
