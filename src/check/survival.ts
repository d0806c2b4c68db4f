/**
 * `survives`: what holds on the whole site is asked again without each of the parts named, after everything has settled, then
 * without each pair of them that holds no part which breaks it alone. Only failures that change something which the verdict
 * looked at are asked (`evaluate/footprint.ts`).
 *
 * An end that fails itself, or loses all its own cables, is not asked: nothing around it could keep it. So what is blocked and has
 * lost its source, or connects between ends that are gone, holds.
 */
import type { Assertion, FailingKind, Survives } from "../document/index.ts";
import { Changes, eachPartOnce, type FailingPart, type Footprint, partKey, partsOf } from "../evaluate/index.ts";
import { deviceOf, type Id, idOf, type Network } from "../network/index.ts";
import type { Break } from "../result/index.ts";
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
  onTried: () => void,
): readonly Survival[] {
  const trials = survivors.map((survivor) => new Trial(survivor, context));
  for (const parts of setsOf(trials)) {
    const asked = trials.filter((trial) => trial.asks(parts));
    if (asked.length === 0) continue;
    const evaluation = context.evaluation.without(parts);
    const changes = new Changes(context.evaluation, evaluation);
    for (const trial of asked) trial.judge(parts, { ...context, evaluation }, changes, judge);
    onTried();
  }
  return trials;
}

/** Every single part that any of them must survive, then every pair: in document order, since others may be judged elsewhere. */
function* setsOf(trials: readonly Trial[]): Generator<readonly FailingPart[]> {
  const parts = eachPartOnce(trials.flatMap(({ single }) => single));
  for (const part of parts) yield [part];
  const paired = eachPartOnce(trials.flatMap(({ paired }) => paired));
  for (const [index, first] of paired.entries()) {
    for (const second of paired.slice(index + 1)) yield [first, second];
  }
}

class Trial implements Survival {
  tried = 0;
  readonly breaks: Broken[] = [];
  open?: Broken;
  /** Parts of which each alone may fail; of those of `paired` any two. */
  readonly single: readonly FailingPart[];
  readonly paired: readonly FailingPart[];
  readonly #survivor: Survivor;
  readonly #mayFail: readonly [single: ReadonlySet<string>, paired: ReadonlySet<string>];
  /** Keys of parts that break it alone. */
  readonly #fatal = new Set<string>();

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
  asks(parts: readonly FailingPart[]): boolean {
    const [single, paired] = this.#mayFail;
    const mayFail = parts.length === 1 ? single : paired;
    return parts.map(partKey).every((key) => mayFail.has(key) && !this.#fatal.has(key));
  }

  judge(parts: readonly FailingPart[], context: CheckContext, changes: Changes, judge: Judging): void {
    this.tried++;
    const { assertion, footprint } = this.#survivor;
    if (!changes.meet(footprint) || isGone(assertion, context)) return;
    const finding = judge(assertion, context);
    // What is vacuous now was not on the whole site: nobody serves or sends any more.
    if (finding.status === "failed" || finding.status === "vacuous") this.#breakBy(parts, finding);
    else if (finding.status === "undecided") this.open ??= { parts, finding };
  }

  #breakBy(parts: readonly FailingPart[], finding: Finding): void {
    this.breaks.push({ parts, finding });
    const [only, ...others] = parts;
    if (only !== undefined && others.length === 0) this.#fatal.add(partKey(only));
  }
}

/** A client that is gone asks for no lease; groups have lost theirs already. */
function isGone(assertion: Assertion, { evaluation: { network, gone } }: CheckContext): boolean {
  if (assertion.kind !== "lease" || gone.size === 0) return false;
  const client = idOf(assertion.lease.client.value.name);
  return network.stacks.some(({ id, device }) => device === client && gone.has(id));
}

/** What a survival says of an assertion that holds on the whole site. */
export function survivalFinding(
  held: Finding,
  survival: Survival,
  { survives, assertion }: Survivor,
  network: Network,
): Finding {
  const { tried, breaks, open } = survival;
  const [worst, ...others] = breaks;
  if (worst !== undefined)
    return { ...brokenFinding(worst, others.length, assertion), breaks: breaks.map((each) => told(each, network)) };
  if (open !== undefined) return { ...brokenFinding(open, 0, assertion), status: "undecided" };
  if (tried === 0) {
    const kinds = [survives.oneOf, survives.twoOf].flatMap((list) => (list?.value ?? []).map(({ value }) => value));
    const text = `the site has no ${[...new Set(kinds)].join(" and no ")} that could fail`;
    const { witness: _witness, path: _path, picks: _picks, ...rest } = held;
    return {
      ...rest,
      status: "vacuous",
      headline: text,
      decidedBy: [{ origin: { by: "written", span: survives.span }, text }],
    };
  }
  const sets = tried === 1 ? "the one failure" : `each of ${tried} failures`;
  return { ...held, headline: `${held.headline}; survives ${sets}` };
}

function brokenFinding({ parts, finding }: Broken, others: number, assertion: Assertion): Finding {
  const labels = labelOf(parts);
  const more = others === 0 ? "" : `; ${others} more ${others === 1 ? "failure breaks" : "failures break"} it`;
  return {
    ...finding,
    status: "failed",
    headline: `without ${labels}: ${finding.headline}${more}`,
    help: `${mendingFor(parts, assertion)}; else \`survives\` promises more than the plan does`,
    decidedBy: [...parts.map(({ origin, label }) => ({ origin, text: `${label} fails` })), ...finding.decidedBy],
  };
}

/** What would keep an assertion without some parts. */
function mendingFor(parts: readonly FailingPart[], assertion: Assertion): string {
  const labels = labelOf(parts);
  if (assertion.kind === "reach" && assertion.expect.value === "blocked")
    return `keep the two apart on the way that takes over from ${labels}, too`;
  if (parts.every(({ fails }) => fails === "service")) return `a second one beside ${labels} would keep it`;
  return `a second way around ${labels} would keep it`;
}

function told({ parts, finding }: Broken, network: Network): Break {
  const down = parts.flatMap((part) => downWith(part, network));
  return { without: parts.map(({ label }) => label), parts: [...new Set(down)], text: finding.headline };
}

/** What is drawn of a part that fails: of a server its device. */
function downWith({ fails, id }: FailingPart, { links, services }: Network): readonly Id[] {
  switch (fails) {
    case "link":
    case "device":
      return [id];
    case "fate":
      return links.filter((link) => link.downWith.includes(id)).map((link) => link.id);
    case "service":
      return services.filter((service) => service.id === id).map(({ stack }) => deviceOf(stack));
  }
}

function labelOf(parts: readonly FailingPart[]): string {
  return parts.map(({ label }) => label).join(" and ");
}
