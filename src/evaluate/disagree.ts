/**
 * What is thrown when prover and simulator disagree.
 */
import type { FateClass } from "../network/index.ts";
import { oneLine, packetOf } from "../result/index.ts";
import type { Disagreement } from "./replay.ts";

/** Thrown when prover and simulator disagree: a fault of the tool, never a verdict. */
export class EnginesDisagree extends Error {
  readonly disagreements: readonly Disagreement[];
  constructor(disagreements: readonly Disagreement[]) {
    super(disagreements.map(describeDisagreement).join("\n"));
    this.name = "EnginesDisagree";
    this.disagreements = disagreements;
  }
}

/** The same where only what they said of it is known: it was found elsewhere. */
export class ToldDisagreement extends EnginesDisagree {
  constructor(told: string) {
    super([]);
    this.message = told;
  }
}

/** The packet, then what each engine says of it. */
function describeDisagreement({ claimed, seen }: Disagreement): string {
  const packet = oneLine(packetOf(claimed));
  const fates = seen.length === 0 ? "nothing" : seen.map(tellBriefly).join("; ");
  return `${packet}: proved: ${tellBriefly(claimed.fate)}; simulated: ${fates}`;
}

function tellBriefly(fate: FateClass["fate"]): string {
  return `${fate.end} at ${fate.at}${"reason" in fate ? ` (${fate.reason})` : ""}`;
}
