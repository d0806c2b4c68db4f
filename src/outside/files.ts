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
  renameSync,
  rmSync,
  statSync,
  writeFileSync,
} from "node:fs";
import { basename, dirname, join, relative, resolve, sep } from "node:path";

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

/** The largest report that is read back. */
export const LARGEST_REPORT_BYTES = 268_435_456;

/** Reads a text file that somebody named, wherever it lies, where it is not larger than that. */
export function readText(
  path: string,
  mostBytes: number,
): { readonly text: string } | { readonly problem: "missing" | "unreadable" | "too-large" } {
  if (!existsSync(path)) return { problem: "missing" };
  try {
    const status = statSync(path);
    if (!status.isFile()) return { problem: "unreadable" };
    if (status.size > mostBytes) return { problem: "too-large" };
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

/** Names of the folders and YAML files directly in a folder, in code point order. */
export function namesIn(folder: string): string[] {
  if (!isFolder(folder)) return [];
  return readdirSync(folder, { withFileTypes: true })
    .filter((entry) => entry.isDirectory() || /\.ya?ml$/.test(entry.name))
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
    makeFolder(dirname(path));
    writeFileSync(path, text, { flag: "wx" });
  }
  return undefined;
}

/** True for anything with this name, a link that leads nowhere included. */
function isThere(path: string): boolean {
  try {
    return lstatSync(path, { throwIfNoEntry: false }) !== undefined;
  } catch {
    return false; // below something that is no folder, nothing is there
  }
}

/** What stands where a path needs a folder, and is none. */
function fileAbove(path: string): string | undefined {
  for (let at = dirname(path); dirname(at) !== at; at = dirname(at)) {
    if (isThere(at)) return isFolder(at) ? undefined : at;
  }
  return undefined;
}

/** A file to be written. */
export type FileToWrite = {
  /** Where. */
  readonly path: string;
  /** What it will hold. */
  readonly content: string | Uint8Array;
};

/**
 * Writes files, replacing what was there. Each is written beside its place first and then renamed, so that none is ever
 * there in part; when one cannot be written none is replaced, and the answer says which and why.
 */
export function writeAllOver(files: readonly FileToWrite[]): string | undefined {
  const begun: { readonly part: string; readonly place: string }[] = [];
  for (const { path, content } of files) {
    try {
      const place = placeToWrite(path);
      if (place.inOneGo) writeFileSync(place.path, content);
      else {
        const part = join(dirname(place.path), `.${basename(place.path)}.part`);
        begun.push({ part, place: place.path });
        writeFileSync(part, content);
      }
    } catch (error) {
      for (const { part } of begun) rmSync(part, { force: true });
      return `\`${path}\` cannot be written: ${reasonOf(error)}`;
    }
  }
  for (const { part, place } of begun) renameSync(part, place);
  return undefined;
}

/** Makes a folder and those above it. Node's own way never ends where the system answers that there is no such place. */
function makeFolder(path: string): void {
  if (isFolder(path)) return;
  if (existsSync(path)) throw new Error(`\`${path}\` is no folder`);
  makeFolder(dirname(path));
  mkdirSync(path);
}

/** Where a path leads once links are followed. What is no plain file, such as a pipe, takes its bytes in one go. */
function placeToWrite(path: string): { readonly path: string; readonly inOneGo: boolean } {
  makeFolder(dirname(path));
  if (!existsSync(path)) return { path, inOneGo: false };
  const status = statSync(path);
  if (status.isDirectory()) throw new Error("it is a folder");
  return { path: realpathSync(path), inOneGo: !status.isFile() };
}

/** The system's reason without the path that it repeats. */
function reasonOf(error: unknown): string {
  const text = error instanceof Error ? error.message : String(error);
  return text.replace(/, \w+ '.*$/s, "");
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
