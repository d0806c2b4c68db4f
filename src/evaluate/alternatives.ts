/** What is tried next of what stays open. */
import type { Choice, Pick } from "../network/index.ts";

/**
 * The picks to try next: each choice taken beyond the fixed ones, with every option not yet taken and the ones before it as they
 * were taken. Whoever begins without a pick and follows all of these tries each combination once.
 */
export function alternatives(
  used: readonly Pick[],
  fixed: readonly Pick[],
  options: ReadonlyMap<string, Choice["options"]>,
): (readonly Pick[])[] {
  return used.flatMap((pick, index) => {
    if (fixed.some((earlier) => earlier.choice === pick.choice)) return [];
    const before = used.slice(0, index);
    const others = (options.get(pick.choice) ?? []).filter((option) => option !== pick.option);
    return others.map((option) => [...before, { choice: pick.choice, option }]);
  });
}
