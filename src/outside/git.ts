/**
 * Files of a commit, read from git's own store: nothing is checked out, no hook runs. A revision is whatever git takes
 * for one commit.
 */
import { LARGEST_FILE_BYTES } from "./files.ts";

/** A file of a commit. */
export type CommittedFile = {
  /** From the repository's root, with `/`. */
  readonly path: string;
  /** What it says; absent: it is too large to be read. */
  readonly text?: string;
};

/** Files of a commit, or why there are none. */
export type Committed =
  | {
      /** YAML files of the folder, in code point order of their paths; links are left out. */
      readonly files: readonly CommittedFile[];
    }
  | {
      /** A sentence. */
      readonly problem: "no-git" | "no-repository" | "no-revision" | "unreadable";
    };

const LARGEST_ANSWER = 256 * 1024 * 1024;

/** YAML files below a folder (from the root, with `/`) in a revision of the repository at `root`. */
export function filesAtRevision(root: string, revision: string, folder: string): Committed {
  const inside = git(root, ["rev-parse", "--git-dir"]);
  if (inside === undefined) return { problem: "no-git" };
  if (inside.status !== 0) return { problem: "no-repository" };
  const commit = git(root, ["rev-parse", "--verify", "--quiet", "--end-of-options", `${revision}^{commit}`]);
  const id = commit?.status === 0 ? commit.output.toString("utf8").trim() : "";
  if (!/^[0-9a-f]{40,64}$/.test(id)) return { problem: "no-revision" };
  const listed = git(root, ["ls-tree", "-r", "-z", "--long", "--full-tree", id, "--", `${folder}/`]);
  if (listed?.status !== 0) return { problem: "unreadable" };
  const entries = listed.output
    .toString("utf8")
    .split("\0")
    .flatMap((line) => entryOf(line) ?? [])
    .sort((a, b) => (a.path < b.path ? -1 : 1));
  const files: CommittedFile[] = [];
  for (const { path, blob, bytes } of entries) {
    const read = bytes > LARGEST_FILE_BYTES ? undefined : git(root, ["cat-file", "blob", blob]);
    if (read !== undefined && read.status !== 0) return { problem: "unreadable" };
    files.push(read === undefined ? { path } : { path, text: read.output.toString("utf8") });
  }
  return { files };
}

/** Whether git takes a word for a commit of the repository around a folder. */
export function isRevision(root: string, word: string): boolean {
  return git(root, ["rev-parse", "--verify", "--quiet", "--end-of-options", `${word}^{commit}`])?.status === 0;
}

/** Undefined: there is no git. What starts processes is loaded here alone: whoever only reads files goes without. */
function git(root: string, words: readonly string[]): { readonly status: number; readonly output: Buffer } | undefined {
  const { spawnSync } = process.getBuiltinModule("node:child_process");
  const { status, stdout, error } = spawnSync("git", ["-C", root, ...words], { maxBuffer: LARGEST_ANSWER });
  if (error !== undefined) return undefined;
  return { status: status ?? 1, output: stdout };
}

/** `100644 blob ID  BYTES\tPATH`: plain YAML files only. */
function entryOf(line: string): { readonly path: string; readonly blob: string; readonly bytes: number } | undefined {
  const found = /^100(?:644|755) blob ([0-9a-f]+) +(\d+)\t(.+\.ya?ml)$/s.exec(line);
  const [, blob = "", bytes = "", path = ""] = found ?? [];
  return found === null ? undefined : { path, blob, bytes: Number(bytes) };
}
