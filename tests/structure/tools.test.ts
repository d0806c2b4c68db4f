/**
 * The configured tools catch what they are there for: each case plants one violation in a small project that has
 * this repository's own configuration, and the same project without it passes.
 */
import { spawnSync } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { afterEach, describe, expect, it } from "vitest";

const CONFIGURATION = ["package.json", "biome.json", "knip.json", "tsconfig.json", ".gitignore"];
const SOUND = {
  "src/index.ts": `export { reach } from "./address/index.ts";\n`,
  "src/cli/main.ts": `import { reach } from "../address/index.ts";\n\nconsole.log(reach);\n`,
  "src/address/index.ts": `export { reach } from "./reach.ts";\n`,
  "src/address/reach.ts": "export const reach = 1;\n",
};
const folders: string[] = [];

afterEach(() => {
  for (const folder of folders.splice(0)) rmSync(folder, { recursive: true });
});

/** Runs a tool of node_modules in a fresh project of the sound files and the planted ones. */
function run(tool: string, options: readonly string[], planted: Record<string, string> = {}) {
  const folder = mkdtempSync(join(tmpdir(), "dryrack-structure-"));
  folders.push(folder);
  for (const name of CONFIGURATION) cpSync(name, join(folder, name));
  symlinkSync(resolve("node_modules"), join(folder, "node_modules"));
  for (const [path, text] of Object.entries({ ...SOUND, ...planted })) {
    mkdirSync(dirname(join(folder, path)), { recursive: true });
    writeFileSync(join(folder, path), text);
  }
  const { status, stdout, stderr } = spawnSync(resolve("node_modules", ".bin", tool), options, {
    cwd: folder,
    encoding: "utf8",
    env: { ...process.env, NO_COLOR: "1" },
  });
  return { status, output: stdout + stderr };
}

describe("biome", () => {
  const lint: string = JSON.parse(readFileSync("package.json", "utf8")).scripts.lint;
  const options = [...lint.split(" ").slice(1), "--colors=off"];

  it("passes the sound project", () => {
    expect(run("biome", options)).toMatchObject({ status: 0 });
  });

  it.each([
    [
      "noImportCycles",
      {
        "src/address/reach.ts": `import type { Two } from "./two.ts";\n\nexport const reach = 1;\nexport type One = Two;\n`,
        "src/address/two.ts": `import type { One } from "./reach.ts";\n\nexport type Two = { one: One };\n`,
      },
    ],
    ["noDefaultExport", { "src/address/two.ts": "export default 2;\n" }],
    ["noConsole", { "src/address/two.ts": "console.log(2);\n" }],
    ["noRestrictedGlobals", { "src/address/two.ts": "export const now = Date.now();\n" }],
    ["noUnusedImports", { "src/address/two.ts": `import { reach } from "./reach.ts";\n` }],
    ["noExplicitAny", { "src/address/two.ts": "export let two: any;\n" }],
    ["format", { "src/address/two.ts": "export const two = '2'\n" }],
  ])("reports a planted violation of %s", (rule, planted) => {
    const { status, output } = run("biome", options, planted);
    expect(output).toContain(rule);
    expect(status).toBe(1);
  });
});

describe("knip", () => {
  const options = ["--include", "files,exports,types,duplicates"];

  it("passes the sound project", () => {
    expect(run("knip", options)).toMatchObject({ status: 0 });
  });

  it.each([
    ["export", { "src/address/reach.ts": "export const reach = 1;\nexport const unusedReach = 2;\n" }, "unusedReach"],
    ["type", { "src/address/reach.ts": "export const reach = 1;\nexport type UnusedReach = 2;\n" }, "UnusedReach"],
    ["file", { "src/address/lonely.ts": "export const lonely = 1;\n" }, "src/address/lonely.ts"],
  ])("reports an unused %s", (_, planted, name) => {
    const { status, output } = run("knip", options, planted);
    expect(output).toContain(name);
    expect(status).toBe(1);
  });
});

describe("tsc", () => {
  const options = ["--noEmit", "-p", "."];

  it.each([
    ["an unchecked index", `const text: string = [""][0];\nconsole.log(text);\n`],
    ["an enum", "enum Way {\n  Up,\n}\nconsole.log(Way.Up);\n"],
    [
      "an optional property set to undefined",
      `const port: { mtu?: number } = { mtu: undefined };\nconsole.log(port);\n`,
    ],
  ])("refuses %s", (_, text) => {
    expect(run("tsc", options, { "src/cli/planted.ts": text })).toMatchObject({ status: 2 });
  });

  it("passes the sound project and refuses an export without a type", () => {
    expect(run("tsc", options)).toMatchObject({ status: 0 });
    const inferred = { "src/cli/planted.ts": "export const reach = [1].map((one) => one + 1);\n" };
    expect(run("tsc", options, inferred).output).toContain("--isolatedDeclarations");
  });
});
