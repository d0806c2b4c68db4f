/**
 * `schema KIND`: the published JSON Schema of a kind of document.
 */
import { nearestWord } from "../diagnose/index.ts";
import { type DocumentKind, jsonSchema } from "../document/index.ts";
import { toErrors, toOutput } from "../outside/index.ts";

const KINDS: readonly DocumentKind[] = ["topology", "intent", "assertions"];

/** Runs the command; 0: printed, 2: no such kind. */
export function runSchema(word: string): number {
  const kind = KINDS.find((each) => each === word);
  if (kind === undefined) return unknown(word);
  toOutput(`${JSON.stringify(jsonSchema(kind), null, 2)}\n`);
  return 0;
}

function unknown(word: string): number {
  const nearest = nearestWord(word, KINDS);
  const help = nearest === undefined ? "" : `\n   try \`dryrack schema ${nearest}\``;
  toErrors(`no kind of document is called \`${word}\`: kinds are ${KINDS.join(", ")}${help}\n`);
  return 2;
}
