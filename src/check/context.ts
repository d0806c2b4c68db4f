/**
 * What every assertion kind needs to answer: the network under question, the names of its rules, and where it stands.
 */
import type { Evaluation } from "../evaluate/index.ts";
import type { Pick } from "../network/index.ts";
import type {
  Bottleneck,
  Break,
  Cell,
  Evidence,
  Names,
  Packet,
  Recovery,
  Support,
  Told,
  Verdict,
} from "../result/index.ts";

/** The surroundings of one assertion. */
export type CheckContext = {
  /** The network under question, with what questions share. */
  readonly evaluation: Evaluation;
  /** Names of its rules. */
  readonly names: Names;
  /** Name of the site. */
  readonly site: string;
  /** Path of the assertions file, for ids. */
  readonly file: string;
};

/** What an assertion kind finds; the head of the verdict is added by the caller. */
export type Finding = {
  /** How it ended. */
  readonly status: Verdict["status"];
  /** What judged it. */
  readonly by: Verdict["by"];
  /** The verdict in one sentence. */
  readonly headline: string;
  /** What to do next. Default: nothing. */
  readonly help?: string;
  /** Deciding lines, the primary one first. */
  readonly decidedBy: readonly Evidence[];
  /** A packet that shows it. */
  readonly witness?: Packet;
  /** Choices under which it is so. Default: none. */
  readonly picks?: readonly Pick[];
  /** The witness's way. Default: none. */
  readonly path?: readonly Told[];
  /** Lines that a passing verdict rests on. Default: none. */
  readonly restsOn?: readonly Support[];
  /** Sentences. Default: none. */
  readonly assumptions?: readonly string[];
  /** What kept it undecided. */
  readonly limit?: string;
  /** What devices remember that is so no more, where that alone breaks it. Default: nothing. */
  readonly remembered?: string;
  /** Questions inside it, in order. Default: none. */
  readonly cells?: readonly Cell[];
  /** Failures that it does not survive. Default: none, or none were tried. */
  readonly breaks?: readonly Break[];
  /** What came of starting from dark. Default: nobody asked. */
  readonly recovery?: Recovery;
  /** Where the least gets through. Default: no rate was asked for. */
  readonly bottleneck?: Bottleneck;
};

/** The worst of several statuses: failed, vacuous, undecided, passed. */
export function worstOf(statuses: readonly Verdict["status"][]): Verdict["status"] {
  const order = ["failed", "vacuous", "undecided", "skipped", "passed"] as const;
  return order.find((status) => statuses.includes(status)) ?? "vacuous";
}

/** The first of those that ended worst. @throws when there are none */
export function worstAmong<Judged extends { readonly status: Verdict["status"] }>(judged: readonly Judged[]): Judged {
  const worst = worstOf(judged.map(({ status }) => status));
  const found = judged.find(({ status }) => status === worst);
  if (found === undefined) throw new Error("nothing was judged");
  return found;
}
