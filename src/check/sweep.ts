/**
 * `survives`: what holds on the whole site is asked again without each of the parts named, after everything has settled, then
 * without each pair of them that holds no part which breaks it alone. Only failures that change something which the verdict
 * looked at are asked (`evaluate/footprint.ts`). Failures have numbers, so that a stretch of them can be tried elsewhere: what
 * comes of all stretches, put together, is what comes of all failures here.
 *
 * An end that fails itself, or loses all its own cables, is not asked: nothing around it could keep it. So what is blocked and has
 * lost its source, or connects between ends that are gone, holds.
 */
import type { Assertion, FailingKind, Survives } from "../document/index.ts";
import { Changes, eachPartOnce, type FailingPart, type Footprint, partKey, partsOf } from "../evaluate/index.ts";
import { idOf } from "../network/index.ts";
import type { CheckContext, Finding } from "./context.ts";

/** An assertion that holds on the whole site and must survive something. */
export type Survivor = {
  /** It. */
  readonly assertion: Assertion;
  /** What it must survive. */
  readonly survives: Survives;
  /** What its verdict on the whole site looked at. */
  readonly footprint: Footprint;
};

/** Parts without which an assertion does not hold. */
export type Broken = {
  /** One or two. */
  readonly parts: readonly FailingPart[];
  /** How it ends without them. */
  readonly finding: Finding;
};

/** What came of one assertion. */
export type Survival = {
  /** How many failures were tried, those that could change nothing included. */
  readonly tried: number;
  /** Smallest sets of parts without which it fails, single ones first. */
  readonly breaks: readonly Broken[];
  /** The first failure of which nobody can tell. */
  readonly open?: Broken;
};

/** How an assertion ends on a site without some of its parts. */
type Judging = (assertion: Assertion, context: CheckContext) => Finding;

/** Some of the failures that several assertions must survive, by their numbers in the order in which they are tried. */
export type Stretch = {
  /** One part fails at a time, or two. */
  readonly size: 1 | 2;
  /** Number of the first one. */
  readonly from: number;
  /** Number behind the last one. */
  readonly to: number;
};

/** Several assertions under the failures that they must survive, all of them or a stretch at a time. */
export class Sweep {
  readonly #trials: readonly Trial[];
  readonly #context: CheckContext;
  readonly #judge: Judging;
  /** Every single part that any of them must survive; every one of the pairs: in document order, since others may be tried elsewhere. */
  readonly #parts: readonly FailingPart[];
  readonly #paired: readonly FailingPart[];

  constructor(survivors: readonly Survivor[], context: CheckContext, judge: Judging) {
    this.#trials = survivors.map((survivor) => new Trial(survivor, context));
    this.#context = context;
    this.#judge = judge;
    this.#parts = eachPartOnce(this.#trials.flatMap(({ single }) => single));
    this.#paired = eachPartOnce(this.#trials.flatMap(({ paired }) => paired));
  }

  /** How many failures of one size there are. */
  count(size: Stretch["size"]): number {
    const { length } = this.#paired;
    return size === 1 ? this.#parts.length : (length * (length - 1)) / 2;
  }

  /** What becomes of each assertion under all failures, in their order. */
  all(onTried: () => void): readonly Survival[] {
    if (this.#trials.length === 0) return [];
    const single = this.tried({ size: 1, from: 0, to: this.count(1) }, undefined, onTried);
    const pairs = this.tried({ size: 2, from: 0, to: this.count(2) }, single, onTried);
    return joinedSurvivals([single, pairs]);
  }

  /** The same under some failures; pairs hold no part that breaks the assertion alone, as `before` has found it. */
  tried(
    { size, from, to }: Stretch,
    before?: readonly Survival[],
    onTried: () => void = () => {},
  ): readonly Survival[] {
    const { evaluation: whole } = this.#context;
    const survivals = this.#trials.map((): Found => ({ tried: 0, breaks: [] }));
    const fatal = this.#trials.map((_, index) => fatalIn(before?.[index]));
    for (const parts of numbered(size === 1 ? singles(this.#parts) : pairs(this.#paired), from, to)) {
      const asked = this.#trials.flatMap((trial, index) => (trial.asks(parts, fatal[index] ?? NONE) ? [index] : []));
      if (asked.length === 0) continue;
      const evaluation = whole.without(parts);
      const changes = new Changes(whole, evaluation);
      for (const index of asked) {
        const [trial, found] = [this.#trials[index], survivals[index]];
        if (trial !== undefined && found !== undefined)
          trial.judge(parts, { ...this.#context, evaluation }, changes, this.#judge, found);
      }
      onTried();
    }
    return survivals;
  }
}

const NONE: ReadonlySet<string> = new Set();

/** Keys of parts that break an assertion alone. */
function fatalIn(survival: Survival | undefined): ReadonlySet<string> {
  return new Set(
    (survival?.breaks ?? []).flatMap(({ parts: [only, ...others] }) =>
      only !== undefined && others.length === 0 ? [partKey(only)] : [],
    ),
  );
}

/** What becomes of each assertion under several stretches of failures, in the order of these. */
export function joinedSurvivals(stretches: readonly (readonly Survival[])[]): readonly Survival[] {
  const [first = []] = stretches;
  return first.map((_, index) => {
    const all = stretches.flatMap((each) => each[index] ?? []);
    const open = all.find((each) => each.open !== undefined)?.open;
    return {
      tried: all.reduce((sum, { tried }) => sum + tried, 0),
      breaks: all.flatMap(({ breaks }) => breaks),
      ...(open === undefined ? {} : { open }),
    };
  });
}

function* singles(parts: readonly FailingPart[]): Generator<readonly FailingPart[]> {
  for (const part of parts) yield [part];
}

function* pairs(parts: readonly FailingPart[]): Generator<readonly FailingPart[]> {
  for (const [index, first] of parts.entries()) for (const second of parts.slice(index + 1)) yield [first, second];
}

function* numbered<Thing>(things: Iterable<Thing>, from: number, to: number): Generator<Thing> {
  let number = 0;
  for (const thing of things) {
    if (number >= to) return;
    if (number++ >= from) yield thing;
  }
}

/** A survival as it is found. */
type Found = { tried: number; breaks: Broken[]; open?: Broken };

class Trial {
  /** Parts of which each alone may fail; of those of `paired` any two. */
  readonly single: readonly FailingPart[];
  readonly paired: readonly FailingPart[];
  readonly #survivor: Survivor;
  readonly #mayFail: readonly [single: ReadonlySet<string>, paired: ReadonlySet<string>];

  constructor(survivor: Survivor, { evaluation }: CheckContext) {
    this.#survivor = survivor;
    const { oneOf, twoOf } = survivor.survives;
    const [one, two] = [oneOf, twoOf].map((list) => (list?.value ?? []).map(({ value }): FailingKind => value));
    const found = (kinds: readonly FailingKind[]): readonly FailingPart[] =>
      kinds.length === 0 ? [] : partsOf(evaluation.network, evaluation.worlds().worlds, new Set(kinds));
    this.single = found([...(one ?? []), ...(two ?? [])]);
    this.paired = found(two ?? []);
    this.#mayFail = [new Set(this.single.map(partKey)), new Set(this.paired.map(partKey))];
  }

  /** Whether these parts may fail, and none of them breaks it alone. */
  asks(parts: readonly FailingPart[], fatal: ReadonlySet<string>): boolean {
    const [single, paired] = this.#mayFail;
    const mayFail = parts.length === 1 ? single : paired;
    return parts.map(partKey).every((key) => mayFail.has(key) && !fatal.has(key));
  }

  judge(parts: readonly FailingPart[], context: CheckContext, changes: Changes, judge: Judging, found: Found): void {
    found.tried++;
    const { assertion, footprint } = this.#survivor;
    if (!changes.meet(footprint) || isGone(assertion, context)) return;
    const finding = judge(assertion, context);
    // What is vacuous now was not on the whole site: nobody serves or sends any more.
    if (finding.status === "failed" || finding.status === "vacuous") found.breaks.push({ parts, finding });
    else if (finding.status === "undecided") found.open ??= { parts, finding };
  }
}

/** A client that is gone asks for no lease; groups have lost theirs already. */
function isGone(assertion: Assertion, { evaluation: { network, gone } }: CheckContext): boolean {
  if (assertion.kind !== "lease" || gone.size === 0) return false;
  const client = idOf(assertion.lease.client.value.name);
  return network.stacks.some(({ id, device }) => device === client && gone.has(id));
}
