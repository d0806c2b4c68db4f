/**
 * What decided in a run of random sites, by share of the samples: a generator that never makes a kind decide does not test
 * it. Kinds of three sorts: fates with their reasons, steps on the way, and rules by what they do and what they look at.
 */
import {
  type FateClass,
  type FilterAction,
  isBeyond,
  type Match,
  type Network,
  type TranslateAction,
} from "../../src/network/index.ts";
import { Tally } from "./two-engines.ts";

/** Kinds of fates, steps and rules that have to decide now and then. */
const EXPECTED: readonly string[] = [
  ...["delivered", "on-segment", "looped"].map((end) => `end ${end}`),
  ...["filter", "no-neighbour", "no-route", "not-forwardable", "prohibited", "unreachable"].map(
    (why) => `end refused ${why}`,
  ),
  ...[
    "blackhole",
    "filter",
    "isolated",
    "kind-not-admitted",
    "martian",
    "no-port-vlan",
    "no-route",
    "no-transit",
    "not-forwardable",
    "not-member",
    "own-source",
    "reverse-path",
    "wrong-leg",
  ].map((why) => `end dropped ${why}`),
  ...["classify", "deliver", "enter", "filter", "hop-limit", "ignore-tags", "leave", "lookup"].map(
    (did) => `step ${did}`,
  ),
  ...["neighbour", "route", "track", "translate", "transmit"].map((did) => `step ${did}`),
  ...["accept", "drop", "reject", "reject prohibited", "reset"].map((does) => `rule ${does}`),
  // A rule that leaves a packet as it is leaves no step in its path.
  ...["rewrite source", "rewrite destination"].map((does) => `rule ${does}`),
  ...["destination", "egress", "family", "ingress", "protocol", "source", "sourcePort", "state"].map(
    (field) => `rule by ${field}`,
  ),
  ...["destinationPort", "icmpType", "sourceHardware"].map((field) => `rule by ${field}`),
];

/** Counts of a run. */
export class Shares {
  /** Samples inside a class that met its fate at once. */
  samples = 0;
  /** How packets were judged. */
  readonly reach: Tally = new Tally();
  /** Samples that a kind decided. */
  readonly kinds: Tally = new Tally();

  /** Counts what decided a sample. */
  note(network: Network, claimed: FateClass): void {
    this.samples++;
    for (const kind of kindsOf(network, claimed)) this.kinds.count(kind);
  }

  /** The part in a hundred that a kind decided. */
  of(kind: string): number {
    return (100 * this.kinds.of(kind)) / Math.max(1, this.samples);
  }

  /** Kinds that are to decide and decide in less than one sample of a hundred. */
  get rare(): readonly string[] {
    return EXPECTED.filter((kind) => this.of(kind) < 1).map((kind) => this.#told(kind));
  }

  /** All kinds in a few lines, the rare ones last. */
  told(): string {
    const kinds = [...new Set([...EXPECTED, ...this.kinds.shares().map(([kind]) => kind)])];
    const sorted = kinds.sort((a, b) => this.of(b) - this.of(a)).map((kind) => this.#told(kind));
    return `${this.samples} samples; classes: ${this.reach.told()}\n${sorted.join(", ")}`;
  }

  #told(kind: string): string {
    return `${kind} ${this.of(kind).toFixed(1)} %`;
  }
}

function kindsOf(network: Network, { fate, path }: FateClass): ReadonlySet<string> {
  const rules = path.flatMap(({ did, detail }) =>
    did === "filter" || did === "translate" ? ruleKinds(network, detail) : [],
  );
  return new Set([
    `end ${fate.end}${"reason" in fate ? ` ${fate.reason}` : ""}`,
    ...path.map(({ did }) => `step ${did}`),
    ...(path.some(({ at, did }) => did === "leave" && isBeyond(at)) ? ["crosses the internet"] : []),
    ...rules,
  ]);
}

/** Kinds of the rule that a step names. */
function ruleKinds({ tables }: Network, id: string): readonly string[] {
  for (const table of tables) {
    if (table.kind !== "filter" && table.kind !== "translate") continue;
    for (const rule of table.rules)
      if (rule.id === id)
        return [`rule ${doing(rule.action, id)}`, ...rule.when.flatMap(lookedAt).map((field) => `rule by ${field}`)];
  }
  return [];
}

function doing(action: FilterAction | TranslateAction, id: string): string {
  if (action.do === "rewrite") return `rewrite ${id.includes("/translate/source/") ? "source" : "destination"}`;
  if (action.do !== "refuse") return action.do;
  const { answer } = action.with;
  if (answer.kind === "tcp-reset") return "reset";
  return answer.kind === "icmp" && answer.error.v4.code === PROHIBITED ? "reject prohibited" : "reject";
}

/** RFC 1812 section 5.2.7.1. */
const PROHIBITED = 13;

function lookedAt(match: Match): readonly string[] {
  return match.map(({ field }) => field);
}
