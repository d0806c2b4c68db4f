/**
 * Who answers a question for a name, and, where nobody can tell whether anybody does, who may.
 */
import {
  addressKey,
  intersectRanges,
  keyAddress,
  type Ranges,
  rangesContain,
  single,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import type { Outcome } from "../evaluate/index.ts";
import { deviceOf, type Id, type Match, type Network, type Settled } from "../network/index.ts";
import { tellPicks } from "../result/index.ts";
import { endingsOf, type Trial, wrapped } from "./asked-in-turn.ts";
import { tellingPicks } from "./question.ts";
import { covers } from "./rest.ts";

/** Who took a request. */
export type Arrived = {
  /** Its device. */
  readonly device: Id;
  /** Key of the address at which it did. */
  readonly address: bigint;
  /** An outcome in which it did. */
  readonly outcome: Outcome;
};

/** Whoever took a request in some outcome, each once, with the first outcome in which it did. */
export function arrivalsIn(outcomes: readonly Outcome[]): readonly Arrived[] {
  const found = new Map<Id, Arrived>();
  for (const outcome of outcomes)
    for (const { device, destination } of outcome.result.outcome.arrivals)
      if (!found.has(device)) found.set(device, { device, address: addressKey(destination), outcome });
  return [...found.values()];
}

/** What came of an exchange in which somebody answered, told from who asked on; `others`: outcomes in which somebody else did, or nobody. */
export function afterAsking(asks: string, behind: Trial, outcome?: Outcome, others: readonly Outcome[] = []): Trial {
  const picks =
    outcome === undefined
      ? []
      : tellingPicks(
          outcome.picks,
          others.map((other) => other.picks),
        );
  const when = picks.length === 0 ? "" : ` when ${tellPicks(picks)}`;
  const wrap = (trial: Trial): Trial => {
    const shown = trial.outcome ?? outcome;
    const isPassed = trial.status === "passed";
    return {
      ...trial,
      told: joined(asks, trial.told),
      text: isPassed ? "" : `${joined(asks, trial.text)}${when}`,
      picks: isPassed ? trial.picks : [...picks, ...trial.picks],
      hops: outcome === undefined ? trial.hops : [outcome, ...trial.hops],
      results: outcome === undefined ? trial.results : [outcome.result, ...trial.results],
      ...(shown === undefined ? {} : { outcome: shown }),
    };
  };
  return { ...wrap(behind), endings: wrapped(endingsOf(behind), wrap) };
}

/** Who has one of these addresses (keys), and which. */
export function ownersWithin(addresses: Ranges, { stacks }: Settled): readonly Omit<Arrived, "outcome">[] {
  return stacks.flatMap(({ stack, interfaces }) =>
    interfaces
      .flatMap((leg) => leg.addresses.map(addressKey))
      .filter((address) => rangesContain(addresses, address))
      .map((address) => ({ device: deviceOf(stack), address })),
  );
}

/**
 * Where a question that is sent to an address (its key) on UDP port 53 may come: there, and wherever rules for destinations of any device
 * may lead it on to. Keys; of a rule that chooses among several addresses all.
 */
export function ledTo(asked: bigint, { tables, stacks }: Network): Ranges {
  const steps = stacks.flatMap(({ received, local, onward, sent }) => [...received, ...local, ...onward, ...sent]);
  const leading = new Set(
    steps.flatMap((step) => (step.op === "translate" && step.end === "destination" ? [step.table] : [])),
  );
  const rules = tables.flatMap((table) => (table.kind === "translate" && leading.has(table.id) ? table.rules : []));
  let led = single(asked);
  for (const _ of rules) {
    const further = rules.flatMap(({ when, action }) =>
      action.do === "rewrite" && typeof action.to !== "string" && when.some((match) => mayFit(match, led))
        ? action.to
        : [],
    );
    if (subtractRanges(further, led).length === 0) break;
    led = unionRanges(led, further);
  }
  return led;
}

function mayFit(match: Match, destinations: Ranges): boolean {
  return match.every((condition) => {
    if (condition.field === "destination") return intersectRanges(condition.within, destinations).length > 0;
    if (condition.field === "protocol") return rangesContain(condition.within, 17n);
    return condition.field !== "destinationPort" || rangesContain(condition.within, 53n);
  });
}

/** Whether one of these addresses (keys) is in no prefix that somebody here has on a link. */
export function leavesSite(addresses: Ranges, { stacks }: Settled): boolean {
  const own = stacks.flatMap(({ interfaces }) => interfaces.flatMap((leg) => leg.addresses));
  return addresses.flat().some((address) => !own.some((each) => covers(each, keyAddress(address))));
}

/** One who asks, and whom that one asks; the latter may be empty. */
export function joined(first: string, then: string): string {
  return then === "" ? first : `${first}, ${then}`;
}
