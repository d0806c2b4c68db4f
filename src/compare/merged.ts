/**
 * Differences that one line makes are one difference: those that agree in all but whom they reach, then those that agree
 * in all but who begins. The first one's packet and way stand for all. Of those in a network each stops at itself, so only changed
 * lines count there.
 */
import type { Decision, Difference, DifferenceEnd } from "../result/index.ts";
import { OF, partOf, VERSIONS } from "./words.ts";

/** Which lines two differences must share. */
type Shared = "all-lines" | "changed-lines";

/** Differences with those joined that go together, in the order of the first of each. */
export function merged(differences: readonly Difference[], lines: Shared): readonly Difference[] {
  const key = (shared: "from" | "to") => (each: Difference) => keyOf(each, each[shared], lines);
  const byTarget = joined(differences, key("from"), (known, { to }) => ({
    ...known,
    to: onceEach([...known.to, ...to]),
  }));
  return joined(byTarget, key("to"), (known, { from }) => ({ ...known, from: onceEach([...known.from, ...from]) }));
}

/** Each end once; what of one is there of every version of IP without a word of these. */
function onceEach(ends: readonly DifferenceEnd[]): readonly DifferenceEnd[] {
  const whole = ends.map((end): DifferenceEnd => {
    const parts = ends.flatMap(({ name, part }) => (name === end.name ? [part] : []));
    const named = ["", ...parts.flatMap((part) => part.split(OF).slice(1))];
    const ways = named.map((of) => ({ of, parts: Object.values(VERSIONS).map((version) => partOf(version, of)) }));
    const way = ways.find((each) => each.parts.includes(end.part) && each.parts.every((part) => parts.includes(part)));
    return way === undefined ? end : { ...end, part: way.of };
  });
  const words = whole.map((end) => JSON.stringify([end.name, end.part]));
  return whole.filter((_, index) => words.indexOf(words[index] ?? "") === index);
}

function joined(
  differences: readonly Difference[],
  keyFor: (difference: Difference) => string,
  join: (known: Difference, other: Difference) => Difference,
): readonly Difference[] {
  const byKey = new Map<string, Difference>();
  for (const difference of differences) {
    const key = keyFor(difference);
    const known = byKey.get(key);
    byKey.set(key, known === undefined ? difference : join(known, difference));
  }
  return [...byKey.values()];
}

function keyOf(difference: Difference, shared: readonly DifferenceEnd[], lines: Shared): string {
  const { change, services, kind, notes, decidedBy } = difference;
  const counting = decidedBy.filter(({ changed }) => lines === "all-lines" || changed);
  return JSON.stringify([change, services, kind, notes, shared, counting.map(lineOf)]);
}

function lineOf({ side, changed, origin: { span } }: Decision): readonly unknown[] {
  return [side, changed, span.file, span.start, span.end];
}
