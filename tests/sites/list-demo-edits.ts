/** `npm run demo:edits`: which slip of the pen breaks each promise of the demo, in words. */
import { SLIPS } from "./demo-edits.ts";

for (const { assertion, file, find, replace, slip } of SLIPS) {
  console.log(
    `${assertion}\n   is broken when ${slip}\n   ${file}: ${JSON.stringify(find)} becomes ${JSON.stringify(replace)}\n`,
  );
}
