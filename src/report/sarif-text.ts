/**
 * Pieces of a SARIF log (OASIS, version 2.1.0; sections named below): messages, places and rules, each with its own escaping.
 */
import { CODES, isDiagnosticCode, type Place, severityOf } from "../diagnose/index.ts";
import { ASSERTION_KINDS, isAssertionKind } from "../document/index.ts";
import { oneLine } from "./text.ts";

/** A message (3.11). */
export type SarifMessage = {
  /** Plain text, one or several lines. */
  readonly text: string;
};

/** A place in a file (3.28), with what is to be said there. */
export type SarifLocation = {
  /** Its number within the result, from 1. */
  readonly id?: number;
  /** The file, and the part of it. */
  readonly physicalLocation: {
    readonly artifactLocation: { readonly uri: string; readonly uriBaseId: string };
    readonly region: {
      readonly startLine: number;
      readonly startColumn: number;
      readonly endLine: number;
      readonly endColumn: number;
    };
  };
  /** What is to be said there. */
  readonly message?: SarifMessage;
};

/** A rule (3.49): what is asked, whatever came of it. */
export type SarifRule = {
  /** A kind of assertion, a kind of change, or the code of a diagnostic. */
  readonly id: string;
  /** In a sentence. */
  readonly shortDescription: SarifMessage;
  /** The same in full. */
  readonly fullDescription: SarifMessage;
  /** What to look at. */
  readonly help: SarifMessage;
  /** How grave its results are where they do not say. */
  readonly defaultConfiguration: { readonly level: SarifLevel };
};

/** How grave a result is (3.27.10). */
export type SarifLevel = "error" | "warning" | "note" | "none";

/** Levels of diagnostics, by their severity. */
export const LEVELS: { readonly [severity in "error" | "warning" | "note"]: SarifLevel } = {
  error: "error",
  warning: "warning",
  note: "note",
};

/** The root of the repository, which places are relative to (3.4.4). */
export const ROOT = "%SRCROOT%";

/**
 * Lines as a plain text message: braces are doubled, since single ones hold arguments (3.11.5), and nothing reads as a link
 * into the log (3.11.6).
 */
export function messageOf(...lines: readonly string[]): SarifMessage {
  const text = lines.map(oneLine).join("\n");
  return { text: text.replace(/[{}]/g, "$&$&").replaceAll("](", "] (") };
}

/** A place; columns count UTF-16 code units, ends are exclusive, as ours are (3.30). */
export function locationOf({ file, line, column, endLine, endColumn }: Place, text?: string): SarifLocation {
  return {
    physicalLocation: {
      artifactLocation: { uri: uriOf(file), uriBaseId: ROOT },
      region: { startLine: line, startColumn: column, endLine, endColumn },
    },
    ...(text === undefined || text === "" ? {} : { message: messageOf(text) }),
  };
}

/** A path as a relative reference (RFC 3986): no part of it reads as a scheme, a query or a fragment. */
function uriOf(path: string): string {
  return path.split("/").map(encodeSegment).join("/");
}

function encodeSegment(segment: string): string {
  // Half a pair of surrogates has no UTF-8 form.
  return encodeURIComponent(segment.replace(/\p{Cs}/gu, "\ufffd"));
}

/** What comparisons find, as rules. */
const CHANGES: ReadonlyMap<string, string> = new Map([
  ["newly-allowed", "A set of packets gets through after the change and did not before."],
  ["newly-forbidden", "A set of packets got through before the change and does not any more."],
]);

/** The rules of these ids, each once, in order of first use. */
export function rulesOf(ids: readonly string[]): readonly SarifRule[] {
  return [...new Set(ids)].map(ruleOf);
}

function ruleOf(id: string): SarifRule {
  if (isAssertionKind(id)) {
    const { explanation, example } = ASSERTION_KINDS[id];
    return rule(id, explanation, ["an assertion such as", ...example.split("\n")], "error");
  }
  const change = CHANGES.get(id);
  if (change !== undefined) return rule(id, change, ["compare the lines that the change touches"], "warning");
  if (!isDiagnosticCode(id)) throw new Error(`no rule is called ${id}`);
  const { explanation, example } = CODES[id];
  return rule(
    id,
    explanation,
    [`dryrack explain ${id}`, "for example", ...example.split("\n")],
    LEVELS[severityOf(id)],
  );
}

function rule(id: string, explanation: string, help: readonly string[], level: SarifLevel): SarifRule {
  const [first = explanation] = explanation.split(/(?<=\.) /);
  return {
    id,
    shortDescription: messageOf(first),
    fullDescription: messageOf(explanation),
    help: messageOf(...help),
    defaultConfiguration: { level },
  };
}
