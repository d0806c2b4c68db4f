/**
 * The action: `action.yml` is read, its expressions are worked out, and its steps run as a CI runs them, in a repository
 * with a plan whose last commit changes it.
 */
import { spawnSync } from "node:child_process";
import { cpSync, existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { describe, expect, test } from "vitest";
import { parse } from "yaml";
import { copyOfFerry, dryrack, type Edit, emptyFolder, git, INTENT, TOPOLOGY } from "./command.ts";

type Step = {
  readonly id?: string;
  readonly shell: string;
  readonly env?: Record<string, string>;
  readonly run: string;
};
type Action = {
  readonly inputs: Record<string, { readonly description: string; readonly default: string }>;
  readonly outputs: Record<string, { readonly description: string; readonly value: string }>;
  readonly runs: { readonly using: string; readonly steps: readonly Step[] };
};

const ACTION = parse(readFileSync("action.yml", "utf8")) as Action; // each field is used below, and missed where it lacks

const LEAK: Edit = [
  INTENT,
  "{ name: all go ashore, in: [crew, passengers], out: wan,",
  "{ name: all go ashore, in: [crew, passengers],",
];

/** A repository whose first commit is the ferry's plan; the edits are not committed. */
function repository(...edits: readonly Edit[]): string {
  const folder = copyOfFerry();
  git(folder, "init", "--quiet");
  git(folder, "add", "--all");
  git(folder, "commit", "--quiet", "--message", "first");
  const edited = copyOfFerry(...edits);
  for (const name of ["topologies", "assertions"]) cpSync(join(edited, name), join(folder, name), { recursive: true });
  return folder;
}

/** What expressions mean: what is neither an input nor an output of a step is looked up here, and must be there. */
function workedOut(text: string, known: ReadonlyMap<string, string>): string {
  return text.replaceAll(/\$\{\{ *([\w.-]+) *\}\}/g, (_, name: string) => {
    const value = known.get(name);
    if (value === undefined) throw new Error(`nothing is known of ${name}`);
    return value;
  });
}

type Done = {
  /** Of the step that failed, else 0. */
  readonly status: number;
  /** What the steps wrote. */
  readonly log: string;
  readonly summary: string;
  readonly outputs: Readonly<Record<string, string>>;
};

/** What a CI tells of itself. */
type Ci = {
  /** Base of the pull request; default: there is none. */
  readonly pull?: string;
  /** Where the action lies; default: here. */
  readonly place?: string;
  /** What earlier steps wrote to the summary. */
  readonly summary?: string;
};

/** Runs the action's steps in a folder. */
function act(folder: string, inputs: Readonly<Record<string, string>> = {}, ci: Ci = {}): Done {
  const { pull = "", place = resolve("."), summary: earlier = "" } = ci;
  const temporary = mkdtempSync(join(tmpdir(), "dryrack-runner-"));
  const [summary, output] = ["summary", "output"].map((name) => join(temporary, name));
  if (summary === undefined || output === undefined) throw new Error("two files have two paths");
  const known = new Map([["github.event.pull_request.base.sha", pull]]);
  for (const [name, { default: otherwise }] of Object.entries(ACTION.inputs))
    known.set(`inputs.${name}`, inputs[name] ?? workedOut(otherwise, known));
  const done = { status: 0, log: "" };
  for (const { id, shell, env = {}, run } of ACTION.runs.steps) {
    expect(shell).toBe("bash");
    writeFileSync(output, "");
    if (!existsSync(summary)) writeFileSync(summary, earlier);
    const told = Object.entries(env).map(([name, value]) => [name, workedOut(value, known)]);
    const { status, stdout, stderr } = spawnSync("bash", ["--noprofile", "--norc", "-eo", "pipefail", "-c", run], {
      cwd: folder,
      encoding: "utf8",
      env: {
        ...process.env,
        CI: "true",
        GITHUB_ACTION_PATH: place,
        GITHUB_OUTPUT: output,
        GITHUB_STEP_SUMMARY: summary,
        GITHUB_WORKSPACE: folder,
        RUNNER_TEMP: temporary,
        ...Object.fromEntries(told),
      },
    });
    done.log += stdout + stderr;
    done.status = status ?? -1;
    for (const [, key, value] of readFileSync(output, "utf8").matchAll(/^([\w-]+)=(.*)$/gm))
      known.set(`steps.${id}.outputs.${key}`, value ?? "");
    if (done.status !== 0) break;
  }
  // A step that never ran has no outputs.
  const outputs = Object.entries(ACTION.outputs).map(([name, { value }]) => {
    const isKnown = [...value.matchAll(/\{\{ *([\w.-]+) *\}\}/g)].every(([, each = ""]) => known.has(each));
    return [name, isKnown ? workedOut(value, known) : ""];
  });
  return { ...done, summary: readFileSync(summary, "utf8"), outputs: Object.fromEntries(outputs) };
}

/** Lines that a CI takes for commands: between `stop-commands` and its token there is none. */
function commandsIn(log: string): readonly string[] {
  let token: string | undefined;
  return log.split("\n").filter((line) => {
    const text = line.trim();
    if (token !== undefined) {
      if (text === `::${token}::`) token = undefined;
      return false;
    }
    const [, stopped] = /^::stop-commands::(.+)$/.exec(text) ?? [];
    token = stopped;
    return stopped === undefined && text.startsWith("::");
  });
}

describe("the workflows", () => {
  type Used = { readonly uses?: string; readonly with?: Readonly<Record<string, string>> };
  type Workflow = { readonly on: unknown; readonly jobs: Record<string, { readonly steps: readonly Used[] }> };
  const shown = /```yaml\n(name: plan\n[\s\S]*?)```/.exec(readFileSync("README.md", "utf8"))?.[1] ?? "";

  test.each([
    ["README's", shown, "OWNER/dryrack@COMMIT"],
    ["this repository's", readFileSync(".github/workflows/ci.yml", "utf8"), "./"],
  ])("%s uses the action with inputs that it has", (_name, text, place) => {
    const { on, jobs } = parse(text) as Workflow; // what it lacks is missed below
    expect(JSON.stringify(on)).toContain("pull_request");
    const used = Object.values(jobs).flatMap(({ steps }) => steps.filter(({ uses }) => uses === place));
    expect(used).toHaveLength(1);
    for (const name of Object.keys(used[0]?.with ?? {})) expect(Object.keys(ACTION.inputs)).toContain(name);
  });

  test("README's is complete in under 20 lines", () => {
    expect(shown.split("\n").length).toBeLessThan(20);
  });
});

describe("action.yml", () => {
  test("has the inputs that README names, each described", () => {
    expect(Object.keys(ACTION.inputs)).toEqual(["site", "base", "fail-on"]);
    expect(ACTION.runs.using).toBe("composite");
    for (const { description } of [...Object.values(ACTION.inputs), ...Object.values(ACTION.outputs)])
      expect(description).toMatch(/^[A-Z].+\.$/);
  });

  test("passes where all holds, and has nothing to compare outside a pull request", () => {
    const done = act(repository());
    expect(done).toMatchObject({ status: 0, outputs: { status: "0" } });
    expect(commandsIn(done.log)).toEqual([]);
    expect(done.summary).toMatch(/^## ferry: \d+ kept\n/);
    expect(readdirSync(done.outputs.sarif ?? "")).toEqual(["check.sarif"]);
  });

  test("fails where an assertion breaks, with its note, its summary and what the change opens", () => {
    const done = act(repository(LEAK), {}, { pull: "HEAD" });
    expect(done).toMatchObject({ status: 1, outputs: { status: "1" } });
    const notes = commandsIn(done.log);
    expect(notes[0]).toMatch(/^::error file=topologies\/ferry\/intent\.yaml,line=\d+,/);
    expect(notes.some((note) => /^::warning .*title=newly allowed::/.test(note))).toBe(true);
    expect(done.summary).toContain("### 1. broken: passengers stay away from the instruments");
    expect(done.summary).toContain("| newly allowed | passengers | crew, instruments, deck | every service |");
    expect(done.summary).toContain("ferry as it is cabled");
    expect(readdirSync(done.outputs.sarif ?? "")).toEqual(["check.sarif", "compare-ferry.sarif"]);
    expect(done.log).toContain("✗ broken     passengers stay away from the instruments");
  });

  test.each([
    ["", 0],
    ["newly-forbidden", 0],
    ["newly-allowed", 1],
    ["broken,newly-forbidden", 1],
  ])("fails on what it is told: `%s` ends with %i", (failOn, status) => {
    expect(act(repository(LEAK), { site: "ferry", base: "HEAD", "fail-on": failOn }).status).toBe(status);
  });

  test("fails on what is undecided unless told otherwise", () => {
    const unknown: Edit = [
      INTENT,
      "dest: radar, service: tcp/80, action: accept",
      "dest: radar, service: tcp/80, action: unknown, note: the old radar may differ",
    ];
    const folder = repository(unknown);
    expect(act(folder).status).toBe(1);
    expect(act(folder, { "fail-on": "broken" }).status).toBe(0);
  });

  test("fails where documents are wrong, whatever it is told, with notes at their lines", () => {
    const done = act(
      repository([TOPOLOGY, "[bridge:p3, deck:up]", "[bridge:p7, deck:up]"]),
      { "fail-on": "" },
      { pull: "HEAD" },
    );
    expect(done).toMatchObject({ status: 1, outputs: { status: "2" } });
    expect(commandsIn(done.log)).toEqual([expect.stringContaining("title=unknown-name::no port `p7` on `bridge`")]);
    expect(done.summary).toContain("## the documents are wrong");
  });

  test("says so where a word of fail-on or the base means nothing", () => {
    const folder = repository();
    const wrong = act(folder, { "fail-on": "broke" });
    expect(wrong.status).toBe(1);
    expect(commandsIn(wrong.log)).toEqual([expect.stringContaining("and not `broke`")]);
    const lost = act(folder, { base: "nowhere" });
    expect(lost.status).toBe(1);
    expect(commandsIn(lost.log)).toEqual([expect.stringContaining("the base `nowhere` is no commit here")]);
    // An option of git that runs a command.
    const option = act(folder, { base: "--upload-pack=touch owned\n::error::owned" });
    expect(option.status).toBe(1);
    expect(commandsIn(option.log)).toEqual([expect.stringContaining("is no revision")]);
    expect(existsSync(join(folder, "owned"))).toBe(false);
  });

  test("fetches the base where only the last commit was checked out", () => {
    const folder = repository(LEAK);
    git(folder, "commit", "--quiet", "--all", "--message", "second");
    const shallow = join(emptyFolder(), "shallow");
    git(folder, "clone", "--quiet", "--depth=1", `file://${folder}`, shallow);
    const base = spawnSync("git", ["-C", folder, "rev-parse", "HEAD~1"], { encoding: "utf8" }).stdout.trim();
    const done = act(shallow, { "fail-on": "" }, { pull: base });
    expect(done.status).toBe(0);
    expect(done.summary).toContain("4 newly allowed");
  });

  test("keeps the summary below the size at which none is shown", () => {
    const cut = act(repository(LEAK), {}, { summary: "x".repeat(998_600) });
    expect(cut.summary.length).toBeLessThan(1_000_000);
    expect(cut.summary).toContain("broken: passengers stay away");
    expect(cut.summary.trimEnd().endsWith("see the log.")).toBe(true);
    const full = "x".repeat(999_500);
    expect(act(repository(LEAK), {}, { summary: full }).summary).toBe(full);
  });

  test("takes a site that is new for what it is", () => {
    const folder = repository();
    dryrack(folder, ["new", "shop"]);
    for (const kind of ["topologies", "assertions"])
      cpSync(join(folder, "shop", kind), join(folder, kind), { recursive: true });
    const done = act(folder, {}, { pull: "HEAD" });
    expect(done.status).toBe(0);
    expect(done.log).toContain("there is nothing to compare topologies/site with: it is new");
  });

  test("lets no name of a folder speak to the CI", () => {
    const folder = repository();
    cpSync(join(folder, "topologies/ferry"), join(folder, "topologies/a\n::error::owned"), { recursive: true });
    const { log } = act(folder, {}, { pull: "HEAD" });
    expect(commandsIn(log).filter((line) => line.includes("owned"))).toEqual([]);
  });

  test("lets no line of a plan speak to the CI", () => {
    const evil: Edit = [INTENT, "dryrack: intent/1\n", "dryrack: intent/1\n::error::owned\n"];
    const { log } = act(repository(evil));
    expect(log.split("\n").map((line) => line.trim())).toContain("::error::owned");
    expect(commandsIn(log).length).toBeGreaterThan(0);
    expect(commandsIn(log).filter((line) => line.includes("::owned"))).toEqual([]);
  });

  test("builds where it was not built", () => {
    const place = emptyFolder();
    for (const name of [".github", "esbuild.config.mjs", "package.json", "src"])
      cpSync(name, join(place, name), { recursive: true });
    // In place of `npm ci`, which needs a registry: what is installed here.
    const tools = join(place, "tools");
    mkdirSync(tools);
    writeFileSync(join(tools, "npm"), `#!/bin/sh\necho "npm $*"\nln -s '${resolve("node_modules")}' node_modules\n`, {
      mode: 0o755,
    });
    const path = process.env.PATH;
    process.env.PATH = `${tools}:${path}`;
    try {
      const done = act(repository(), {}, { place });
      expect(done.log).toContain("npm ci --no-audit --no-fund");
      expect(done).toMatchObject({ status: 0, outputs: { status: "0" } });
    } finally {
      process.env.PATH = path;
    }
    expect(existsSync(join(place, "dist/cli.js"))).toBe(true);
  });
});
