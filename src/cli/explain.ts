/**
 * `explain CODE|WORD`: what the code of a diagnostic or a word of a document means, from the tables that load documents.
 */
import { profileText } from "../compile/index.ts";
import { isDiagnosticCode } from "../diagnose/index.ts";
import { explainCode, explainTopics, explainWord, nearestExplained } from "../document/index.ts";
import { toOutput } from "../outside/index.ts";
import { refuse } from "./refuse.ts";

/** Runs the command; 0: explained, 2: no such word. Without a word it tells what there is to explain. */
export function runExplain(word: string | undefined): number {
  if (word === undefined) {
    toOutput(`${explainTopics()}\n`);
    return 0;
  }
  const differences = word === "profile" ? profileText() : undefined;
  const sections = [isDiagnosticCode(word) ? explainCode(word) : undefined, explainWord(word), differences];
  const told = sections.filter((section) => section !== undefined);
  if (told.length === 0) return unknown(word);
  toOutput(`${told.join("\n\n")}\n`);
  return 0;
}

function unknown(word: string): number {
  const nearest = nearestExplained(word);
  const help = nearest === undefined ? "" : `\n   try \`dryrack explain ${nearest}\``;
  return refuse(`\`${word}\` means nothing in a document, and no diagnostic has that code${help}`);
}
