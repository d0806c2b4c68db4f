/**
 * What decided: of each question, the fates of request and answer, the steps that ended them, and the lines that let them
 * through, by kind. A generator that never makes a kind decide does not test it.
 */
import type { Address } from "../../src/address/index.ts";
import type {
  Fate,
  FilterAction,
  Match,
  Network,
  PathStep,
  Settled,
  TranslateAction,
} from "../../src/network/index.ts";
import type { Injection, ProbeResult } from "../../src/simulate/index.ts";
import { Ends } from "./random/ends.ts";
import { ADVERTISED_ENDS, LEASE_ENDS } from "./random/lease-ends.ts";

/** The site that was asked, as the model has it. */
type Judging = { readonly network: Network; readonly settled: Settled };

/** Counts of kinds over many questions. */
export class Coverage {
  /** Questions so far. */
  questions = 0;
  /** Exchanges among them, and how many were answered. */
  exchanges = 0;
  /** See `exchanges`. */
  answered = 0;
  /** Leases have a table of their own. */
  readonly leases: Ends = new Ends("lease", LEASE_ENDS);
  /** So has what is advertised. */
  readonly advertised: Ends = new Ends("advertised", ADVERTISED_ENDS);
  readonly #counts = new Map<string, number>();

  /** Counts what decided one question. */
  note({ network, settled }: Judging, done: ProbeResult | Injection): void {
    this.questions++;
    if ("outcome" in done) {
      this.exchanges++;
      if (done.outcome.end === "answered") this.answered++;
    }
    for (const kind of new Set([...kindsOf(network, done), ...formedKinds(settled, done)]))
      this.#counts.set(kind, (this.#counts.get(kind) ?? 0) + 1);
  }

  /** A table, one kind a line, by its share of all questions; kinds that nothing brought about are listed with 0. */
  lines(): readonly string[] {
    const kinds = [...new Set([...EXPECTED, ...this.#counts.keys()])].toSorted();
    return kinds.map((kind) => {
      const share = (100 * (this.#counts.get(kind) ?? 0)) / Math.max(1, this.questions);
      return `${share.toFixed(1).padStart(6)} %${share < 1 ? " <" : "  "} ${kind}`;
    });
  }
}

/** Kinds that must come about. */
const EXPECTED: readonly string[] = [
  ...["from", "to"].map((end) => `exchange ${end} an advertised address`),
  ...["answered", "reset", "refused", "silent", "local-error", "stalls"].map((end) => `exchange ${end}`),
  ...["accept", "drop", "reject 3/3", "reject 3/1", "reject 3/0", "reject 3/13", "reject reset"].map(
    (action) => `filter ${action}`,
  ),
  ...[
    "ingress",
    "egress",
    "source",
    "destination",
    "destinationPort",
    "sourcePort",
    "icmpType",
    "icmpCode",
    "sourceHardware",
    "family",
    "protocol",
  ].map((field) => `rule by ${field}`),
  ...["new", "established", "related", "invalid", "untracked"].map((state) => `packet ${state}`),
  ...["source masquerade", "source address", "source ports", "destination address", "destination port", "in IPv6"].map(
    (kind) => `translate ${kind}`,
  ),
  ...[
    "no-route",
    "unreachable",
    "prohibited",
    "blackhole",
    "no-transit",
    "hop-limit",
    "no-neighbour",
    "interface-down",
    "own-source",
    "martian",
    "reverse-path",
    "wrong-leg",
    "not-forwardable",
    "no-source-address",
    "looped",
    "no-listener",
    "filter",
    "stray",
  ].map((reason) => `end ${reason}`),
];

function kindsOf(network: Network, done: ProbeResult | Injection): readonly string[] {
  if (!("outcome" in done))
    return done.endings.flatMap(({ fate, path }) => [...fateKinds(fate), ...pathKinds(network, path)]);
  const { outcome, fate, answerFate, path, answerPath, stalls } = done;
  return [
    `exchange ${outcome.end}`,
    ...(stalls === true ? ["exchange stalls"] : []),
    ...fateKinds(fate),
    ...(answerFate === undefined ? [] : fateKinds(answerFate)),
    ...pathKinds(network, [...path, ...answerPath]),
  ];
}

/** Whether an exchange began at an address that was made of an advertisement, or went to one. */
function formedKinds({ bindings }: Settled, done: ProbeResult | Injection): readonly string[] {
  if (!("outcome" in done)) return [];
  const isFormed = ({ family, value }: Address): boolean =>
    family === 6 && bindings.some((binding) => binding.family === 6 && binding.value === value);
  const { source, destination } = done.request;
  return [
    ...(isFormed(source) ? ["exchange from an advertised address"] : []),
    ...(isFormed(destination) ? ["exchange to an advertised address"] : []),
  ];
}

function fateKinds(fate: Fate): readonly string[] {
  return "reason" in fate ? [`end ${fate.reason}`] : [`end ${fate.end}`];
}

function pathKinds(network: Network, path: readonly PathStep[]): readonly string[] {
  return path.flatMap(({ did, detail, at }) => {
    switch (did) {
      case "track":
        return [`packet ${detail}`];
      case "filter":
        return ruleKinds(network, detail);
      case "translate":
        return [...ruleKinds(network, detail), ...(SIX.test(detail) ? ["translate in IPv6"] : [])];
      case "route":
        return detail === "nowhere" ? [] : [`route ${detail === "to itself" ? "to itself" : "on"}`];
      default:
        return at.includes("/") ? [] : [`bridge ${did}`];
    }
  });
}

/** How a path tells a new end. */
const SIX = /^(?:source|destination) .*:/;

type Line = { readonly when: readonly Match[]; readonly kinds: readonly string[] };

const linesOf = new WeakMap<Network, ReadonlyMap<string, Line>>();

function ruleKinds(network: Network, detail: string): readonly string[] {
  const known = linesOf.get(network) ?? readLines(network);
  linesOf.set(network, known);
  const line = known.get(detail);
  if (line === undefined) return detail.startsWith("no rule") ? ["filter otherwise"] : [];
  const fields = new Set(line.when.flat().map(({ field }) => `rule by ${field}`));
  return [...line.kinds, ...fields];
}

function readLines({ tables }: Network): ReadonlyMap<string, Line> {
  const lines = new Map<string, Line>();
  for (const table of tables) {
    if (table.kind === "filter") {
      for (const { id, when, action } of table.rules) lines.set(id, { when, kinds: [`filter ${filterWord(action)}`] });
    } else if (table.kind === "translate") {
      const end = table.id.endsWith("source") ? "source" : "destination";
      for (const { id, when, action } of table.rules) lines.set(id, { when, kinds: translateKinds(end, action) });
    }
  }
  return lines;
}

function filterWord(action: FilterAction): string {
  if (action.do !== "refuse") return action.do;
  const { answer } = action.with;
  if (answer.kind === "icmp") return `reject ${answer.error.v4.type}/${answer.error.v4.code}`;
  return answer.kind === "tcp-reset" ? "reject reset" : "reject";
}

function translateKinds(end: string, action: TranslateAction): readonly string[] {
  if (action.do === "keep") return [`translate ${end} kept`];
  const ports = action.ports === undefined ? [] : [`translate ${end} port${end === "source" ? "s" : ""}`];
  return [`translate ${end} ${action.to === "egress-address" ? "masquerade" : "address"}`, ...ports];
}
