/** Ranges and counts as runners are told them: what makes no sense is refused, so that no run ends well having done nothing. */

/** Numbers of `3-7`, or of `5` alone. */
export function seedsOf(text: string): readonly number[] {
  const [, low, high = low] = /^(\d+)(?:-(\d+))?$/.exec(text) ?? [];
  const [first, last] = [Number(low), Number(high)];
  if (low === undefined || first > last) throw new Error(`\`${text}\` is no run of seeds such as 1-200`);
  return Array.from({ length: last - first + 1 }, (_, index) => first + index);
}

/** A number from 1 on. */
export function countOf(text: string): number {
  if (!/^[1-9]\d*$/.test(text)) throw new Error(`\`${text}\` is no number from 1 on`);
  return Number(text);
}
