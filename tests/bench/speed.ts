/**
 * How fast the prover is on long lists and many routes, each part in a process of its own: cold, warm, counted steps, and
 * as calibration the ratio to a linear scan of the same list for one packet in the same process. Aims are told, never
 * asserted.
 */
import { bundled, printedWithin, type Survey } from "./harness.ts";
import type { SpeedPart } from "./speed-parts.ts";

/** A part that takes longer is given up. */
const LONGEST_MS = 90_000;

type Row = {
  /** What is asked. */
  readonly title: string;
  /** What is aimed at, in words. */
  readonly aim: string;
  /** The part, and its numbers. */
  readonly part: readonly [name: string, ...numbers: number[]];
};

const ROWS: readonly Row[] = [
  { title: "all pairs of 50 networks, 1,000 specific rules", aim: "30 warm, 150 cold", part: ["pairs-specific", 1000] },
  {
    title: "all pairs of 50 networks, 1,000 rules with wildcards",
    aim: "30 warm, 150 cold",
    part: ["pairs-wildcard", 1000],
  },
  { title: "one pair on 50,000 specific rules", aim: "5 median, 100 at p99", part: ["pair-specific", 50_000] },
  { title: "one pair on 50,000 rules with wildcards", aim: "5 median, 100 at p99", part: ["pair-wildcard", 50_000] },
  { title: "every rule of 1,000 specific shadowed or not", aim: "30", part: ["every-specific", 1000] },
  { title: "every rule of 1,000 with wildcards shadowed or not", aim: "30", part: ["every-wildcard", 1000] },
  { title: "every rule of 10,000 specific shadowed or not", aim: "250", part: ["every-specific", 10_000] },
  { title: "every rule of 10,000 with wildcards shadowed or not", aim: "250", part: ["every-wildcard", 10_000] },
  { title: "one pair on 1,000 specific rules", aim: "less than a solver", part: ["pair-specific", 1000] },
  { title: "a solver for the same pair", aim: "calibration", part: ["solver-specific", 1000] },
  {
    title: "who reaches whom, all pairs of 90 houses behind 100 routers, 10,000 prefixes",
    aim: "150",
    part: ["together", 10_000],
  },
  { title: "the same, 50 rules at 80 houses", aim: "1,000", part: ["together", 10_000, 80, 50] },
  { title: "a proof a pair from one of the houses to all others", aim: "none", part: ["routed", 10_000, 0, 0, 5] },
  { title: "the same, 50 rules at 80 houses", aim: "none", part: ["routed", 10_000, 80, 50, 5] },
];

/** Twice the size, how many times the work: the exponent, from the first to the last of these sizes. */
const GROWTHS = [
  { title: "in rules, one pair, specific", aim: 1.2, name: "pair-specific", sizes: [5000, 20_000] },
  { title: "in rules, one pair, wildcards", aim: 1.2, name: "pair-wildcard", sizes: [5000, 20_000] },
  { title: "in routes, from one house to all others", aim: 1.1, name: "routed", sizes: [1000, 10_000] },
  { title: "in routes, all pairs at once", aim: 1.1, name: "together", sizes: [1000, 10_000] },
] as const;

/** The speed survey. */
export const speed: Survey = {
  name: "speed",
  title: "the prover on long lists and many routes, in ms of the processor",
  lines: async () => {
    const program = await bundled("speed-parts");
    const measured = (part: Row["part"]): SpeedPart | undefined =>
      printedWithin<SpeedPart>(LONGEST_MS, program, part.map(String));
    const rows = ROWS.map((row) => tell(row, measured(row.part)));
    const growths = GROWTHS.map(({ title, aim, name, sizes: [small, large] }) => {
      const rest = name === "routed" ? [0, 0, 5] : [];
      const [less, more] = [measured([name, small, ...rest]), measured([name, large, ...rest])];
      if (less === undefined || more === undefined) return `growth ${title}: not measured within ${LONGEST_MS} ms`;
      const exponent = (value: (part: SpeedPart) => number): string =>
        (Math.log(value(more) / value(less)) / Math.log(large / small)).toFixed(2);
      const [time, steps] = [exponent(({ warmMs }) => warmMs), exponent((part) => part.steps)];
      return `growth ${title}: n^${time} in time, n^${steps} in steps (aim ${aim})`;
    });
    return [...rows, ...growths];
  },
};

function tell({ title, aim }: Row, measured: SpeedPart | undefined): string {
  if (measured === undefined) return `${title}: not done in ${LONGEST_MS} ms (aim ${aim})`;
  const { coldMs, warmMs, p99Ms, steps, scanMs, peakMb, found } = measured;
  const ratio = scanMs === 0 ? "" : `, ${(warmMs / scanMs).toFixed(1)} scans`;
  const times = `cold ${coldMs.toFixed(1)}, warm ${warmMs.toFixed(2)}, p99 ${p99Ms.toFixed(1)}${ratio}`;
  return `${title}: ${times} (aim ${aim}); ${steps} steps, ${found} found, peak ${peakMb.toFixed(0)} MB`;
}
