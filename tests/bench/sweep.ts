/** How long it takes to ask 100 assertions about 200 devices under every single failure of a cable. */
import { bundled, printedWithin, type Survey } from "./harness.ts";
import type { SweepParts } from "./sweep-parts.ts";

const LONGEST_MS = 300_000;
const AIM_MS = 5000;

/** The sweep survey. */
export const sweep: Survey = {
  name: "sweep",
  title: "every single failure of a cable, in ms of the processor",
  lines: async () => {
    const parts = printedWithin<SweepParts>(LONGEST_MS, await bundled("sweep-parts"), []);
    if (parts === undefined) return [`not done in ${LONGEST_MS} ms (aim ${AIM_MS})`];
    const { wholeMs, sweptMs, devices, cables, statuses, breaks } = parts;
    const told = Object.entries(statuses).map(([status, count]) => `${count} ${status}`);
    return [
      `${devices} devices, ${cables} cables: ${wholeMs.toFixed(0)} without failures, ${sweptMs.toFixed(0)} with all (aim ${AIM_MS})`,
      `${told.join(", ")}; ${breaks} cables break something`,
    ];
  },
};
