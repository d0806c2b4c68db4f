/**
 * What every assertion kind needs to answer: the network under question, the names of its rules, and where it stands.
 */
import type { Evaluation } from "../evaluate/index.ts";
import type { Pick } from "../network/index.ts";
import type { Cell, Evidence, Names, Packet, Told, Verdict } from "../result/index.ts";

/** The surroundings of one assertion. */
export type CheckContext = {
  readonly evaluation: Evaluation;
  readonly names: Names;
  /** Name of the site. */
  readonly site: string;
  /** Path of the assertions file, for ids. */
  readonly file: string;
};

/** What an assertion kind finds; the head of the verdict is added by the caller. */
export type Finding = {
  readonly status: Verdict["status"];
  readonly by: Verdict["by"];
  readonly headline: string;
  readonly help?: string;
  readonly decidedBy: readonly Evidence[];
  readonly witness?: Packet;
  readonly picks?: readonly Pick[];
  readonly path?: readonly Told[];
  readonly restsOn?: readonly Evidence[];
  readonly assumptions?: readonly string[];
  readonly limit?: string;
  readonly cells?: readonly Cell[];
  /** Arguments of `trace` that show it again: from, to, service. */
  readonly repeat?: readonly [from: string, to: string, service: string];
};

/** The worst of several statuses: failed, vacuous, undecided, passed. */
export function worstOf(statuses: readonly Verdict["status"][]): Verdict["status"] {
  const order = ["failed", "vacuous", "undecided", "skipped", "passed"] as const;
  return order.find((status) => statuses.includes(status)) ?? "vacuous";
}
