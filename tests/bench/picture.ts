/** How long it takes to draw 200 devices, of which most is the layout. */
import { bundled, printedWithin, type Survey } from "./harness.ts";
import type { PictureParts } from "./picture-parts.ts";

const LONGEST_MS = 120_000;
const AIM_MS = 5000;

/** The picture survey. */
export const picture: Survey = {
  name: "picture",
  title: "the picture of a site, in ms of the processor",
  lines: async () => {
    const parts = printedWithin<PictureParts>(LONGEST_MS, await bundled("picture-parts"), []);
    if (parts === undefined) return [`not done in ${LONGEST_MS} ms (aim ${AIM_MS})`];
    const { devices, wires, workedOutMs, laidOutMs, drawnMs, characters } = parts;
    return [
      `${devices} devices, ${wires} lines: loaded and worked out ${workedOutMs.toFixed(0)}, laid out ${laidOutMs.toFixed(0)} (aim ${AIM_MS}), drawn ${drawnMs.toFixed(0)}`,
      `${(characters / 1000).toFixed(0)} kB of SVG`,
    ];
  },
};
