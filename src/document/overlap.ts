/**
 * Runs of ports that share a member, where each port may be spoken of once.
 */
import type { Findings } from "./findings.ts";
import type { Located, PortNames } from "./values.ts";

/** Reports each run that shares a port with an earlier one, once, with the first port they share. */
export function reportOverlaps(runs: readonly Located<PortNames>[], findings: Findings): void {
  const owner = new Map<string, Located<PortNames>>();
  for (const run of runs) {
    const shared = run.value.names.find((name) => owner.has(name));
    const earlier = shared === undefined ? undefined : owner.get(shared);
    if (earlier !== undefined) {
      const message = `\`${run.value.text}\` and \`${earlier.value.text}\` both mean \`${shared}\``;
      findings.report("ranges-overlap", run.span, message, { also: [{ span: earlier.span, text: "here too" }] });
    }
    for (const name of run.value.names) if (!owner.has(name)) owner.set(name, run);
  }
}
