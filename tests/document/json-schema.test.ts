import { Ajv2020, type ValidateFunction } from "ajv/dist/2020.js";
import { describe, expect, it } from "vitest";
import { parse } from "yaml";
import { startFindings } from "../../src/document/findings.ts";
import { type DocumentKind, jsonSchema, keyTable } from "../../src/document/index.ts";
import { parseYaml } from "../../src/document/yaml-text.ts";
import { assertions, device, fixture, intent, load, storyline, topology } from "./support.ts";

const KINDS: readonly DocumentKind[] = ["topology", "intent", "assertions", "storyline"];
const ajv = new Ajv2020({ strict: true, allowUnionTypes: true, allErrors: true });
const compiled = new Map<DocumentKind, ValidateFunction>(KINDS.map((kind) => [kind, ajv.compile(jsonSchema(kind))]));

function validates(kind: DocumentKind, text: string, schema: "failsafe" | "core" | "yaml-1.1"): unknown {
  const validate = compiled.get(kind);
  validate?.(parse(text, { schema }));
  return validate?.errors ?? [];
}

describe("the JSON Schemas", () => {
  it.each(KINDS)("of %s is draft 2020-12 and describes every key", (kind) => {
    const schema = JSON.stringify(jsonSchema(kind));
    expect(schema).toContain('"$schema":"https://json-schema.org/draft/2020-12/schema"');
    for (const { row } of keyTable().filter((line) => line.kind === kind))
      expect(schema).toContain(JSON.stringify(row.says).slice(1, -1));
  });

  it.each(KINDS)("of %s is the same bytes each time", (kind) => {
    expect(JSON.stringify(jsonSchema(kind))).toBe(JSON.stringify(jsonSchema(kind)));
  });

  it.each(KINDS)("accept the sketch of %s as a failsafe and as a core-schema parser yields it", (kind) => {
    const text = fixture(`${kind}.yaml`);
    expect(validates(kind, text, "failsafe")).toEqual([]);
    expect(validates(kind, text, "core")).toEqual([]);
  });

  it("accept words that a YAML 1.1 parser reads as truths", () => {
    const text = device(
      "forwarding: on, translate: { clients-may-open-forwards: no }, interfaces: { wan: { port: wan, pppoe: yes } }",
    );
    expect(load(text).diagnostics).toEqual([]);
    expect(validates("intent", text, "yaml-1.1")).toEqual([]);
  });

  it.each([
    ["topology" as const, topology("devices: { core: { is: swich } }")],
    ["topology" as const, topology("cables: { edge: core }")],
    ["topology" as const, topology("devices: { core: { ports: { p1: 1G } } }")],
    ["intent" as const, intent("networks: { crew: { vlna: 30 } }")],
    ["intent" as const, device("dhcp: { crew: { hosts: 1-2, lease: 12 } }")],
    ["assertions" as const, assertions("  - { name: a, from: x, to: y, expect: conects }")],
    ["assertions" as const, "dryrack: intent/1\n"],
    ["assertions" as const, assertions("  - { from: x, to: y, expect: blocked }")],
    ["storyline" as const, storyline("  - { at: 5, unplug: core:p2 }")],
    ["storyline" as const, storyline("  - { unplugg: core:p2 }")],
    ["storyline" as const, storyline("  - { change: [{ remove: a..b }] }")],
    ["storyline" as const, "dryrack: storyline/1\n"],
  ])("refuse a %s document that the loader refuses: %s", (kind, text) => {
    expect(validates(kind, text, "failsafe")).not.toEqual([]);
    expect(validates(kind, text, "core")).not.toEqual([]);
  });
});

/** Every key that a schema describes, with its own schema. */
function keysIn(schema: unknown): readonly (readonly [string, Record<string, unknown>])[] {
  if (typeof schema !== "object" || schema === null) return [];
  const own =
    "properties" in schema ? Object.entries(schema.properties as Record<string, Record<string, unknown>>) : []; // as JSON Schema has it
  return [...own, ...Object.entries(schema).flatMap(([word, each]) => (word === "examples" ? [] : keysIn(each)))];
}

describe("what an editor shows", () => {
  it.each(KINDS)("of every key of %s is what it means, and examples that its own schema accepts", (kind) => {
    const schema = jsonSchema(kind);
    const keys = keysIn(schema);
    const rows = new Set(keyTable().flatMap((line) => (line.kind === kind ? [line.row] : [])));
    expect(keys.length).toBeGreaterThanOrEqual(rows.size);
    for (const [key, { description, examples, ...rest }] of keys) {
      expect([key, description]).toEqual([key, expect.stringMatching(/^[A-Z].*\.$/s)]);
      const validate = ajv.compile({ ...rest, $defs: schema.$defs });
      expect([key, examples]).toEqual([key, [expect.anything()]]);
      for (const example of examples as unknown[]) expect([key, validate(example)]).toEqual([key, true]); // a list, by the line above
    }
  });
});

describe("numbers", () => {
  it("keep their bounds where the parser typed them", () => {
    expect(validates("intent", intent("networks: { crew: { vlan: 4094 } }"), "core")).toEqual([]);
    expect(validates("intent", intent("networks: { crew: { vlan: 4095 } }"), "core")).not.toEqual([]);
  });
});

describe("the examples of the key table", () => {
  const lines = keyTable().map((line) => [line.kind, line.path, line] as const);

  it("are over 250", () => {
    expect(lines.length).toBeGreaterThan(250);
  });

  it.each(lines)("%s: that of %s is read, and passes its schema both ways", (_kind, _path, { row }) => {
    const text = `${row.key}: ${row.example}\n`;
    const { root } = parseYaml({ path: "a.yaml", text }, 0);
    const node = root?.kind === "map" ? root.entries[0]?.value : undefined;
    const findings = startFindings();
    if (node !== undefined) row.shape.read(node, findings, { says: row.key, span: node.span });
    expect(findings.diagnostics()).toEqual([]);
    const definitions = new Map();
    const schema = row.shape.schema(definitions);
    const validate = ajv.compile({ ...schema, $defs: Object.fromEntries(definitions) });
    for (const schemaOfYaml of ["failsafe", "core"] as const) {
      validate(parse(text, { schema: schemaOfYaml })[row.key]);
      expect(validate.errors ?? []).toEqual([]);
    }
  });
});
