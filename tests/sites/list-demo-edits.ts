/** `npm run demo:edits`: which slip of the pen breaks each promise of the demo, and what is blamed then, in words. */
import { SLIPS } from "./demo-edits.ts";

for (const { assertion, file, find, replace, slip, blames = replace, blamesIn = file } of SLIPS) {
  console.log(`${assertion}
   is broken when ${slip}
   ${file}: ${JSON.stringify(find)} becomes ${JSON.stringify(replace)}
   blamed in ${blamesIn}: ${JSON.stringify(blames)}
`);
}
