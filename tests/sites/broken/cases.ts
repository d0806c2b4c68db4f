/**
 * All broken plans.
 */
import type { BrokenPlan } from "./plan.ts";
import { SEEN } from "./seen.ts";
import { UNSEEN } from "./unseen.ts";

/** Those written without sight of the checker first. */
export const BROKEN_PLANS: readonly BrokenPlan[] = [...UNSEEN, ...SEEN];
