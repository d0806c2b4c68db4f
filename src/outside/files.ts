/**
 * Files of a site: read with a bound, listed in order, never outside the folder they are asked for, links followed
 * first. Nothing here interprets what it reads.
 */
import {
  existsSync,
  lstatSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  realpathSync,
  statSync,
  writeFileSync,
} from "node:fs";
import { dirname, join, relative, resolve, sep } from "node:path";

/** A file larger than this is not read: a plan of 1,000 devices stays far below it. */
export const LARGEST_FILE_BYTES = 4_194_304;

/** What reading a file gave. */
export type FileRead =
  | {
      /** What it says. */
      readonly text: string;
    }
  | {
      /** Why it could not be read. */
      readonly problem: "missing" | "unreadable" | "too-large" | "outside";
    };

/** Reads a text file that must lie inside `root` after links are followed. */
export function readInside(path: string, root: string): FileRead {
  if (!existsSync(path)) return { problem: "missing" };
  try {
    if (!isInside(realpathSync(path), realpathSync(root))) return { problem: "outside" };
    const status = statSync(path);
    if (!status.isFile()) return { problem: "unreadable" };
    if (status.size > LARGEST_FILE_BYTES) return { problem: "too-large" };
    return { text: readFileSync(path, "utf8") };
  } catch {
    return { problem: "unreadable" };
  }
}

function isInside(path: string, root: string): boolean {
  const away = relative(root, path);
  return away === "" || (away !== ".." && !away.startsWith(`..${sep}`));
}

/** YAML files of a folder and its folders, in code point order of their paths; empty when there is no such folder. */
export function yamlFilesIn(folder: string): string[] {
  if (!isFolder(folder)) return [];
  return readdirSync(folder, { withFileTypes: true })
    .toSorted((a, b) => (a.name < b.name ? -1 : 1))
    .flatMap((entry) => {
      const path = join(folder, entry.name);
      if (entry.isDirectory()) return yamlFilesIn(path);
      return /\.ya?ml$/.test(entry.name) ? [path] : [];
    });
}

/** Names of the folders directly in a folder, in code point order. */
export function foldersIn(folder: string): string[] {
  if (!isFolder(folder)) return [];
  return readdirSync(folder, { withFileTypes: true })
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .toSorted();
}

/** True for a folder, links followed. */
export function isFolder(path: string): boolean {
  return existsSync(path) && statSync(path).isDirectory();
}

/**
 * Writes files, making their folders. When one of them exists, or a file stands where a folder should, nothing is
 * written and the path in the way is the answer.
 */
export function writeAllNew(files: readonly { readonly path: string; readonly text: string }[]): string | undefined {
  for (const { path } of files) {
    const inTheWay = isThere(path) ? path : fileAbove(path);
    if (inTheWay !== undefined) return inTheWay;
  }
  for (const { path, text } of files) {
    mkdirSync(dirname(path), { recursive: true });
    writeFileSync(path, text, { flag: "wx" });
  }
  return undefined;
}

/** True for anything with this name, a link that leads nowhere included. */
function isThere(path: string): boolean {
  return lstatSync(path, { throwIfNoEntry: false }) !== undefined;
}

/** What stands where a path needs a folder, and is none. */
function fileAbove(path: string): string | undefined {
  for (let at = dirname(path); dirname(at) !== at; at = dirname(at)) {
    if (isThere(at)) return isFolder(at) ? undefined : at;
  }
  return undefined;
}

/** Writes a file, replacing what was there. */
export function writeOver(path: string, text: string): void {
  mkdirSync(dirname(path), { recursive: true });
  writeFileSync(path, text);
}

/** The folder that holds a repository around a path, else the current folder when it holds the path, else the path's own. */
export function repositoryAround(path: string): string {
  const start = resolve(path);
  for (let folder = start; dirname(folder) !== folder; folder = dirname(folder)) {
    if (existsSync(join(folder, ".git"))) return folder;
  }
  const here = process.cwd();
  return isInside(start, here) ? here : isFolder(start) ? start : dirname(start);
}

/** A path as people and reports know it: relative to the repository around it, with `/`. */
export function shownPath(path: string, root: string): string {
  return relative(root, resolve(path)).split(sep).join("/") || ".";
}
