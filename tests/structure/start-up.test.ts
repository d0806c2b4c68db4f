/** What `dryrack --help` loads: the option parser and the command line's own files, nothing of the work behind them. */
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { type BuildOptions, build } from "esbuild";
import { describe, expect, it } from "vitest";

const config: { bundleOptions: () => BuildOptions } = await import(pathToFileURL(resolve("esbuild.config.mjs")).href);

/** Packages and folders of `src/` whose code lies in dist/cli.js or in a chunk that it imports at once. */
async function loadedAtStart(changes: BuildOptions = {}): Promise<string[]> {
  const { metafile } = await build({
    ...config.bundleOptions(),
    ...changes,
    metafile: true,
    write: false,
  });
  const outputs = metafile.outputs;
  const seen = new Set(["dist/cli.js"]);
  const origins = new Set<string>();
  for (const name of seen) {
    for (const { path, kind } of outputs[name]?.imports ?? []) if (kind === "import-statement") seen.add(path);
    for (const input of Object.keys(outputs[name]?.inputs ?? {})) origins.add(originOf(input));
  }
  return [...origins].sort();
}

/** "commander" for a file of that package, "src/cli" for a file of that folder, "node" for Node's own modules. */
function originOf(input: string): string {
  const [, scope, name] = /(?:^|\/)node_modules\/(@[^/]+\/)?([^/]+)/.exec(input) ?? [];
  if (name !== undefined) return `${scope ?? ""}${name}`;
  return input.startsWith("builtin:") ? "node" : input.split("/").slice(0, 2).join("/");
}

describe("dist/cli.js", () => {
  it("loads the option parser and the command line's own files at start-up", async () => {
    const allowed = ["commander", "node", "package.json", "src/cli"];
    const loaded = await loadedAtStart();
    expect(loaded).toContain("commander");
    expect(loaded.filter((origin) => !allowed.includes(origin))).toEqual([]);
  });

  it("would be seen to load more, if it did", async () => {
    const stdin = { contents: `import "yaml";`, resolveDir: process.cwd() };
    const found = await loadedAtStart({ stdin, entryPoints: {}, entryNames: "cli" });
    expect(found).toContain("yaml");
  });
});
