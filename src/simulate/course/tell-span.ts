/**
 * Spans of time as people say them.
 */

/** Milliseconds in at most two units: "12 h", "2 min 30 s", "250 ms". */
export function tellSpan(spanMs: number): string {
  if (spanMs < 1000) return `${Math.round(spanMs)} ms`;
  let rest = Math.round(spanMs / 1000);
  const parts: string[] = [];
  for (const [unit, seconds] of UNITS) {
    const count = Math.floor(rest / seconds);
    rest -= count * seconds;
    if (count > 0) parts.push(`${count} ${unit}`);
  }
  return parts.slice(0, 2).join(" ");
}

const UNITS = [
  ["d", 86_400],
  ["h", 3600],
  ["min", 60],
  ["s", 1],
] as const;
