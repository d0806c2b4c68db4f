/** How long it takes to let virtual time pass over a site. */
import type { CourseParts, Measured } from "./course-parts.ts";
import { bundled, printedWithin, type Survey } from "./harness.ts";

const LONGEST_MS = 120_000;
const HOUR_AIM_MS = 1000;
const WEEK_AIM_MS = 5000;

function told({ ms, restMs, events }: Measured): string {
  return `${ms.toFixed(0)} and ${restMs.toFixed(0)} until it is at rest; ${events} events of frames`;
}

/** The survey of courses. */
export const course: Survey = {
  name: "course",
  title: "virtual time over a site, in ms of the processor",
  lines: async () => {
    const parts = printedWithin<CourseParts>(LONGEST_MS, await bundled("course-parts"), []);
    if (parts === undefined) return [`not done in ${LONGEST_MS} ms`];
    const { hour, everyFrame, week } = parts;
    return [
      `an hour of the demo: ${told(hour)} (aim ${HOUR_AIM_MS})`,
      `the same with every frame: ${told(everyFrame)}`,
      `a week of 50 leases: ${told(week)}, ${week.renewals} renewals (aim ${WEEK_AIM_MS})`,
    ];
  },
};
