/**
 * The package as its users get it: packed from a copy of the sources, unpacked beside nothing but what it names as its
 * dependencies, and used by name. README's code test runs there, and fails there as README shows.
 */
import { spawnSync } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";

/** What the package is made of: its sources and all that building needs. */
const SOURCES = [
  "package.json",
  "esbuild.config.mjs",
  "tsconfig.json",
  "tsconfig.build.json",
  "src",
  "topologies/corner-bakery",
  "assertions/corner-bakery",
  "CHANGELOG.md",
  "README.md",
  "LICENSE",
];
const README = readFileSync("README.md", "utf8");
const [topology = "", intent = "", assertions = ""] = [...README.matchAll(/```yaml\n(dryrack: [\s\S]*?)```/g)].map(
  (found) => found[1] ?? "",
);
const codeTest = /```ts\n(import \{ loadSite \}[\s\S]*?)```/.exec(README)?.[1] ?? "";
const SLIP = ["in: staff, out: wan", "in: [staff, cameras], out: wan"] as const;

const work = mkdtempSync(join(tmpdir(), "dryrack-packed-"));
const user = join(work, "user");
let packed: readonly string[] = [];

afterAll(() => rmSync(work, { recursive: true, force: true }));

beforeAll(() => {
  const copy = join(work, "copy");
  for (const source of SOURCES) {
    mkdirSync(dirname(join(copy, source)), { recursive: true });
    cpSync(source, join(copy, source), { recursive: true });
  }
  symlinkSync(resolve("node_modules"), join(copy, "node_modules"));
  // `prepack` builds, and writes to standard output before npm does.
  const told = run(copy, "npm", ["pack", "--offline", "--json", "--pack-destination", work]).output;
  const [{ filename, files }]: [{ filename: string; files: { path: string }[] }] = JSON.parse(
    told.slice(told.indexOf("[\n")),
  );
  packed = files.map(({ path }) => path);
  const installed = join(user, "node_modules", "dryrack");
  mkdirSync(installed, { recursive: true });
  run(work, "tar", ["-xzf", filename, "--strip-components=1", "-C", installed]);
  linkPackages(installed);
  write("package.json", '{ "type": "module" }\n');
}, 240_000);

/** What the package names, what its optional matchers need, and a compiler with what vitest's own types ask for. */
function linkPackages(installed: string): void {
  const { dependencies }: { dependencies: Record<string, string> } = JSON.parse(
    readFileSync(join(installed, "package.json"), "utf8"),
  );
  for (const name of [...Object.keys(dependencies), "vitest", "typescript", "@types/node"]) {
    const link = join(user, "node_modules", name);
    mkdirSync(dirname(link), { recursive: true });
    symlinkSync(resolve("node_modules", name), link);
  }
}

function run(folder: string, command: string, words: readonly string[], mayFail = false) {
  const environment = { ...process.env, NO_COLOR: "1", FORCE_COLOR: "0", npm_config_loglevel: "error" };
  const { status, stdout, stderr } = spawnSync(command, words, { cwd: folder, encoding: "utf8", env: environment });
  if (status !== 0 && !mayFail) throw new Error(`${command} ${words.join(" ")}: ${status}\n${stdout}${stderr}`);
  return { status, output: stdout, errors: stderr };
}

function write(path: string, text: string): void {
  mkdirSync(dirname(join(user, path)), { recursive: true });
  writeFileSync(join(user, path), text);
}

/** Writes README's plan, with its slip or without. */
function writePlan(slips: boolean): void {
  write("topologies/site/topology.yaml", topology);
  write("topologies/site/intent.yaml", slips ? intent.replace(...SLIP) : intent);
  write("assertions/site/assertions.yaml", assertions);
}

function compile(paths: readonly string[], ...options: readonly string[]) {
  const strict = [
    "--noEmit",
    "--strict",
    "--module",
    "nodenext",
    "--moduleResolution",
    "nodenext",
    "--target",
    "es2023",
  ];
  const { status, output } = run(
    user,
    process.execPath,
    [join("node_modules/typescript/bin/tsc"), ...strict, ...options, ...paths],
    true,
  );
  return { status, output };
}

function vitest() {
  return run(user, process.execPath, [join("node_modules/vitest/vitest.mjs"), "run", "--reporter", "default"], true);
}

describe("the package", () => {
  test("holds both faces with their types, and no declaration that they do not lead to", () => {
    const faces = ["index.mjs", "vitest.mjs", "types/index.d.ts", "types/vitest.d.ts", "types/package.json", "cli.js"];
    expect(packed).toEqual(expect.arrayContaining(faces.map((name) => `dist/${name}`)));
    expect(packed.filter((path) => /^(?:src|tests)\/|types\/(?:prove|simulate|compile|cli)\//.test(path))).toEqual([]);
  });

  test("is imported by an ES module, and answers", () => {
    writePlan(false);
    write(
      "ask.mjs",
      `import { loadSite, siteFrom, WrongInput } from "dryrack";
const site = await loadSite("site");
console.log(site.check().status, site.from("cameras").to("internet").blocked().status);
console.log(await siteFrom({}).catch((error) => error instanceof WrongInput && error.diagnostics[0].code));
`,
    );
    expect(run(user, process.execPath, ["ask.mjs"]).output).toBe("passed passed\nunreadable\n");
  });

  test("has types that compile strictly, those of its own looked at, too", () => {
    write(
      "ask.mts",
      `import { type Answer, type JsonReport, loadSite, siteFrom, type Site, WrongInput } from "dryrack";
const site: Site = await loadSite("site");
const answer: Answer = site.from(["staff", "cameras"]).to("internet", "tcp/443").connects({ routed: "always" });
const report: JsonReport = (await siteFrom({ a: "" })).check();
export const told: string[] = [answer.text, report.status, ...new WrongInput("").diagnostics.map(({ code }) => code)];
// @ts-expect-error a word that no document knows
site.from("staff").to("internet").connects({ routed: "sometimes" });
// @ts-expect-error no such key
site.judge({ form: "staff" });
`,
    );
    expect(compile(["ask.mts"], "--types", "node")).toEqual({ status: 0, output: "" });
  });

  test("has matchers whose types compile strictly, and refuse what is no question", () => {
    write(
      "matchers.test.mts",
      `import { loadSite } from "dryrack";
import { expect, test } from "vitest";
import "dryrack/vitest";
const site = await loadSite("site");
test("types", () => {
  expect(site.from("cameras").to("internet")).not.toBlock({ "even-if": "cut-off" });
  expect(site.client("camera")).toLease({ resolvers: ["router/cameras"] });
  expect(site.judge({ from: "staff", to: "cameras", expect: "arrives" })).toHold();
  // @ts-expect-error a client is no question
  expect(site.client("camera")).toConnect();
  // @ts-expect-error no such demand
  expect(site.from("staff").to("cameras")).toConnect({ via: "router" });
});
`,
    );
    write("network.test.ts", codeTest);
    // vitest's own declarations need more than a user's project has.
    expect(compile(["matchers.test.mts", "network.test.ts"], "--skipLibCheck")).toEqual({ status: 0, output: "" });
    rmSync(join(user, "matchers.test.mts"));
  });
});

describe("README's code test", () => {
  test("passes on README's plan", () => {
    expect(codeTest).toContain("toConnect");
    writePlan(false);
    write("network.test.ts", codeTest);
    const { status, output } = vitest();
    expect(output).toMatch(/Tests\s+6 passed \(6\)/);
    expect(status).toBe(0);
  });

  test("fails after the slip as README shows", () => {
    writePlan(true);
    write("network.test.ts", codeTest);
    const { status, output, errors } = vitest();
    expect(status).toBe(1);
    expect(output).toMatch(/Tests\s+2 failed \| 4 passed \(6\)/);
    const from = errors.indexOf(" FAIL  network.test.ts > cameras never get to internet");
    const shown = errors.slice(from, errors.indexOf("\n\n⎯", from));
    expect(README).toContain(`\`\`\`\n${shown}\n\`\`\`\n`);
  });
});
