/**
 * What `dryrack --help` loads: the option parser and the command line's own files, nothing of the work behind them; and what
 * importing the library loads.
 */
import { readFileSync } from "node:fs";
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { type BuildOptions, build, type Metafile } from "esbuild";
import { describe, expect, it } from "vitest";

const config: { commandLineOptions: () => BuildOptions; libraryOptions: (lazy: object) => BuildOptions } = await import(
  pathToFileURL(resolve("esbuild.config.mjs")).href
);

/** Where the code of dist/cli.js comes from: packages and folders of `src/`. `extra` is loaded after the rest. */
async function loadedAtStart(extra = ""): Promise<string[]> {
  const { entryPoints: _, ...options } = config.commandLineOptions();
  const contents = `import "./src/cli/main.ts";\n${extra}`;
  const result = await build({
    ...options,
    stdin: { contents, resolveDir: process.cwd(), sourcefile: "src/cli/start.ts" },
    metafile: true,
    write: false,
  });
  return [...new Set(Object.keys(result.metafile.inputs).map(originOf))].sort();
}

/** "commander" for a file of that package, "src/cli" for a file of that folder, "node" for Node's own modules. */
function originOf(input: string): string {
  const [, scope, name] = /(?:^|\/)node_modules\/(@[^/]+\/)?([^/]+)/.exec(input) ?? [];
  if (name !== undefined) return `${scope ?? ""}${name}`;
  return input.startsWith("on-demand:") ? "node" : input.split("/").slice(0, 2).join("/");
}

describe("dist/cli.js", () => {
  it("holds the option parser and the command line's own files", async () => {
    const allowed = ["commander", "node", "package.json", "src/cli"];
    const loaded = await loadedAtStart();
    expect(loaded).toContain("commander");
    expect(loaded.filter((origin) => !allowed.includes(origin))).toEqual([]);
  });

  it("would be seen to hold more, if it did", async () => {
    expect(await loadedAtStart(`import "yaml";\nimport "./src/address/index.ts";\n`)).toEqual(
      expect.arrayContaining(["src/address", "yaml"]),
    );
  });

  it("reaches the work through dynamic imports alone", async () => {
    expect(await loadedAtStart(`void import("./src/address/index.ts");\n`)).not.toContain("src/address");
  });
});

/** Files of `src/` that a face of the library loads when it is imported, with all that they import statically. */
async function loadedByFace(face: string, planted = ""): Promise<string[]> {
  const { entryPoints: _, ...options } = config.libraryOptions({});
  const result = await build({
    ...options,
    stdin: { contents: `${readFileSync(`src/${face}`, "utf8")}\n${planted}`, resolveDir: resolve("src"), loader: "ts" },
    metafile: true,
    write: false,
  });
  const [entry] = Object.entries(result.metafile.outputs).find(([, { entryPoint }]) => entryPoint === "<stdin>") ?? [];
  if (entry === undefined) throw new Error(`${face} came to nothing`);
  return [...staticInputs(entry, result.metafile.outputs)].filter((input) => input !== "<stdin>").sort();
}

/** Whatever has code in an output or in one that it imports before it runs. */
function staticInputs(entry: string, outputs: Metafile["outputs"]): ReadonlySet<string> {
  const reached = new Set([entry]);
  const inputs = new Set<string>();
  for (const name of reached) {
    const output = outputs[name];
    for (const [input, { bytesInOutput }] of Object.entries(output?.inputs ?? {}))
      if (bytesInOutput > 0) inputs.add(input);
    for (const { kind, path } of output?.imports ?? [])
      if (kind === "import-statement" && path in outputs) reached.add(path);
  }
  return inputs;
}

describe("the library's faces", () => {
  const light = ["src/library/open.ts", "src/library/wrong-input.ts"];

  it("load nothing of the work until a site is opened", async () => {
    expect(await loadedByFace("index.ts")).toEqual(["src/cli/version.ts", ...light]);
    expect(await loadedByFace("vitest.ts")).toEqual(["src/library/matchers.ts", "src/library/wrong-input.ts"]);
  });

  it("would be seen to load more, if they did", async () => {
    const planted = `export { nearestWord } from "./diagnose/index.ts";\n`;
    expect(await loadedByFace("index.ts", planted)).toContain("src/diagnose/nearest.ts");
  });
});
