/**
 * An edit tried: the plan after it, and how assertions end there. Each assertion is judged when it is first asked for, and
 * once; one that looked at nothing that the edit changes ends as before. That nothing else breaks is asked last, assertion by
 * assertion, until one does.
 */
import { type Ending, judgeOne } from "../check/index.ts";
import { ANYWHERE } from "../diagnose/index.ts";
import type { Assertion, AssertionsDocument } from "../document/index.ts";
import { Changes } from "../evaluate/index.ts";
import type { Status } from "../result/index.ts";
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

/** The same with what each ending rests on. */
export type Knowing = (demanded: Demanded) => Ending;

/** Judges on a plan; `known` holds by their ids how some end there. @throws EnginesDisagree */
export function judgeOn({ evaluation }: Plan, known: ReadonlyMap<string, Ending> = new Map()): Knowing {
  const endings = new Map(known);
  return ({ assertion, id }) => {
    const ending = endings.get(id) ?? judgeOne(assertion, evaluation);
    endings.set(id, ending);
    return ending;
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
export function tryOut(plan: Plan, candidate: Candidate, before: Knowing): Trial | undefined {
  const after = planAfter(plan, candidate.file, candidate.edits);
  return after && { candidate, plan: after, judge: judgeAfter(plan, after, before) };
}

/** Asks again only where the edit changed what was looked at. */
function judgeAfter(plan: Plan, after: Plan, before: Knowing): Judge {
  const anew = judgeOn(after);
  const statuses = new Map<string, Status>();
  let changes: Changes | undefined;
  return (demanded) => {
    const known = statuses.get(demanded.id);
    if (known !== undefined) return known;
    changes ??= new Changes(plan.evaluation, after.evaluation, ANYWHERE);
    const { status, footprint } = before(demanded);
    const now = changes.meet(footprint) ? anew(demanded).status : status;
    statuses.set(demanded.id, now);
    return now;
  };
}

/** From good to bad. */
const ORDER: readonly Status[] = ["passed", "skipped", "undecided", "vacuous", "failed"];

/** The first assertion that ends worse after the edit than it did; undefined: none does. */
export function harmedBy(trial: Trial, all: readonly Demanded[], before: Judge): Demanded | undefined {
  const rank = (status: Status): number => ORDER.indexOf(status);
  // Those that held are asked first: with them it shows soonest that an edit breaks something.
  const sorted = all.toSorted((a, b) => rank(before(a)) - rank(before(b)));
  return sorted.find((each) => rank(trial.judge(each)) > rank(before(each)));
}
