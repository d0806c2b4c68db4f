/**
 * Ends that carry nothing: cables into a port that is switched off or that nothing uses, or from a member of a bond past the
 * bond at the other end; bonds without a bond there; radios that join no network.
 */
import type { Origin } from "../diagnose/index.ts";
import type { RackBond } from "./bonds.ts";
import { type AllConfigured, attachmentOf, type Configured } from "./configured.ts";
import type { Findings } from "./findings.ts";
import type { SiteCable } from "./site.ts";
import type { Wiring } from "./wiring.ts";

/** Notes cables that carry nothing, or not what is meant. */
export function warnCables(cables: readonly SiteCable[], wiring: Wiring, findings: Findings): void {
  for (const cable of cables) {
    const ends = endsAt(cable.ends, wiring);
    const [a, b] = ends;
    if (a === undefined || b === undefined) continue;
    const idle = ends.map((end) => ({ end, why: idleness(end, wiring) })).find(({ why }) => why !== undefined);
    if (idle?.why !== undefined) reportIdle(cable, idle.end, idle.why, findings);
    else if (!warnStray(cable, a, b, wiring, findings)) warnStray(cable, b, a, wiring, findings);
  }
  for (const device of wiring.devices.values())
    for (const bond of device.bonds.byName.values()) warnAlone(device, bond, wiring, findings);
}

type End = { readonly device: Configured; readonly port: string };
/** Ends by their devices; those of devices that could not be configured are left out. */
function endsAt(ends: readonly { readonly device: string; readonly port: string }[], wiring: Wiring): readonly End[] {
  return ends.flatMap(({ device, port }) => {
    const found = wiring.devices.get(device);
    return found === undefined ? [] : [{ device: found, port }];
  });
}

type Idleness = { readonly text: string; readonly off?: Origin };

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
  return off === undefined ? { text: "which nothing uses" } : { text: "which is switched off", off };
}

function nameOf({ device, port }: End): string {
  return `${device.rack.name}:${port}`;
}

function reportIdle({ origin }: SiteCable, end: End, { text, off }: Idleness, findings: Findings): void {
  const where = off?.by === "absent" ? `\`${end.port}\` is not among the ports listed here` : "here";
  findings.report("cable-idle", origin.span, `a cable leads into \`${nameOf(end)}\`, ${text}`, {
    ...(off === undefined ? {} : { also: [{ span: off.span, text: where }] }),
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

/** A bond whose cables all lead into ports of devices that are told something, and none of them into a bond. */
function warnAlone({ rack }: Configured, bond: RackBond, wiring: Wiring, findings: Findings): void {
  // One member that carries at a time is a station like any other.
  if (bond.mode.value === "active-backup") return;
  const far = endsAt(
    bond.members.flatMap(({ value }) => wiring.farEnd(rack.name, value) ?? []),
    wiring,
  );
  const isTold = ({ device }: End): boolean =>
    device.rack.intent !== undefined || device.rack.topology.is.value === "unmanaged-switch";
  if (far.length < 2 || !far.every(isTold) || far.some(({ device, port }) => device.bonds.byMember.has(port))) return;
  const places = far.map((end) => `\`${nameOf(end)}\``).join(", ");
  findings.report("bond-alone", bond.origin.span, `the bond \`${bond.name}\` of \`${rack.name}\` finds no partner`, {
    notes: [`${places} are no bond`],
    help: "bond these ports at the other end, too, with one mode at both ends",
  });
}

/** Notes hosts whose legs stand on a radio that joins no SSID. */
export function warnRadios(devices: AllConfigured, findings: Findings): void {
  for (const { rack, interfaces, joins } of devices.values()) {
    if (joins.length > 0 || rack.topology.is.value !== "host") continue;
    const radios = new Set(rack.topology.radios?.value.map(({ value }) => value));
    const leg = interfaces.find(({ footing }) => footing.on === "port" && radios.has(footing.port));
    if (leg === undefined) continue;
    findings.report(
      "radio-idle",
      leg.origin.span,
      `\`${leg.name}\` of \`${rack.name}\` is a radio that joins no SSID`,
      {
        help: `write \`joins\` beside \`legs\`, with the SSIDs that \`${rack.name}\` knows`,
        about: [rack.name],
      },
    );
  }
}
