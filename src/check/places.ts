/**
 * The places that a person is shown for the lines that decided.
 */
import type { Evidence } from "../result/index.ts";

/** Deciding lines, each place once. What a role says is shown where the role is used, then where it is defined. */
export function placesOf(decidedBy: readonly Evidence[]): readonly Evidence[] {
  const seen = new Set<string>();
  return decidedBy
    .flatMap(({ origin: { through = [], ...origin }, text }): Evidence[] => {
      const uses = through.slice(0, 1).map((span) => ({ origin: { ...origin, span }, text }));
      return [...uses, { origin, text: uses.length === 0 ? text : "as it is defined here" }];
    })
    .filter(({ origin: { span } }) => {
      const key = `${span.file}:${span.start}:${span.end}`;
      const isNew = !seen.has(key);
      seen.add(key);
      return isNew;
    });
}
