/**
 * `survives`: what holds on the whole site is asked again without each of the parts named, after everything has settled, then
 * without each pair of them that holds no part which breaks it alone. Only failures that change something which the verdict
 * looked at are asked (`evaluate/footprint.ts`).
 *
 * An end that fails itself, or loses all its own cables, is not asked: nothing around it could keep it. So what is blocked and has
 * lost its source, or connects between ends that are gone, holds.
 */
import type { Assertion, FailingKind, Survives } from "../document/index.ts";
import { Changes, type FailingPart, type Footprint, partsOf } from "../evaluate/index.ts";
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

/** What becomes of each survivor, in their order. */
export function survivalsOf(
  survivors: readonly Survivor[],
  context: CheckContext,
  judge: Judging,
): readonly Survival[] {
  const trials = survivors.map((survivor) => new Trial(survivor, context));
  for (const parts of setsOf(trials)) {
    const asked = trials.filter((trial) => trial.asks(parts));
    if (asked.length === 0) continue;
    const evaluation = context.evaluation.without(parts);
    const changes = new Changes(context.evaluation, evaluation);
    for (const trial of asked) trial.judge(parts, { ...context, evaluation }, changes, judge);
  }
  return trials;
}

/** Every single part that any of them must survive, then every pair. */
function* setsOf(trials: readonly Trial[]): Generator<readonly FailingPart[]> {
  const parts = eachOnce(trials.flatMap(({ single }) => single));
  for (const part of parts) yield [part];
  const paired = eachOnce(trials.flatMap(({ paired }) => paired));
  for (const [index, first] of paired.entries()) {
    for (const second of paired.slice(index + 1)) yield [first, second];
  }
}

/** In document order, whoever else is asked: some of a file's assertions may be judged elsewhere. */
function eachOnce(parts: readonly FailingPart[]): readonly FailingPart[] {
  return [...new Map(parts.map((part) => [part.id, part])).values()].sort(
    ({ id: a, origin: { span: one } }, { id: b, origin: { span: other } }) =>
      one.file - other.file || one.start - other.start || one.end - other.end || (a < b ? -1 : 1),
  );
}

class Trial implements Survival {
  tried = 0;
  readonly breaks: Broken[] = [];
  open?: Broken;
  /** Parts of which each alone may fail; of those of `paired` any two. */
  readonly single: readonly FailingPart[];
  readonly paired: readonly FailingPart[];
  readonly #survivor: Survivor;

  constructor(survivor: Survivor, { evaluation }: CheckContext) {
    this.#survivor = survivor;
    const { oneOf, twoOf } = survivor.survives;
    const [one, two] = [oneOf, twoOf].map((list) => (list?.value ?? []).map(({ value }): FailingKind => value));
    const [world] = evaluation.worlds().worlds;
    const found = (kinds: readonly FailingKind[]): readonly FailingPart[] =>
      world === undefined ? [] : partsOf(evaluation.network, world.settled, new Set(kinds));
    this.single = found([...(one ?? []), ...(two ?? [])]);
    this.paired = found(two ?? []);
  }

  /** Whether these parts may fail, and none of them breaks it alone. */
  asks(parts: readonly FailingPart[]): boolean {
    const mayFail = parts.length === 1 ? this.single : this.paired;
    const isBroken = (part: FailingPart): boolean =>
      this.breaks.some((broken) => broken.parts.length === 1 && broken.parts[0]?.id === part.id);
    return parts.every((part) => mayFail.some(({ id }) => id === part.id) && !isBroken(part));
  }

  judge(parts: readonly FailingPart[], context: CheckContext, changes: Changes, judge: Judging): void {
    this.tried++;
    const { assertion, footprint } = this.#survivor;
    if (!changes.meet(footprint) || isGone(assertion, context)) return;
    const finding = judge(assertion, context);
    if (finding.status === "failed") this.breaks.push({ parts, finding });
    else if (finding.status === "undecided") this.open ??= { parts, finding };
  }
}

/** A client that is gone asks for no lease; groups have lost theirs already. */
function isGone(assertion: Assertion, { evaluation: { network, gone } }: CheckContext): boolean {
  if (assertion.kind !== "lease" || gone.size === 0) return false;
  const client = idOf(assertion.lease.client.value.name);
  return network.stacks.some(({ id, device }) => device === client && gone.has(id));
}

/** What a survival says of an assertion that holds on the whole site. */
export function survivalFinding(held: Finding, survival: Survival, { survives }: Survivor): Finding {
  const { tried, breaks, open } = survival;
  const [worst, ...others] = breaks;
  if (worst !== undefined) return { ...brokenFinding(worst, others.length), breaks: breaks.map(told) };
  if (open !== undefined) return { ...brokenFinding(open, 0), status: "undecided" };
  if (tried === 0) {
    const text = "nothing that could fail is named by `survives`";
    return {
      ...held,
      status: "vacuous",
      headline: text,
      decidedBy: [{ origin: { by: "written", span: survives.span }, text }],
    };
  }
  const sets = tried === 1 ? "the one failure" : `each of ${tried} failures`;
  return { ...held, headline: `${held.headline}; survives ${sets}` };
}

function brokenFinding({ parts, finding }: Broken, others: number): Finding {
  const labels = labelOf(parts);
  const more = others === 0 ? "" : `; ${others} more ${others === 1 ? "failure breaks" : "failures break"} it`;
  return {
    ...finding,
    headline: `without ${labels}: ${finding.headline}${more}`,
    help: `a second way around ${labels} would keep it; else \`survives\` promises more than the plan does`,
    decidedBy: [...parts.map(({ origin, label }) => ({ origin, text: `${label} fails` })), ...finding.decidedBy],
  };
}

function told({ parts, finding }: Broken): NonNullable<Finding["breaks"]>[number] {
  return { without: parts.map(({ label }) => label), text: finding.headline };
}

function labelOf(parts: readonly FailingPart[]): string {
  return parts.map(({ label }) => label).join(" and ");
}
