/**
 * Loading in tests: a text in, and each diagnostic as one line of code and marked text.
 */
import { readFileSync } from "node:fs";
import type { Diagnostic } from "../../src/diagnose/index.ts";
import { type LoadedDocument, type LoadedFile, loadDocument } from "../../src/document/index.ts";

/** Loads a text as file 0. */
export function load(text: string): LoadedFile {
  return loadDocument({ path: "plan.yaml", text }, 0);
}

/** Loads a text that must be without diagnostics, as a document of the kind. */
export function loadWell<K extends LoadedDocument["kind"]>(
  kind: K,
  text: string,
): Extract<LoadedDocument, { kind: K }> {
  const { document, diagnostics } = load(text);
  if (diagnostics.length > 0 || document?.kind !== kind) throw new Error(JSON.stringify(told(text, diagnostics)));
  // The kind was compared just now.
  return document as Extract<LoadedDocument, { kind: K }>;
}

/** What is told of a text: "code: marked text", in order. */
export function complaints(text: string): readonly string[] {
  return told(text, load(text).diagnostics);
}

function told(text: string, diagnostics: readonly Diagnostic[]): readonly string[] {
  return diagnostics.map(({ code, labels }) => {
    const span = labels[0]?.span;
    return `${code}: ${span === undefined ? "nowhere" : text.slice(span.start, span.end)}`;
  });
}

/** The text of a fixture. */
export function fixture(name: string): string {
  return readFileSync(new URL(`./fixtures/${name}`, import.meta.url), "utf8");
}

/** A topology, an intent or assertions around a few lines. */
export const topology = (lines: string): string => `dryrack: topology/1\n${lines}\n`;
export const intent = (lines: string): string => `dryrack: intent/1\n${lines}\n`;
export const assertions = (lines: string): string => `dryrack: assertions/1\nassertions:\n${lines}\n`;

/** An intent of one device, from what it is told in flow style. */
export const device = (settings: string): string => intent(`devices: { edge: { ${settings} } }`);

/** A storyline around the steps of its story. */
export const storyline = (lines: string): string => `dryrack: storyline/1\nstory:\n${lines}\n`;
