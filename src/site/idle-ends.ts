/**
 * Cables that lead nowhere: into a port that is switched off or that nothing uses, and from a member of a bond past the
 * bond at the other end.
 */
import type { Span } from "../diagnose/index.ts";
import { attachmentOf, type Configured } from "./configured.ts";
import type { Findings } from "./findings.ts";
import type { SiteCable } from "./site.ts";
import type { Wiring } from "./wiring.ts";

/** Notes cables that carry nothing, or not what is meant. */
export function warnCables(cables: readonly SiteCable[], wiring: Wiring, findings: Findings): void {
  for (const cable of cables) {
    const ends = cable.ends.flatMap(({ device, port }) => {
      const found = wiring.devices.get(device);
      return found === undefined ? [] : [{ device: found, port }];
    });
    const [a, b] = ends;
    if (a === undefined || b === undefined) continue;
    const idle = ends.map((end) => ({ end, why: idleness(end, wiring) })).find(({ why }) => why !== undefined);
    if (idle?.why !== undefined) reportIdle(cable, idle.end, idle.why, findings);
    else if (!warnStray(cable, a, b, wiring, findings)) warnStray(cable, b, a, wiring, findings);
  }
}

type End = { readonly device: Configured; readonly port: string };
type Idleness = { readonly text: string; readonly span?: Span };

/** Why nothing comes of a cable at an end; undefined: something does. */
function idleness({ device, port }: End, wiring: Wiring): Idleness | undefined {
  const { rack, switched } = device;
  const at = attachmentOf(device, port);
  const { is } = rack.topology;
  // Of what has no leg yet and switches nothing, nothing is wrong yet.
  if (device.interfaces.length === 0 && switched.bridge === undefined) return undefined;
  if (rack.intent === undefined || is.value === "unmanaged-switch" || is.value === "upstream") return undefined;
  if (wiring.interfacesOn(rack.name, at).length > 0 || wiring.bridgePort(rack.name, at) !== undefined) return undefined;
  const off = switched.off.get(at);
  return off === undefined ? { text: "which nothing uses" } : { text: "which is switched off", span: off.span };
}

function nameOf({ device, port }: End): string {
  return `${device.rack.name}:${port}`;
}

function reportIdle({ origin }: SiteCable, end: End, { text, span }: Idleness, findings: Findings): void {
  findings.report("cable-idle", origin.span, `a cable leads into \`${nameOf(end)}\`, ${text}`, {
    ...(span === undefined ? {} : { also: [{ span, text: "here" }] }),
  });
}

/** A bond with most of its cables in one bond of the far device, and this one beside it; whether it was said. */
function warnStray({ origin }: SiteCable, near: End, far: End, wiring: Wiring, findings: Findings): boolean {
  const bond = near.device.bonds.byMember.get(near.port);
  if (bond === undefined) return false;
  const meant = bond.members
    .filter(({ value }) => value !== near.port)
    .map(({ value }) => wiring.farEnd(near.device.rack.name, value))
    .filter((end) => end?.device === far.device.rack.name)
    .map((end) => end && far.device.bonds.byMember.get(end.port))
    .find((other) => other !== undefined);
  if (meant === undefined || meant === far.device.bonds.byMember.get(far.port)) return false;
  const message = `\`${near.port}\` of the bond \`${bond.name}\` is cabled to \`${nameOf(far)}\`, no member of \`${meant.name}\``;
  findings.report("bond-stray", origin.span, message, {
    also: [
      { span: bond.origin.span, text: `\`${bond.name}\`` },
      { span: meant.origin.span, text: `\`${meant.name}\`` },
    ],
  });
  return true;
}
