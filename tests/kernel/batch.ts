/** The fixed batch of random sites: what CI runs, and what has to find planted faults. */

/** Seeds of the batch. */
export const BATCH_SEEDS: readonly number[] = Array.from({ length: 50 }, (_, index) => index + 1);

/** Seeds of sites that lend addresses. */
export const LEASE_SEEDS: readonly number[] = Array.from({ length: 16 }, (_, index) => index + 1);

/** Questions of each site. */
export const BATCH_QUESTIONS = 25;

/** Seeds of link layers. */
export const LINK_SEEDS: readonly number[] = Array.from({ length: 12 }, (_, index) => index + 1);

/** Questions of each of these. */
export const LINK_QUESTIONS = 20;
