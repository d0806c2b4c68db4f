/** The structure rules: each catches its planted violation and no other, and the tree on disk keeps them all. */
import { describe, expect, it } from "vitest";
import { checkStructure, describeViolation, RULE_NAMES, type RuleName } from "./rules.ts";
import { readSourceTree } from "./source-tree.ts";

const HEADER = "/** A file of the test. */\n";

/** A small tree that keeps every rule, and the files given on top of it. */
function treeWith(files: Record<string, string>): ReadonlyMap<string, string> {
  const sound = {
    "src/index.ts": `export { walk } from "./prove/index.ts";\n`,
    "src/cli/main.ts": `import { readFile } from "node:fs";\nimport { open } from "../outside/index.ts";\n`,
    "src/outside/index.ts": `export { open } from "./open.ts";\n`,
    "src/outside/open.ts": `/** Opens. */\nexport function open(): number {\n  return Math.random();\n}\n`,
    "src/prove/index.ts": `export { walk } from "./walk.ts";\n`,
    "src/prove/walk.ts": `import type { Port } from "../network/index.ts";\n/** Walks. */\nexport const walk = 1;\n`,
    "src/network/index.ts": `export type { Port } from "./port.ts";\n`,
    "src/network/port.ts": `/** A port. */\nexport type Port = {\n  readonly is: "port";\n  /** Bytes. */\n  readonly mtu: number;\n};\n`,
  };
  const headed = Object.entries(sound).map(([path, text]) => [path, HEADER + text] as const);
  return new Map([...headed, ...Object.entries(files)]);
}

/** One planted violation of each rule: files, and words of the message that it must draw. */
const PLANTED: Record<RuleName, { files: Record<string, string>; says: string }> = {
  "known-folder": { files: { "src/utilities/index.ts": HEADER }, says: "`utilities/` is not in the layer table" },
  "downward-import": {
    files: { "src/network/up.ts": `${HEADER}import type { Walk } from "../prove/index.ts";\n` },
    says: "`network/` must not import `prove/`",
  },
  "never-import": {
    files: {
      "src/settle/index.ts": `${HEADER}export { site } from "../compile/index.ts";\n`,
      "src/compile/index.ts": `${HEADER}export { site } from "../site/index.ts";\n`,
      "src/site/index.ts": HEADER,
    },
    says: "reaches src/compile/index.ts -> src/site/index.ts",
  },
  "restricted-folder": {
    files: { "src/settle/reads.ts": `${HEADER}import { open } from "../outside/index.ts";\n` },
    says: "only cli, kernel, load may import `outside/`",
  },
  "folder-face": {
    files: { "src/settle/deep.ts": `${HEADER}import type { Port } from "../network/port.ts";\n` },
    says: "the face is src/network/index.ts",
  },
  "public-face": {
    files: { "src/cli/loop.ts": `${HEADER}import { walk } from "../index.ts";\n` },
    says: "the public face is for users",
  },
  "import-cycle": {
    files: {
      "src/network/one.ts": `${HEADER}import type { Two } from "./two.ts";\n`,
      "src/network/two.ts": `${HEADER}import type { One } from "./one.ts";\n`,
    },
    says: "src/network/one.ts, src/network/two.ts",
  },
  "node-import": {
    files: { "src/settle/reads.ts": `${HEADER}import { readFile } from "node:fs";\n` },
    says: "`node:fs` belongs to cli, kernel, outside",
  },
  "pure-code": {
    files: { "src/settle/sorts.ts": `${HEADER}const order = (a: string, b: string) => a.localeCompare(b);\n` },
    says: "`localeCompare`",
  },
  "file-header": { files: { "src/settle/bare.ts": "const one = 1;\n" }, says: "opens without a comment" },
  "file-length": { files: { "src/settle/long.ts": `${HEADER}${"const one = 1;\n".repeat(400)}` }, says: "401 lines" },
  "function-length": {
    files: { "src/settle/long.ts": `${HEADER}const tooLong = () => {\n${"  go();\n".repeat(59)}};\n` },
    says: "`tooLong` has 61 lines",
  },
  "documented-export": {
    files: {
      "src/settle/silent.ts": `${HEADER}\nimport type { Port } from "../network/index.ts";\nexport const port = 1;\n`,
    },
    says: "`port` is exported",
  },
  "documented-field": {
    files: { "src/settle/silent.ts": `${HEADER}\n/** A link. */\nexport type Link = { readonly up: boolean };\n` },
    says: "`Link.up` is exported",
  },
};

describe("structure rules", () => {
  it("find nothing in a sound tree", () => {
    expect(checkStructure(treeWith({}))).toEqual([]);
  });

  it.each(RULE_NAMES)("%s catches a planted violation and nothing else does", (rule) => {
    const { files, says } = PLANTED[rule];
    const violations = checkStructure(treeWith(files));
    expect(violations.map((violation) => violation.rule)).toEqual([rule]);
    expect(violations.map(describeViolation).join()).toContain(says);
  });

  it.each([
    ["simulate", "prove"],
    ["prove", "simulate"],
    ["kernel", "compile"],
    ["report", "check"],
    ["simulate", "document"],
    ["settle", "site"],
  ])("%s/ never reaches %s/", (from, to) => {
    const tree = treeWith({
      [`src/${from}/index.ts`]: `${HEADER}export {} from "../${to}/index.ts";\n`,
      [`src/${to}/index.ts`]: HEADER,
    });
    expect(checkStructure(tree).map((violation) => violation.rule)).toContain("never-import");
  });

  it("count a dynamic import and the type in `import()` like any other", () => {
    for (const text of [
      `const face = () => import("../prove/index.ts");`,
      `type Face = import("../prove/index.ts").Face;`,
    ]) {
      const violations = checkStructure(treeWith({ "src/wire/up.ts": `${HEADER}${text}\n` }));
      expect(violations.map((violation) => violation.rule)).toEqual(["downward-import"]);
    }
  });

  it("accept a function of 60 lines and a file of 400", () => {
    const body = `${HEADER}const justRight = () => {\n${"  go();\n".repeat(58)}};\n`;
    const text = body + "const one = 1;\n".repeat(400 - 61);
    expect(checkStructure(treeWith({ "src/settle/long.ts": text }))).toEqual([]);
  });
});

describe("src/", () => {
  it("keeps every structure rule", () => {
    expect(checkStructure(readSourceTree(process.cwd())).map(describeViolation)).toEqual([]);
  });
});
