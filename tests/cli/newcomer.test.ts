/**
 * A newcomer's walk: a fresh copy, the demo, a line broken and mended, a site of one's own. And every command that README shows runs
 * here as the table below says; a command that is not in it fails.
 */
import { execFileSync, spawnSync } from "node:child_process";
import { cpSync, mkdirSync, readFileSync, symlinkSync, writeFileSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import { beforeAll, describe, expect, test } from "vitest";
import { emptyFolder, git } from "./command.ts";

const README = readFileSync("README.md", "utf8");
/** Several builds and checks, on a machine that may be busy with others. */
const MOST_MS = 240_000;
let copy = "";

/** What a clone holds, with what `npm ci` would install. */
beforeAll(() => {
  copy = emptyFolder();
  const words = ["ls-files", "-z", "--cached", "--others", "--exclude-standard", "--deduplicate"];
  const files = execFileSync("git", words, { encoding: "utf8" }).split("\0");
  const needed = /^(?:src|topologies|assertions)\/|^tests\/support\/|^[^/]+$/;
  for (const file of files.filter((each) => needed.test(each) && each !== "node_modules")) {
    mkdirSync(dirname(join(copy, file)), { recursive: true });
    cpSync(file, join(copy, file));
  }
  symlinkSync(resolve("node_modules"), join(copy, "node_modules"));
  const npm = run("npm run demo");
  if (npm.status !== 0) throw new Error(npm.told);
}, MOST_MS);

/** Runs a line of shell in the copy; `dryrack` is what README says it is there. */
function run(line: string): { readonly status: number | null; readonly told: string } {
  const shell = `set -e; dryrack() { node dist/cli.js "$@"; }; ${line}`;
  const { status, stdout, stderr } = spawnSync("bash", ["-c", shell], { cwd: copy, encoding: "utf8" });
  return { status, told: stdout + stderr };
}

/** Replaces a piece of a file of the copy; answers with the line where it stood. */
function edit(file: string, from: string, to: string): number {
  const text = readFileSync(join(copy, file), "utf8");
  if (!text.includes(from)) throw new Error(`${file} does not say ${from}`);
  writeFileSync(
    join(copy, file),
    text.replace(from, () => to),
  );
  return text.slice(0, text.indexOf(from)).split("\n").length;
}

describe("a newcomer", () => {
  test(
    "runs the demo, breaks it as README says, reads the line, and mends it",
    () => {
      expect(run("npm run demo")).toMatchObject({
        status: 0,
        told: expect.stringMatching(/tidewater-radio: \d+ kept\n/),
      });
      const file = "topologies/tidewater-radio/edge.yaml";
      const [rule, slip] = ["visitors go out, in: visitors, out: wan,", "visitors go out, in: visitors,"] as const;
      const line = edit(file, rule, slip);
      const broken = run("npm run demo");
      expect(broken.status).toBe(1);
      expect(broken.told).toContain(`${file}, line ${line}, column`);
      edit(file, slip, rule);
      expect(run("npm run demo").status).toBe(0);
    },
    MOST_MS,
  );

  test(
    "makes a site, checks it, breaks a line, reads where, and mends it",
    () => {
      expect(run("dryrack new shop").status).toBe(0);
      expect(run("dryrack check shop")).toMatchObject({ status: 0, told: expect.stringMatching(/site: \d+ kept\n/) });
      const file = "shop/topologies/site/intent.yaml";
      const drop = /otherwise: drop/.exec(readFileSync(join(copy, file), "utf8"))?.[0] ?? "";
      expect(drop).not.toBe("");
      const text = readFileSync(join(copy, file), "utf8");
      writeFileSync(join(copy, file), text.replaceAll(drop, "otherwise: accept"));
      const broken = run("dryrack check shop");
      expect(broken.status).toBe(1);
      const line = Number(/intent\.yaml,\s+line\s+(\d+)/.exec(broken.told)?.[1]);
      expect(text.split("\n")[line - 1]).toContain(drop);
      writeFileSync(join(copy, file), text);
      expect(run("dryrack check shop").status).toBe(0);
    },
    MOST_MS,
  );
});

/**
 * How each command that README shows runs: a line of shell and its exit status here, or where else it runs. `site` is the site of
 * `new`, in a repository of its own.
 */
const COMMANDS = new Map<string, readonly [line: string, status: number] | string>([
  ["npm ci && npm run demo", "in .ci/run, and above without `npm ci`"],
  ["npm ci && npm test", "in .ci/run: this is one of its tests"],
  ["mkdir -p schemas", ["mkdir -p schemas", 0]],
  [
    "for kind in topology intent assertions storyline; do dryrack schema $kind > schemas/$kind.json; done",
    [
      "mkdir -p schemas; for kind in topology intent assertions storyline; do dryrack schema $kind > schemas/$kind.json; done; test -s schemas/intent.json",
      0,
    ],
  ],
  ["dryrack explain WORD", ["dryrack explain tagged", 0]],
  ["dryrack check", ["cd own && node ../dist/cli.js check", 0]],
  ["dryrack check --repair", ["cd own && node ../dist/cli.js check --repair", 0]],
  ["dryrack trace SITE FROM TO SERVICE", ["dryrack trace tidewater-radio laptop edge tcp/22", 0]],
  ["dryrack compare site HEAD", ["cd own && node ../dist/cli.js compare site HEAD", 0]],
  [
    "dryrack check --repair --format html --output page.html",
    ["cd own && node ../dist/cli.js check --repair --format html --output page.html && test -s page.html", 0],
  ],
  ["dryrack explain story", ["dryrack explain story", 0]],
  [
    "dryrack replay assertions/tidewater-radio/leases-run-out.yaml",
    ["dryrack replay assertions/tidewater-radio/leases-run-out.yaml", 0],
  ],
  ["dryrack new FOLDER", "above"],
  ["npm run demo", "above"],
  ["node dist/cli.js", ["node dist/cli.js --version", 0]],
  ["npx vitest run", "in `npm test`: the matchers that README tells of have tests of their own"],
  ["npm install testcontainers@11", "it is installed here: tests/kernel/container.test.ts uses it"],
  [
    "dryrack check assertions/site/assertions.yaml --only 'cameras cannot phone home'",
    "in readme.test.ts, as part of a report",
  ],
]);

/** Each line of its shell blocks, and each piece of code that begins like a command. */
function commandsOf(text: string): readonly string[] {
  const blocks = [...text.matchAll(/^```sh\n([\s\S]*?)^```$/gm)].flatMap(([, lines = ""]) =>
    lines.trimEnd().split("\n"),
  );
  const pieces = [...text.matchAll(/`((?:dryrack|npm|npx|node|bash) [^`]+)`/g)].map(([, piece = ""]) =>
    piece.replace(/\s+/g, " "),
  );
  const again = [...text.matchAll(/^ +again: (.*)$/gm)].map(([, line = ""]) => line);
  return [...new Set([...blocks, ...pieces, ...again])];
}

describe("the commands in README", () => {
  test("are those of the table, and no others", () => {
    expect([...commandsOf(README)].sort()).toEqual([...COMMANDS.keys()].sort());
  });

  test("a new one would be found, in a block and in a sentence", () => {
    const more = "\n```sh\ndryrack frob\n```\n\nor `npm run\nfrob`, and `dryrack` alone is none\n";
    expect(commandsOf(more)).toEqual(["dryrack frob", "npm run frob"]);
  });

  const shown = [...COMMANDS].flatMap(([command, how]) =>
    typeof how === "string" ? [] : [[command, ...how] as const],
  );
  test.each(shown)("run: %s", (_command, line, status) => {
    if (line.startsWith("cd own")) ownRepository();
    expect(run(line)).toMatchObject({ status });
  });
});

/** The newcomer's site as a repository with one commit. */
function ownRepository(): void {
  const folder = join(copy, "own");
  if (spawnSync("test", ["-d", folder]).status === 0) return;
  run("dryrack new own");
  git(folder, "init", "--quiet");
  git(folder, "add", "--all");
  git(folder, "commit", "--quiet", "--message", "first");
}
