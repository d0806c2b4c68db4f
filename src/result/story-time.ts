/**
 * Moments and lengths of time, as people write and say them.
 */
const UNITS = [
  { written: "d", said: "d", sizeMs: 86_400_000 },
  { written: "h", said: "h", sizeMs: 3_600_000 },
  { written: "m", said: "min", sizeMs: 60_000 },
  { written: "s", said: "s", sizeMs: 1000 },
  { written: "ms", said: "ms", sizeMs: 1 },
] as const;

type Part = (typeof UNITS)[number] & { readonly count: number };

/** A length as so many of each unit, the largest first. */
function partsOf(lengthMs: number): readonly Part[] {
  let left = Math.round(lengthMs);
  return UNITS.map((unit) => {
    const count = Math.floor(left / unit.sizeMs);
    left -= count * unit.sizeMs;
    return { ...unit, count };
  });
}

/** A length of time in milliseconds as one would write it in a storyline: `2m30s`. */
export function formatTime(lengthMs: number): string {
  const parts = partsOf(lengthMs).map(({ written, count }) => (count === 0 ? "" : `${count}${written}`));
  return parts.join("") || "0s";
}

/** A moment for people: what is longer than a minute is told in whole seconds. */
export function tellTime(timeMs: number): string {
  return formatTime(timeMs < 60_000 ? timeMs : Math.floor(timeMs / 1000) * 1000);
}

/** A length of time as people say it, in at most two units: "12 h", "2 min 30 s", "250 ms". */
export function tellSpan(lengthMs: number): string {
  const parts = partsOf(lengthMs < 1000 ? lengthMs : Math.round(lengthMs / 1000) * 1000);
  const told = parts.flatMap(({ said, count }) => (count === 0 ? [] : [`${count} ${said}`]));
  return told.slice(0, 2).join(" ") || "0 ms";
}

/** Seconds in their largest unit and the one below it: "10 h 30 min". */
export function tellSeconds(seconds: number): string {
  const parts = partsOf(Math.floor(seconds) * 1000);
  const first = parts.findIndex(({ count }) => count > 0);
  const told = first < 0 ? [] : parts.slice(first, first + 2).filter(({ count }) => count > 0);
  return told.map(({ said, count }) => `${count} ${said}`).join(" ") || "0 s";
}
