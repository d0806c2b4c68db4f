/**
 * The schemas in an editor: the YAML language server that editors use validates our documents by them, shows what a key
 * means with an example, completes keys, and finds a schema by the comment line that README tells.
 */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { TextDocument } from "vscode-languageserver-textdocument";
import { getLanguageService, type LanguageService } from "yaml-language-server";
import { ASSERTION_KINDS, type DocumentKind, jsonSchema } from "../../src/document/index.ts";
import { assertions, fixture, intent, topology } from "./support.ts";

const KINDS: readonly DocumentKind[] = ["topology", "intent", "assertions", "storyline"];

function serviceWith(settings: Parameters<LanguageService["configure"]>[0], asked: string[] = []): LanguageService {
  const service = getLanguageService({
    schemaRequestService: (uri) => {
      asked.push(uri);
      const kind = KINDS.find((each) => uri.endsWith(`/${each}.json`));
      return kind === undefined ? Promise.reject(new Error(uri)) : Promise.resolve(JSON.stringify(jsonSchema(kind)));
    },
    workspaceContext: { resolveRelativePath: (path, base) => new URL(path, base).href },
  });
  service.configure({ validate: true, hover: true, completion: true, customTags: [], ...settings });
  return service;
}

const SERVICES = new Map(
  KINDS.map((kind) => [
    kind,
    serviceWith({ schemas: [{ uri: `file:///schemas/${kind}.json`, fileMatch: ["*.yaml"] }] }),
  ]),
);

function serviceOf(kind: DocumentKind): LanguageService {
  const service = SERVICES.get(kind);
  if (service === undefined) throw new Error(`no service for ${kind}`);
  return service;
}

let openedSoFar = 0;

/** Each under a name of its own: the server remembers what it has parsed by name and version. */
function opened(text: string): TextDocument {
  openedSoFar++;
  return TextDocument.create(`file:///plan/topologies/site/${openedSoFar}.yaml`, "yaml", 1, text);
}

async function complaints(kind: DocumentKind, text: string): Promise<readonly string[]> {
  const found = await serviceOf(kind).doValidation(opened(text), false);
  return found.map(({ message }) => message);
}

/** Where the marked place is, and the text without the mark. */
function marked(text: string) {
  const document = opened(text.replace("|", ""));
  return { document, position: document.positionAt(text.indexOf("|")) };
}

async function hover(kind: DocumentKind, text: string): Promise<string> {
  const { document, position } = marked(text);
  return JSON.stringify((await serviceOf(kind).doHover(document, position))?.contents ?? "");
}

async function completions(kind: DocumentKind, text: string): Promise<readonly string[]> {
  const { document, position } = marked(text);
  const { items } = await serviceOf(kind).doComplete(document, position, false);
  return items.map(({ label }) => label);
}

/** Our own sites, each file with its kind as its first line tells it. */
const OURS = ["topologies", "assertions"].flatMap((root) =>
  readdirSync(root, { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".yaml"))
    .map((name) => {
      const text = readFileSync(join(root, name), "utf8");
      const kind = KINDS.find((each) => text.includes(`dryrack: ${each}/1`));
      if (kind === undefined) throw new Error(`${name} is of no kind`);
      return { name: join(root, name), kind, text };
    }),
);

describe("the YAML language server", () => {
  test.each(OURS)("has nothing against $name", async ({ kind, text }) => {
    expect(await complaints(kind, text)).toEqual([]);
  });

  test.each(KINDS)("has nothing against the sketch of %s", async (kind) => {
    expect(await complaints(kind, fixture(`${kind}.yaml`))).toEqual([]);
  });

  test.each([
    ["topology" as const, topology("devices: { core: { is: swich } }"), "Value is not accepted"],
    ["intent" as const, intent("networks: { crew: { vlna: 30 } }"), "Property vlna is not allowed"],
    ["intent" as const, intent("networks: { crew: { vlan: 4095 } }"), "above the maximum"],
    ["assertions" as const, assertions("  - { from: x, to: y, expect: blocked }"), 'Missing property "name"'],
  ])("finds what is wrong in a %s", async (kind, text, message) => {
    expect(await complaints(kind, text)).toContainEqual(expect.stringContaining(message));
  });

  test("shows what a key means, its default and an example", async () => {
    const told = await hover("intent", intent("devices:\n  edge:\n    dhcp: { crew: { le|ase: 12h } }"));
    expect(told).toContain("How long a lease lasts (option 51). Default: 12h (common practice).");
    expect(told).toContain("12h");
  });

  test("completes the keys of a place and the words of a key", async () => {
    expect(await completions("assertions", assertions("  - name: a\n    ev|"))).toContain("even-if");
    const words = await completions("assertions", assertions("  - name: a\n    expect: |"));
    expect(words).toEqual(expect.arrayContaining(["connects", "arrives", "blocked", "only"]));
  });

  test("finds a schema by the comment line that README tells", async () => {
    const line = /^# yaml-language-server: \S+$/m.exec(readFileSync("README.md", "utf8"))?.[0] ?? "";
    const asked: string[] = [];
    const service = serviceWith({ schemas: [] }, asked);
    const found = await service.doValidation(opened(`${line}\n${intent("networks: { crew: { vlna: 30 } }")}`), false);
    expect(found.map(({ message }) => message)).toContainEqual(expect.stringContaining("Property vlna"));
    expect(asked).toEqual(["file:///plan/schemas/intent.json"]);
  });

  test("knows the example of every kind of assertion", async () => {
    for (const { example } of Object.values(ASSERTION_KINDS))
      expect(await complaints("assertions", assertions(example.replaceAll(/^/gm, "  ")))).toEqual([]);
  });
});
