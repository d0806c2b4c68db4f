/**
 * Traced exchanges as text: what became of each in a sentence, its way there and back, and the line that decided.
 */
import type { SourceFile } from "../diagnose/index.ts";
import { type Traced, tellPicks } from "../result/index.ts";
import { renderEvidence, renderWay } from "./terminal.ts";
import { type Ink, wrap } from "./text.ts";

/** All exchanges, a blank line between them, ending in a newline. */
export function renderTrace(traced: readonly Traced[], sources: readonly SourceFile[], ink: Ink): string {
  return `${traced.map((each) => renderOne(each, sources, ink)).join("\n\n")}\n`;
}

function renderOne(each: Traced, sources: readonly SourceFile[], ink: Ink): string {
  const mark = each.works ? ink.good("✓ works") : ink.bad("✗ fails");
  const address = each.address === "" ? "" : ` (${each.address})`;
  const when = each.picks.length === 0 ? [] : [wrap(`when ${tellPicks(each.picks)}`, 3)];
  return [
    `${mark}  ${wrap(`${each.from} to ${each.to}${address} on ${each.service}`, 9).trimStart()}`,
    wrap(each.sentence, 3),
    ...when,
    ...renderWay(each.path),
    ...(each.answerPath.length === 0 ? [] : ["   and back:", ...renderWay(each.answerPath)]),
    ...each.decidedBy.slice(0, 2).map((line) => renderEvidence(line, sources, ink, each.sentence)),
  ].join("\n");
}
