/**
 * One part of the speed survey in a process of its own, cold, then warm; prints one line of JSON. A program: `speed.ts`
 * runs it.
 */
import { rangesContain } from "../../src/address/index.ts";
import { Evaluation, startOf, targetOf } from "../../src/evaluate/index.ts";
import type { Alternatives, Group, Network } from "../../src/network/index.ts";
import { flowsOf } from "../../src/prove/box.ts";
import type { Flow } from "../../src/prove/flow.ts";
import { createProver, type Prover, shadowedIn } from "../../src/prove/index.ts";
import { Meter } from "../../src/prove/meter.ts";
import { RuleList } from "../../src/prove/rules.ts";
import { formulaOf, startSolver } from "../support/solver.ts";
import { quantile } from "./harness.ts";
import { type ListKind, type ListRule, listOf, NETWORKS, networkKeys, numbersFrom } from "./speed-lists.ts";
import { HOUSE_NETWORKS, type RoutedSite, routedSite } from "./speed-site.ts";

/** What one part prints; times in milliseconds of the processor. */
export type SpeedPart = {
  /** The first time, in a fresh process; of many questions the first of all. */
  readonly coldMs: number;
  /** The median of the times after that. */
  readonly warmMs: number;
  /** Nearest rank of 99 in 100 of them. */
  readonly p99Ms: number;
  /** Counted steps of work of one turn, or of all questions. */
  readonly steps: number;
  /** A linear scan over the same list for one packet, run between the turns; 0 where there is no list. */
  readonly scanMs: number;
  /** Largest resident memory of the process, in MB (10^6 bytes). */
  readonly peakMb: number;
  /** What was found, so that a change of an answer shows. */
  readonly found: number;
};

type Turn = { readonly steps: number; readonly found: number };
type Prepared = { readonly turns: readonly (() => Turn | Promise<Turn>)[]; readonly rules?: readonly ListRule[] };

const LIMIT = 2_000_000;

/** Processor time, so that whoever else uses the machine counts for little. */
async function clocked<Value>(run: () => Value | Promise<Value>): Promise<readonly [Value, number]> {
  const start = process.cpuUsage();
  const value = await run();
  const { user, system } = process.cpuUsage(start);
  return [value, (user + system) / 1000];
}

/** Takes every turn once; the first is the cold one, and a scan runs after each. */
async function measured({ turns, rules }: Prepared): Promise<SpeedPart> {
  const times: number[] = [];
  const scans: number[] = [];
  let [steps, found] = [0, 0];
  for (const turn of turns) {
    const [done, ms] = await clocked(turn);
    times.push(ms);
    steps += done.steps;
    found += done.found;
    if (rules !== undefined && scans.length < 50) scans.push((await clocked(() => scan(rules)))[1]);
  }
  const [coldMs = 0, ...rest] = times;
  const warm = rest.length === 0 ? times : rest;
  return {
    coldMs,
    warmMs: quantile(warm, 0.5),
    p99Ms: quantile(warm, 0.99),
    steps,
    scanMs: scans.length === 0 ? 0 : quantile(scans, 0.5),
    // Kilobytes of 1024 bytes, as Linux counts them.
    peakMb: (process.resourceUsage().maxRSS * 1024) / 1e6,
    found,
  };
}

/** First match for one packet that no rule fits, so that every rule is looked at. */
function scan(rules: readonly ListRule[]): number {
  let hits = 0;
  for (const { when } of rules) {
    const fits = when.some((match) =>
      match.every((condition) => "within" in condition && rangesContain(condition.within, -5n)),
    );
    if (fits) hits++;
  }
  return hits;
}

// -- lists ---------------------------------------------------------------------------------------------------------

const ORIGIN = { by: "written", span: { file: 0, start: 0, end: 0 } } as const;

function between(from: number, to: number): Alternatives {
  return [
    [
      { field: "source", within: networkKeys(from), origin: ORIGIN },
      { field: "destination", within: networkKeys(to), origin: ORIGIN },
    ],
  ];
}

/** Whether some packet of a pair gets through. */
function asked(list: RuleList<ListRule>, flows: readonly Flow[]): Turn {
  const meter = new Meter(LIMIT);
  let found = 0;
  for (const flow of flows) {
    const { decided } = list.split(flow, meter);
    if (decided.some(({ rule }) => rule.action.do === "accept")) found++;
  }
  return { steps: meter.spent, found };
}

/** As the prover keeps a filter. */
function listed(rules: readonly ListRule[]): RuleList<ListRule> {
  return new RuleList(rules, ({ action, id }) => (action.do === "accept" ? action.do : id));
}

/** All pairs of networks; a turn asks all of them. The first turn also prepares the list. */
function allPairs(kind: ListKind, length: number): Prepared {
  const rules = listOf(kind, length);
  let list: RuleList<ListRule> | undefined;
  const turn = (): Turn => {
    list ??= listed(rules);
    let [steps, found] = [0, 0];
    for (let from = 0; from < NETWORKS; from++) {
      for (let to = 0; to < NETWORKS; to++) {
        if (from === to) continue;
        const each = asked(list, flowsOf(between(from, to)));
        steps += each.steps;
        found += each.found;
      }
    }
    return { steps, found };
  };
  return { rules, turns: Array.from({ length: 5 }, () => turn) };
}

/** A turn is one pair out of 200; the first turn also prepares the list. */
function onePair(kind: ListKind, length: number): Prepared {
  const rules = listOf(kind, length);
  const next = numbersFrom(11);
  let list: RuleList<ListRule> | undefined;
  const turn = (): Turn => {
    const from = next(NETWORKS);
    list ??= listed(rules);
    return asked(list, flowsOf(between(from, (from + 1 + next(NETWORKS - 1)) % NETWORKS)));
  };
  return { rules, turns: Array.from({ length: 200 }, () => turn) };
}

/** Whether each rule is covered by the ones before it. */
function everyRule(kind: ListKind, length: number): Prepared {
  const rules = listOf(kind, length);
  const turn = (): Turn => {
    const { places, steps } = shadowedIn(rules, LIMIT);
    return { steps, found: places.length };
  };
  return { rules, turns: [turn, turn, turn] };
}

/** A turn is one pair out of 40, asked of a solver that was told the list before the first. */
async function solved(kind: ListKind, length: number): Promise<Prepared> {
  const { z3 } = await startSolver();
  const rules = listOf(kind, length);
  const otherwise = { action: { do: "drop" }, origin: ORIGIN } as const;
  const { passes, definitions, within } = formulaOf(z3, { rules, otherwise });
  const solver = new z3.Solver();
  solver.add(passes, ...definitions);
  const next = numbersFrom(11);
  const bounds = (network: number): readonly [bigint, bigint] => networkKeys(network)[0] ?? [0n, 0n];
  const turn = async (): Promise<Turn> => {
    const from = next(NETWORKS);
    const to = (from + 1 + next(NETWORKS - 1)) % NETWORKS;
    solver.push();
    solver.add(within("source", ...bounds(from)), within("destination", ...bounds(to)));
    const found = (await solver.check()) === "sat" ? 1 : 0;
    solver.pop();
    return { steps: 0, found };
  };
  return { rules, turns: Array.from({ length: 40 }, () => turn) };
}

// -- routes --------------------------------------------------------------------------------------------------------

type Houses = { readonly network: Network; readonly groups: readonly Group[]; readonly prover: () => Prover };

/** The networks of houses; who asks for the prover first also prepares it. */
function housesOf(wanted: RoutedSite): Houses {
  const network = routedSite(wanted);
  const [world] = new Evaluation(network).worlds().worlds;
  if (world === undefined) throw new Error("the site has no world");
  const groups = HOUSE_NETWORKS.map((name) => {
    const group = network.groups.find(({ id }) => id === name);
    if (group === undefined) throw new Error(`no network ${name}`);
    return group;
  });
  let prover: Prover | undefined;
  const prepared = (): Prover => {
    prover ??= createProver(network, world.settled);
    return prover;
  };
  return { network, groups, prover: prepared };
}

/** A turn asks for all pairs at once: who can begin something with whom under an address of its own. */
function together(wanted: RoutedSite): Prepared {
  const { network, groups, prover } = housesOf(wanted);
  const from = groups.map((group) => ({
    ...startOf({ group }, network),
    addresses: group.addresses,
    origin: group.origin,
  }));
  const to = groups.map(({ addresses }) => addresses);
  const turn = (): Turn => {
    const pairs = prover().between({ from, to, limitSteps: LIMIT });
    if (pairs === undefined) throw new Error("it takes too many steps");
    const found = pairs.ways.flatMap((row, place) => row.filter((way, other) => way === "open" && other !== place));
    return { steps: pairs.steps, found: found.length };
  };
  return { turns: Array.from({ length: 7 }, () => turn) };
}

/** Pairs of the networks of houses; a turn proves what gets from one to each other one, smallest examples included. */
function routed(wanted: RoutedSite, sources: number): Prepared {
  const { network, groups, prover } = housesOf(wanted);
  const turnFrom = (from: Group) => (): Turn => {
    let [steps, found] = [0, 0];
    for (const to of groups) {
      if (from === to) continue;
      const start = startOf({ group: from }, network);
      const proof = prover().prove({ ...start, packets: [[]], target: targetOf({ group: to }, network) });
      steps += proof.steps;
      if (proof.reached.length > 0) found++;
    }
    return { steps, found };
  };
  return { turns: groups.slice(0, sources).map(turnFrom) };
}

const PARTS: Readonly<Record<string, (...numbers: readonly number[]) => Prepared | Promise<Prepared>>> = {
  "pairs-specific": (length = 0) => allPairs("specific", length),
  "pairs-wildcard": (length = 0) => allPairs("wildcard", length),
  "pair-specific": (length = 0) => onePair("specific", length),
  "pair-wildcard": (length = 0) => onePair("wildcard", length),
  "every-specific": (length = 0) => everyRule("specific", length),
  "every-wildcard": (length = 0) => everyRule("wildcard", length),
  "solver-specific": (length = 0) => solved("specific", length),
  together: (prefixes = 0, filtered = 0, rules = 0) => together({ prefixes, filtered, rules }),
  routed: (prefixes = 0, filtered = 0, rules = 0, sources = 90) => routed({ prefixes, filtered, rules }, sources),
};

const [name = "", ...numbers] = process.argv.slice(2);
const part = PARTS[name];
if (part === undefined) throw new Error(`no part ${name}; there are ${Object.keys(PARTS).join(", ")}`);
console.log(JSON.stringify(await measured(await part(...numbers.map(Number)))));
// Threads of the solver would stay.
process.exit(0);
