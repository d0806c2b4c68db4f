/**
 * What can be written, reads well, and is not modelled: said loudly, never passed over.
 */
import type { Findings } from "./findings.ts";
import type { Names } from "./names.ts";

/** Reports tunnels; what belongs to an interface or port is reported there. */
export function reportUnmodelled({ intents }: Names, findings: Findings): void {
  for (const { tunnels } of intents.values()) {
    for (const { name } of tunnels?.value ?? []) {
      findings.report("not-modelled", name.span, "tunnels are not modelled", { severity: "error" });
    }
  }
}
