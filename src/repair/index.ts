/**
 * Minimal repair: for an assertion that does not hold, single edits of the plan that make it hold. Candidates come from
 * the failure itself, its deciding lines and the lists and routes on the packet's way; each is tried on the documents, with
 * every assertion of the site judged on what they then say. A repair is a suggestion: it is checked against the model and the
 * written assertions, and against nothing else.
 */
export { type Helper, type Helpers, newHelper, type Rung } from "./helpers.ts";
export { type Plan, planFrom, planOf } from "./plan.ts";
export { type RepairRequest, repairsOf } from "./repair.ts";
export { type Demanded, demandedBy } from "./trial.ts";
