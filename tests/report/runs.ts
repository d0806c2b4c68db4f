/**
 * A run made by hand for the reports: one verdict of each status, and names that no report may let through unescaped.
 */
import type { Origin, SourceFile, Span } from "../../src/diagnose/index.ts";
import type { Run, Verdict } from "../../src/result/index.ts";

/** A document of three lines. */
const SOURCE: SourceFile = {
  path: "topologies/quay/intent.yaml",
  text: "devices:\n  gate: { filter: { through: { otherwise: accept } } }\n  # end\n",
};

/** The span of a piece of `SOURCE`. */
export function spanOf(piece: string): Span {
  const start = SOURCE.text.indexOf(piece);
  if (start < 0) throw new Error(`no ${piece} in the source`);
  return { file: 0, start, end: start + piece.length };
}

/** A written origin at a piece of `SOURCE`. */
export function writtenAt(piece: string): Origin {
  return { by: "written", span: spanOf(piece) };
}

/** A verdict that says as little as possible. */
export function verdict(name: string, status: Verdict["status"], more: Partial<Verdict> = {}): Verdict {
  return {
    id: `assertions/quay/a.yaml#${name}`,
    kind: "blocked",
    name,
    site: "quay",
    status,
    by: "proof",
    at: spanOf("gate"),
    headline: `${name}: told`,
    help: "",
    decidedBy: [],
    picks: [],
    path: [],
    restsOn: [],
    assumptions: [],
    cells: [],
    ...more,
  };
}

/** A run with these verdicts. */
export function run(verdicts: readonly Verdict[], more: Partial<Run> = {}): Run {
  return { command: "check", version: "0.0.0", sources: [SOURCE], diagnostics: [], verdicts, assumptions: [], ...more };
}

/** Text that tries to leave its place: markup, an escape sequence, text turned round, a quote. */
export const HOSTILE = `<b>"&'\u001b[31m\u202eevil\u2069\u0000]]>`;
