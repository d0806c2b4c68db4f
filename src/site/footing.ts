/**
 * What an interface stands on: a port, a bond, a radio, or the bridge's own port in the VLAN of its network.
 */
import type { InterfaceEntry, Located, NetworkOrVlans } from "../document/index.ts";
import type { Bonds } from "./bonds.ts";
import { reportOnMember } from "./bridge-names.ts";
import type { Findings } from "./findings.ts";
import { resolveVlan } from "./membership.ts";
import type { Names } from "./names.ts";
import { findPort, type Rack } from "./rack.ts";
import { type Setting, settingOf } from "./setting.ts";
import type { SiteFooting } from "./site-stack.ts";
import type { SiteBridge } from "./site-switching.ts";
import { tunnelsOf } from "./written-tunnels.ts";

/** Where an interface stands, and the tag of its frames there. */
export type Footing = {
  /** What it stands on. */
  readonly footing: SiteFooting;
  /** Tag; absent: untagged. */
  readonly vlan?: Setting<number>;
};

/** What footings are found in. */
export type FootingContext = {
  /** The device. */
  readonly rack: Rack;
  /** Its bonds. */
  readonly bonds: Bonds;
  /** Its bridge. */
  readonly bridge: SiteBridge | undefined;
  /** All names. */
  readonly names: Names;
  /** Where diagnostics go. */
  readonly findings: Findings;
};

/** Interfaces or legs of a device, whichever its kind has. */
export function entriesOf(rack: Rack): readonly InterfaceEntry[] {
  const kind = rack.topology.is.value;
  if (kind === "host") return rack.intent?.legs?.value ?? [];
  return kind === "unmanaged-switch" || kind === "upstream" ? [] : (rack.intent?.interfaces?.value ?? []);
}

/** The port that an entry names; a leg stands on the port of its own name unless it says otherwise. */
function portNamed(entry: InterfaceEntry, rack: Rack): InterfaceEntry["port"] {
  return entry.port ?? (rack.topology.is.value === "host" ? entry.name : undefined);
}

/** Ports and bonds that interfaces of the device stand on directly. */
export function routedPorts(rack: Rack): ReadonlySet<string> {
  return new Set(entriesOf(rack).flatMap((entry) => portNamed(entry, rack)?.value ?? []));
}

/** Finds what an entry stands on; undefined after a diagnostic. */
export function findFooting(entry: InterfaceEntry, context: FootingContext): Footing | undefined {
  const port = portNamed(entry, context.rack);
  return port === undefined ? onBridge(entry, context) : onPort(entry, port, context);
}

function onPort(
  entry: InterfaceEntry,
  { value: port, span }: NonNullable<InterfaceEntry["port"]>,
  { rack, bonds, names, findings }: FootingContext,
): Footing | undefined {
  const tag = findTag(entry, names, findings);
  if (tag === undefined) return undefined;
  const footing: SiteFooting = { on: "port", port };
  if (bonds.byName.has(port)) return { footing, ...tag };
  const bond = bonds.byMember.get(port);
  if (bond !== undefined) {
    reportOnMember(port, span, bond, findings);
    return undefined;
  }
  if (tunnelsOf(rack).has(port)) return onTunnel(entry, port, rack, findings);
  return findPort(rack, port, span, findings) === undefined ? undefined : { footing, ...tag };
}

/** The tag that is written, by number or by the network whose VLAN it is; undefined after a diagnostic. */
export function findTag(
  { tag }: { readonly tag?: Located<NetworkOrVlans> },
  names: Names,
  findings: Findings,
): Pick<Footing, "vlan"> | undefined {
  if (tag === undefined) return {};
  const value = resolveVlan(tag, names, findings);
  return value === undefined ? undefined : { vlan: settingOf({ value, span: tag.span }) };
}

/** Packets go through a tunnel without frames, so nothing there can have a tag or be heard by all. */
function onTunnel(entry: InterfaceEntry, port: string, { name }: Rack, findings: Findings): Footing | undefined {
  const wrong = entry.tag ?? entry.pppoe ?? entry.ipv4?.value.find(({ value }) => value.by === "lease");
  if (wrong === undefined) return { footing: { on: "tunnel", port } };
  const text = `\`${entry.name.value}\` of \`${name}\` stands on a tunnel, which carries no frames`;
  findings.report("wrong-kind", wrong.span, text, { help: "a tunnel takes addresses that are written out" });
  return undefined;
}

function onBridge(entry: InterfaceEntry, context: FootingContext): Footing | undefined {
  const { rack, bridge, names, findings } = context;
  if (bridge === undefined) {
    findings.report(
      "no-footing",
      entry.name.span,
      `interface \`${entry.name.value}\` of \`${rack.name}\` stands on nothing`,
      {
        notes: [`it names no port, and \`${rack.name}\` does not switch`],
        help: "name the `port` it stands on",
        about: [rack.name],
      },
    );
    return undefined;
  }
  const footing: SiteFooting = { on: "bridge" };
  const tag = findTag(entry, names, findings);
  if (tag === undefined) return undefined;
  if (tag.vlan !== undefined) return { footing, ...tag };
  return entry.network === undefined ? { footing } : inNetwork(entry.network, bridge, context);
}

/**
 * An interface in a network takes the frames of its VLAN as they come out of the bridge's own port: without a tag
 * where that port leaves the VLAN untagged (kernel fact 35), else with it.
 */
function inNetwork(
  network: NonNullable<InterfaceEntry["network"]>,
  bridge: SiteBridge,
  { names, findings }: FootingContext,
): Footing | undefined {
  const footing: SiteFooting = { on: "bridge" };
  const entry = names.networks.get(network.value);
  // Where tags are ignored a network needs no number; an unknown network is reported where it is resolved.
  if (entry === undefined || (entry.vlan === undefined && bridge.tags.value === "ignored")) return { footing };
  const word = { value: { by: "name", name: network.value } as const, span: network.span };
  const vlan = resolveVlan(word, names, findings);
  if (vlan === undefined) return undefined;
  const untagged = bridge.own?.members.some(
    ({ first, last, leaves }) => leaves === "untagged" && first <= vlan && vlan <= last,
  );
  return untagged ? { footing } : { footing, vlan: settingOf({ value: vlan, span: network.span }) };
}
