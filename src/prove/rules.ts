/**
 * First match over sets: a list of rules cuts a flow into disjoint pieces, each decided by one rule or by none.
 * Nothing is built for a whole list: it is sliced to the names that the flow has (interfaces, states), once for each
 * combination, then to the lines that the flow can meet (`hulls.ts`). A short slice is taken away line by line until nothing
 * is left; a long one would shatter the flow, and becomes a diagram (`diagram.ts`).
 */
import { intersectRanges, type Ranges, rangesEqual } from "../address/index.ts";
import type { Alternatives } from "../network/index.ts";
import { Diagram } from "./diagram.ts";
import { NAME_FIELDS } from "./fields.ts";
import { cutOff, type Flow, joint, mayPass, type Test, testsOf, valuesOf, withName } from "./flow.ts";
import { type Hulls, hullsOf, meeting } from "./hulls.ts";
import { tellsKinds } from "./kinds.ts";
import type { Meter } from "./meter.ts";

/** Anything with conditions, at its place in an order. */
export type Conditional = {
  /** Fits when one of these does. */
  readonly when: Alternatives;
};

/** A piece that one rule decides, or several that do the same. */
export type Decided<Rule> = {
  /** The first rule that fits; where several do the same, one of them: `ruleOf` tells which it is for one packet. */
  readonly rule: Rule;
  /** The match of it that fits; where several do the same, a match of `rule`, which may let only some of the packets pass. */
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

type Line<Rule> = {
  readonly rule: Rule;
  readonly match: readonly Test[];
  /** Lines with the same word do the same. */
  readonly alike?: string;
};

/** Lines that flows with the same names can meet. */
type Slice<Rule> = {
  readonly lines: readonly Line<Rule>[];
  readonly hulls: Hulls;
  /** Some line lets only some of the names pass. */
  readonly partsNames: boolean;
};

/** Lines that are taken away one by one; more become a diagram. */
const SHORT = 12;
/** Lines looked at in one pass that count as a step of work. */
const SCANNED = 64;

/** A list of rules with its slices. */
export class RuleList<Rule extends Conditional> {
  /** Some rule looks at what tells kinds of protocols apart. */
  readonly tellsKinds: boolean;
  readonly #lines: readonly Line<Rule>[];
  /** Name fields that some rule looks at. */
  readonly #asked: readonly number[];
  readonly #slices = new Map<string, Slice<Rule>>();

  /** `alikeOf`: rules with the same word do the same, so that it does not matter which of them decides; undefined: it does. */
  constructor(rules: readonly Rule[], alikeOf: (rule: Rule) => string | undefined = () => undefined) {
    this.#lines = rules.flatMap((rule) => {
      const alike = alikeOf(rule);
      return rule.when.map((match) => ({ rule, match: testsOf(match), ...(alike === undefined ? {} : { alike }) }));
    });
    this.tellsKinds = this.#lines.some(({ match }) => match.some(tellsKinds));
    this.#asked = NAME_FIELDS.flatMap((_, field) => (this.#lines.some((line) => asks(line, field)) ? [field] : []));
  }

  /** Cuts a flow by first match. When the meter runs out, the rest is left undecided: ask the meter. */
  split(flow: Flow, meter: Meter): Decisions<Rule> {
    const slice = this.#sliceFor(flow);
    if (slice.partsNames) return together(singlyNamed(flow, this.#asked).map((piece) => this.split(piece, meter)));
    meter.take(Math.floor(slice.lines.length / SCANNED));
    const lines = slice.lines.length > SHORT ? meetingLines(slice, flow) : slice.lines;
    return lines.length > SHORT ? byDiagram(flow, lines, meter) : oneByOne(flow, lines, meter);
  }

  /** The rule that decides the packets of a flow, all of which pass the same tests; undefined: none fits. */
  ruleOf(flow: Flow): Rule | undefined {
    const { lines } = this.#sliceFor(flow);
    return lines.find(({ match }) => match.every((test) => mayPass(flow, test)))?.rule;
  }

  /** The lines that may fit, without the tests on names that surely pass. */
  #sliceFor(flow: Flow): Slice<Rule> {
    const key = this.#asked.map((field) => flow.names[field]?.join(" ")).join("|");
    const known = this.#slices.get(key);
    if (known !== undefined) return known;
    const lines = this.#asked.length === 0 ? this.#lines : this.#lines.flatMap((line) => sliced(line, flow));
    const partsNames = lines.some(({ match }) => match.some(({ kind }) => kind === "name"));
    const found = { lines, hulls: hullsOf(lines.map(({ match }) => match)), partsNames };
    this.#slices.set(key, found);
    return found;
  }
}

/** The lines of a slice without those that a flow surely passes by. */
function meetingLines<Rule>({ lines, hulls }: Slice<Rule>, flow: Flow): readonly Line<Rule>[] {
  // Places are those of the slice's own lines.
  return meeting(hulls, flow, lines.length).map((at) => lines[at] as Line<Rule>);
}

type Piece<Rule> = Line<Rule> & { readonly flow: Flow };

function oneByOne<Rule>(flow: Flow, lines: readonly Line<Rule>[], meter: Meter): Decisions<Rule> {
  const decided: Piece<Rule>[] = [];
  let left: readonly Flow[] = [flow];
  for (const line of lines) {
    if (left.length === 0 || !meter.take(left.length)) break;
    const others: Flow[] = [];
    for (const piece of left) {
      const hit = cutOff(piece, line.match, others);
      if (hit !== undefined) put(decided, line, hit);
    }
    left = others;
  }
  return { decided, left };
}

/** Adds packets to a piece that does the same, where both together are a product, or behind all others. */
function put<Rule>(pieces: Piece<Rule>[], { rule, match, alike }: Line<Rule>, flow: Flow): void {
  for (let at = 0; alike !== undefined && at < pieces.length; at++) {
    // It is within the list.
    const known = pieces[at] as Piece<Rule>;
    const both = known.alike === alike ? joint(known.flow, flow) : undefined;
    if (both === undefined) continue;
    pieces[at] = { rule: known.rule, match: known.match, alike, flow: both };
    return;
  }
  pieces.push({ rule, match, ...(alike === undefined ? {} : { alike }), flow });
}

function byDiagram<Rule>(flow: Flow, lines: readonly Line<Rule>[], meter: Meter): Decisions<Rule> {
  const decided: Decided<Rule>[] = [];
  const left: Flow[] = [];
  for (const found of new Diagram(flow, lines, meter).all()) {
    const line = lines[found.match];
    if (line === undefined) left.push(found.flow);
    else decided.push({ ...line, flow: found.flow });
  }
  return { decided, left };
}

/**
 * Whether a line with one of these matches may make a difference to how a list cuts a flow: by a packet that fits, or by
 * another way to look for one. A superset.
 */
export function mayTouch(flow: Flow, when: Alternatives): boolean {
  return when.some((match) => {
    const tests = testsOf(match);
    const names = tests.filter(({ kind }) => kind === "name");
    if (!names.every((test) => mayPass(flow, test))) return false;
    return !names.every((test) => surelyPasses(flow, test)) || meeting(hullsOf([tests]), flow, 1).length > 0;
  });
}

/**
 * Whether a list may cut a flow otherwise where a line looks for something else than before. A superset: false where of each
 * field the packets have the same values pass, since then every piece is the same one.
 */
export function mayCutOtherwise(flow: Flow, before: Alternatives, after: Alternatives): boolean {
  const isSame =
    before.length === after.length &&
    before.every((match, index) => cutsAlike(flow, testsOf(match), testsOf(after[index] ?? [])));
  return !isSame && (mayTouch(flow, before) || mayTouch(flow, after));
}

function cutsAlike(flow: Flow, before: readonly Test[], after: readonly Test[]): boolean {
  return [...before, ...after].every(({ kind, field }) => {
    const isAsked = (test: Test): boolean => test.kind === kind && test.field === field;
    const [old, now] = [before.filter(isAsked), after.filter(isAsked)];
    if (kind === "name") {
      const passing = (tests: readonly Test[]): readonly string[] => passingNames(flow, field, tests);
      return passing(old).length > 0 && passing(old).join(" ") === passing(now).join(" ");
    }
    const [some, same] = [passingNumbers(flow, field, old), passingNumbers(flow, field, now)];
    return some.length > 0 && rangesEqual(some, same);
  });
}

function passingNames(flow: Flow, field: number, tests: readonly Test[]): readonly string[] {
  const passes = (name: string): boolean => tests.every((test) => test.kind === "name" && test.oneOf.includes(name));
  return (flow.names[field] ?? []).filter(passes);
}

function passingNumbers(flow: Flow, field: number, tests: readonly Test[]): Ranges {
  return tests.reduce<Ranges>(
    (values, test) => (test.kind === "number" ? intersectRanges(values, test.within) : values),
    valuesOf(flow, field),
  );
}

/** A flow by each combination of its names in some fields. */
function singlyNamed(flow: Flow, fields: readonly number[]): readonly Flow[] {
  return fields.reduce<readonly Flow[]>(
    (flows, field) => flows.flatMap((each) => (each.names[field] ?? []).map((name) => withName(each, field, [name]))),
    [flow],
  );
}

function together<Rule>(all: readonly Decisions<Rule>[]): Decisions<Rule> {
  return { decided: all.flatMap(({ decided }) => decided), left: all.flatMap(({ left }) => left) };
}

function asks<Rule>({ match }: Line<Rule>, field: number): boolean {
  return match.some((test) => test.kind === "name" && test.field === field);
}

function sliced<Rule>(line: Line<Rule>, flow: Flow): readonly Line<Rule>[] {
  const isName = (test: Test): boolean => test.kind === "name";
  if (!line.match.filter(isName).every((test) => mayPass(flow, test))) return [];
  return [{ ...line, match: line.match.filter((test) => !surelyPasses(flow, test)) }];
}

/** Whether all packets of a flow pass a test on names. */
function surelyPasses(flow: Flow, test: Test): boolean {
  return test.kind === "name" && (flow.names[test.field] ?? []).every((name) => test.oneOf.includes(name));
}
