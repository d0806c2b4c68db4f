/**
 * Planted faults: changes of the model that make it wrong about networks, each one exact text of a file and what takes its
 * place. Every `*.yaml` beside this file is a list of them.
 */
import { cpSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { parse } from "yaml";

/** One fault. */
export type Fault = {
  /** Path of the file from the top of the tree. */
  readonly file: string;
  /** What stands there, exactly once. */
  readonly text: string;
  /** What takes its place. */
  readonly replacement: string;
  /** What is wrong with a network then, in a sentence. */
  readonly why: string;
};

/** The faults of every list in a folder, by the list's name. */
export function readFaults(folder: string): readonly Fault[] {
  const lists = readdirSync(folder).filter((name) => name.endsWith(".yaml"));
  return lists.toSorted().flatMap((name) => checked(parse(readFileSync(join(folder, name), "utf8")), name));
}

function checked(list: unknown, name: string): readonly Fault[] {
  const isFault = (each: unknown): each is Fault =>
    typeof each === "object" &&
    each !== null &&
    ["file", "text", "replacement", "why"].every((key) => typeof (each as Record<string, unknown>)[key] === "string");
  if (!Array.isArray(list) || !list.every(isFault)) {
    throw new Error(`${name} must be a list of { file, text, replacement, why }`);
  }
  return list;
}

/** The file with the fault in it. Throws unless the text stands there exactly once. */
export function planted(content: string, { file, text, replacement }: Fault): string {
  const parts = content.split(text);
  if (parts.length !== 2) throw new Error(`${file} has this ${parts.length - 1} times, not once:\n${text}`);
  return parts.join(replacement);
}

const COPIED = ["src", "tests", "package.json"];

/** Makes a copy of the tree with a fault in it, hands it over, and takes it away again. */
export async function inFaultyCopy<T>(tree: string, fault: Fault, use: (copy: string) => Promise<T>): Promise<T> {
  const copy = mkdtempSync(join(tmpdir(), "dryrack-fault-"));
  try {
    for (const part of COPIED) cpSync(join(tree, part), join(copy, part), { recursive: true });
    // A folder of its own, so that bundles of several copies do not meet.
    mkdirSync(join(copy, "node_modules"));
    for (const name of readdirSync(join(tree, "node_modules"))) {
      if (name !== ".cache") symlinkSync(join(tree, "node_modules", name), join(copy, "node_modules", name));
    }
    const path = join(copy, fault.file);
    writeFileSync(path, planted(readFileSync(path, "utf8"), fault));
    return await use(copy);
  } finally {
    rmSync(copy, { recursive: true, force: true });
  }
}
