/**
 * An edit tried: the plan after it, and how assertions end there. Each assertion is judged when it is first asked for, and
 * once; that nothing else breaks is asked last, assertion by assertion, until one does.
 */
import { judgeOne } from "../check/index.ts";
import type { Assertion, AssertionsDocument } from "../document/index.ts";
import { namesOf, type Status } from "../result/index.ts";
import type { Candidate } from "./candidate.ts";
import { type Plan, planAfter } from "./plan.ts";

/** One assertion of the site, with the file it stands in. */
export type Demanded = {
  /** The assertion. */
  readonly assertion: Assertion;
  /** Its id, `FILE#NAME`. */
  readonly id: string;
};

/** Every assertion of some files, in their order. */
export function demandedBy(
  files: readonly { readonly path: string; readonly document: AssertionsDocument }[],
): Demanded[] {
  return files.flatMap(({ path, document }) =>
    document.assertions.map((assertion) => ({ assertion, id: `${path}#${assertion.name.value}` })),
  );
}

/** How assertions end on a plan. */
export type Judge = (demanded: Demanded) => Status;

/** Judges on a plan; the seam where what an edit does not touch may be known already. @throws EnginesDisagree */
export function judgeOn({ evaluation }: Plan): Judge {
  const names = namesOf(evaluation.network);
  const known = new Map<string, Status>();
  return ({ assertion, id }) => {
    const status =
      known.get(id) ?? judgeOne(assertion, { evaluation, names, site: "", file: "" })?.status ?? "undecided";
    known.set(id, status);
    return status;
  };
}

/** An edit that was tried. */
export type Trial = {
  /** The edit. */
  readonly candidate: Candidate;
  /** The plan after it. */
  readonly plan: Plan;
  /** How assertions end there. */
  readonly judge: Judge;
};

/** Tries an edit; undefined: the plan does not load after it, or something is said of it that was not said before. */
export function tryOut(plan: Plan, candidate: Candidate): Trial | undefined {
  const after = planAfter(plan, candidate.file, candidate.edits);
  return after && { candidate, plan: after, judge: judgeOn(after) };
}

/** From good to bad. */
const ORDER: readonly Status[] = ["passed", "skipped", "undecided", "vacuous", "failed"];

/** Whether an assertion holds after the edit, and no other ends worse than it did. */
export function mends(trial: Trial, wanted: Demanded, all: readonly Demanded[], before: Judge): boolean {
  if (trial.judge(wanted) !== "passed") return false;
  const rank = (status: Status): number => ORDER.indexOf(status);
  // Those that held are asked first: with them it shows soonest that an edit breaks something.
  const sorted = all.toSorted((a, b) => rank(before(a)) - rank(before(b)));
  return sorted.every((each) => rank(trial.judge(each)) <= rank(before(each)));
}
