/**
 * First match over sets: a list of rules cuts a flow into disjoint pieces, each decided by one rule or by none.
 * Nothing is built for a whole list: it is sliced to the names that the flow has (interfaces, states), once for each
 * combination, and the cutting stops as soon as nothing is left.
 */
import type { Alternatives } from "../network/index.ts";
import { NAME_FIELDS } from "./fields.ts";
import { cut, type Flow, mayPass, type Test, testsOf } from "./flow.ts";
import type { Meter } from "./meter.ts";

/** Anything with conditions, at its place in an order. */
export type Conditional = {
  /** Fits when one of these does. */
  readonly when: Alternatives;
};

/** A piece that one rule decides. */
export type Decided<Rule> = {
  /** The first rule that fits. */
  readonly rule: Rule;
  /** The match of it that fits. */
  readonly match: readonly Test[];
  /** The packets. */
  readonly flow: Flow;
};

/** A flow cut by a list. */
export type Decisions<Rule> = {
  /** Pieces in the order of the rules. */
  readonly decided: readonly Decided<Rule>[];
  /** Pieces that no rule fits. */
  readonly left: readonly Flow[];
};

type Line<Rule> = { readonly rule: Rule; readonly match: readonly Test[] };

/** A list of rules with its slices. */
export class RuleList<Rule extends Conditional> {
  readonly #lines: readonly Line<Rule>[];
  /** Name fields that some rule looks at. */
  readonly #asked: readonly number[];
  readonly #slices = new Map<string, readonly Line<Rule>[]>();

  constructor(rules: readonly Rule[]) {
    this.#lines = rules.flatMap((rule) => rule.when.map((match) => ({ rule, match: testsOf(match) })));
    this.#asked = NAME_FIELDS.flatMap((_, field) => (this.#lines.some((line) => asks(line, field)) ? [field] : []));
  }

  /** Cuts a flow by first match. When the meter runs out, the rest is left undecided: ask the meter. */
  split(flow: Flow, meter: Meter): Decisions<Rule> {
    const decided: Decided<Rule>[] = [];
    let left: readonly Flow[] = [flow];
    for (const line of this.#sliceFor(flow)) {
      if (left.length === 0 || !meter.take(left.length)) break;
      left = left.flatMap((piece) => {
        const { hit, rest } = cut(piece, line.match);
        if (hit !== undefined) decided.push({ ...line, flow: hit });
        return rest;
      });
    }
    return { decided, left };
  }

  /** The lines that may fit, without the tests on names that surely pass. */
  #sliceFor(flow: Flow): readonly Line<Rule>[] {
    if (this.#asked.length === 0) return this.#lines;
    const key = this.#asked.map((field) => flow.names[field]?.join(" ")).join("|");
    const known = this.#slices.get(key) ?? this.#lines.flatMap((line) => sliced(line, flow));
    this.#slices.set(key, known);
    return known;
  }
}

function asks<Rule>({ match }: Line<Rule>, field: number): boolean {
  return match.some((test) => test.kind === "name" && test.field === field);
}

function sliced<Rule>(line: Line<Rule>, flow: Flow): readonly Line<Rule>[] {
  const isName = (test: Test): boolean => test.kind === "name";
  if (!line.match.filter(isName).every((test) => mayPass(flow, test))) return [];
  return [{ ...line, match: line.match.filter((test) => !surelyPasses(flow, test)) }];
}

function surelyPasses(flow: Flow, test: Test): boolean {
  return test.kind === "name" && (flow.names[test.field] ?? []).every((name) => test.oneOf.includes(name));
}
