/**
 * Bounds on what a file may hold, far above what a plan of a thousand devices needs: hostile input ends in a diagnostic,
 * not in a full memory.
 */

/** The most a file may hold, in UTF-16 code units. */
export const LARGEST_FILE: number = 2 * 1024 * 1024;

/** The deepest nesting of lists and mappings; the kinds need 9. */
export const DEEPEST = 32;

/** The most values (texts, lists, mappings) in one file. */
export const MOST_VALUES = 400_000;

/** The most names that one run such as `p1..24` may stand for. */
export const MOST_IN_RUN = 4096;

/** The longest name, in UTF-16 code units. */
export const LONGEST_NAME = 64;

/** The most diagnostics told of one file; one more says that there are others. */
export const MOST_DIAGNOSTICS = 500;
