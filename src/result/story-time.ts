/**
 * Moments and lengths of time of a story, as people write them.
 */
const UNITS = [
  ["d", 86_400_000],
  ["h", 3_600_000],
  ["m", 60_000],
  ["s", 1000],
  ["ms", 1],
] as const;

/** A length of time in milliseconds as one would write it in a storyline: `2m30s`. */
export function formatTime(lengthMs: number): string {
  let left = Math.round(lengthMs);
  const parts = UNITS.flatMap(([unit, size]) => {
    const count = Math.floor(left / size);
    left -= count * size;
    return count === 0 ? [] : [`${count}${unit}`];
  });
  return parts.join("") || "0s";
}

/** A moment for people: what is longer than a minute is told in whole seconds. */
export function tellTime(timeMs: number): string {
  return formatTime(timeMs < 60_000 ? timeMs : Math.floor(timeMs / 1000) * 1000);
}
