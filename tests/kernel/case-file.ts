/**
 * A permanent case: one file of three YAML documents, the topology, the intent, and what is asked with what both must
 * say. `npm run kernel:fuzz` writes them, shrunk; people give them a name and a reason.
 */
import { readdirSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { parseAllDocuments, stringify } from "yaml";
import type { Question } from "./question.ts";

/** A question with its answer. */
export type Told = Question & {
  /** What the kernel says. */
  readonly says: string;
};

/** A case. */
export type KernelCase = {
  /** What it shows, as a sentence. */
  readonly shows: string;
  /** Topology and intent. */
  readonly texts: readonly [topology: string, intent: string];
  /** In their order. */
  readonly questions: readonly Told[];
};

/** All cases in a folder: `cases`, or `link-cases` for what a full kernel alone can show. */
export function allCases(name: "cases" | "link-cases"): readonly KernelCase[] {
  const folder = fileURLToPath(new URL(`${name}/`, import.meta.url));
  const names = readdirSync(folder).toSorted();
  return names.map((name) => readCase(readFileSync(`${folder}${name}`, "utf8")));
}

function readCase(text: string): KernelCase {
  const [topology, intent, asked] = parseAllDocuments(text);
  if (topology === undefined || intent === undefined || asked === undefined) throw new Error("a case has three parts");
  // Written by `caseText`, or by hand in the same form; a wrong one fails its test.
  const { shows, questions } = asked.toJS() as { readonly shows: string; readonly questions: readonly Told[] };
  return { shows, questions, texts: [stringify(topology.toJS()), stringify(intent.toJS())] };
}

/** The file of a case. */
export function caseText({ shows, texts, questions }: KernelCase): string {
  const asked = stringify({ shows, questions }, { lineWidth: 0 });
  return [...texts, asked]
    .map((text) => text.trim())
    .join("\n---\n")
    .concat("\n");
}
