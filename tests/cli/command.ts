/**
 * The built command line in a folder of its own: a copy of the fixture's site, with edits.
 *
 *     const ferry = copyOfFerry([INTENT, "tcp/80", "tcp/81"]);
 *     const { status, output, errors } = dryrack(ferry, ["check", "--bail"]);
 */
import { spawnSync } from "node:child_process";
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join, resolve } from "node:path";
import { afterAll } from "vitest";

const COMMAND = resolve("dist/cli.js");
const FIXTURE = resolve("tests/cli/fixture");

/** The fixture's files. */
export const TOPOLOGY = "topologies/ferry/topology.yaml";
/** What its devices are told. */
export const INTENT = "topologies/ferry/intent.yaml";
/** What must hold of it. */
export const ASSERTIONS = "assertions/ferry/assertions.yaml";

/** One piece of text of a file replaced by another; the whole file where no piece is named. */
export type Edit = readonly [file: string, from: string | undefined, to: string];

/** How a command ended. */
export type Ended = {
  /** Its exit status. */
  readonly status: number;
  /** What it wrote to standard output. */
  readonly output: string;
  /** What it wrote to standard error. */
  readonly errors: string;
};

const made: string[] = [];
afterAll(() => {
  for (const folder of made.splice(0)) rmSync(folder, { recursive: true, force: true });
});

/** An empty folder that goes when the tests of this file are over. */
export function emptyFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), "dryrack-cli-"));
  made.push(folder);
  return folder;
}

/** The fixture's site in a folder of its own, with edits; throws where an edit finds nothing to replace. */
export function copyOfFerry(...edits: readonly Edit[]): string {
  const folder = emptyFolder();
  cpSync(FIXTURE, folder, { recursive: true });
  for (const edit of edits) apply(folder, edit);
  return folder;
}

function apply(folder: string, [file, from, to]: Edit): void {
  const path = join(folder, file);
  mkdirSync(dirname(path), { recursive: true });
  if (from === undefined) {
    writeFileSync(path, to);
    return;
  }
  const text = readFileSync(path, "utf8");
  if (!text.includes(from)) throw new Error(`${file} does not say ${from}`);
  writeFileSync(
    path,
    text.replace(from, () => to),
  );
}

/** Writes a file, and the folders that it lies in. */
export function writeTo(path: string, text: string): void {
  mkdirSync(dirname(path), { recursive: true });
  writeFileSync(path, text);
}

/** Runs the built command in a folder. */
export function dryrack(folder: string, words: readonly string[], environment: NodeJS.ProcessEnv = {}): Ended {
  if (!existsSync(COMMAND)) throw new Error("dist/cli.js is not built: node esbuild.config.mjs --code");
  const { status, stdout, stderr } = spawnSync(process.execPath, [COMMAND, ...words], {
    cwd: folder,
    encoding: "utf8",
    env: { ...process.env, ...environment },
    maxBuffer: 1 << 26,
  });
  if (status === null) throw new Error(`dryrack ${words.join(" ")} did not end`);
  return { status, output: stdout, errors: stderr };
}

/** Runs git in a folder, as somebody. */
export function git(folder: string, ...words: readonly string[]): void {
  const who = ["-c", "user.name=t", "-c", "user.email=t@example.org", "-c", "init.defaultBranch=main"];
  const { status, stderr } = spawnSync("git", ["-C", folder, ...who, ...words], { encoding: "utf8" });
  if (status !== 0) throw new Error(stderr);
}
