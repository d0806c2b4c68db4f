/**
 * `schema KIND`: the published JSON Schema of a kind of document, or of the JSON report.
 */
import { nearestWord } from "../diagnose/index.ts";
import { type DocumentKind, jsonSchema } from "../document/index.ts";
import { toOutput } from "../outside/index.ts";
import { refuse } from "./refuse.ts";

const KINDS: readonly DocumentKind[] = ["topology", "intent", "assertions", "storyline"];
const WORDS: readonly string[] = [...KINDS, "report"];

/** Runs the command; 0: printed, 2: no such kind. */
export async function runSchema(word: string): Promise<number> {
  if (word === "report") return runReportSchema();
  const kind = KINDS.find((each) => each === word);
  if (kind === undefined) return unknown(word);
  toOutput(`${JSON.stringify(jsonSchema(kind), null, 2)}\n`);
  return 0;
}

/** The report's schema needs a library that documents do not: it is loaded here only. */
async function runReportSchema(): Promise<number> {
  const { jsonReportJsonSchema } = await import("../report/index.ts");
  toOutput(`${JSON.stringify(jsonReportJsonSchema(), null, 2)}\n`);
  return 0;
}

function unknown(word: string): number {
  const nearest = nearestWord(word, WORDS);
  const help = nearest === undefined ? "" : `\n   try \`dryrack schema ${nearest}\``;
  return refuse(`no kind of document is called \`${word}\`: kinds are ${WORDS.join(", ")}${help}`);
}
