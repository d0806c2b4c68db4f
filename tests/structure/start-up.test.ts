/** What `dryrack --help` loads: the option parser and the command line's own files, nothing of the work behind them. */
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { type BuildOptions, build } from "esbuild";
import { describe, expect, it } from "vitest";

const config: { commandLineOptions: () => BuildOptions } = await import(
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
