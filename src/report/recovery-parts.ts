/**
 * What came of starting a site from dark, as headed lists that each format escapes by itself.
 */
import type { Recovery } from "../result/index.ts";

/** A list under a heading. */
export type RecoveryPart = {
  /** The heading, without a colon. */
  readonly head: string;
  /** Its lines, each with its mark. */
  readonly lines: readonly string[];
};

/** A step of more devices than this is told by their number. */
const MOST_NAMED = 4;

/** The order that breaks it and what is otherwise then; `verbose`: what the order decides, and who waits for whom, too. */
export function recoveryParts(recovery: Recovery | undefined, verbose: boolean): readonly RecoveryPart[] {
  if (recovery === undefined) return [];
  const { starts = [], otherwise = [], contests, waits } = recovery;
  const all = starts.flat().length;
  const steps = starts.map((step, index) => `${index + 1} ${tellStep(step, all)}`);
  const asides = [
    { head: "whoever starts first decides", lines: contests.map((text) => `- ${text}`) },
    { head: "who waits for whom", lines: waits.map((each) => `- ${each.device} for ${each.for}: ${each.what}`) },
  ];
  return [
    { head: "started, each step when all is at rest", lines: steps },
    { head: "otherwise then", lines: otherwise.map((text) => `- ${text}`) },
    ...(verbose ? asides : []),
  ].filter(({ lines }) => lines.length > 0);
}

function tellStep(step: readonly string[], all: number): string {
  if (step.length === all) return "everything";
  return step.length <= MOST_NAMED ? step.join(", ") : `the other ${step.length} devices`;
}
