/**
 * What can be written, reads well, and is not modelled: said loudly, never passed over.
 */
import type { Findings } from "./findings.ts";
import type { Names } from "./names.ts";

/** Reports tunnels and delegated prefixes; what belongs to an interface or port is reported there. */
export function reportUnmodelled({ networks, intents }: Names, findings: Findings): void {
  for (const { ipv6 } of networks.values()) {
    for (const { value, span } of ipv6?.value ?? []) {
      if (value.by !== "delegated") continue;
      findings.report("not-modelled", span, "prefixes that an uplink delegates are not modelled", {
        severity: "error",
        help: "write the prefix out",
      });
    }
  }
  for (const { tunnels } of intents.values()) {
    for (const { name } of tunnels?.value ?? []) {
      findings.report("not-modelled", name.span, "tunnels are not modelled", { severity: "error" });
    }
  }
}
