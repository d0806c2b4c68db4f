/**
 * Tunnels of a device as they are written: by name, and how much of a packet's size they take.
 */
import type { Family } from "../address/index.ts";
import type { NameReference, Tunnel, TunnelPeer } from "../document/index.ts";
import type { Findings } from "./findings.ts";
import type { Names } from "./names.ts";
import type { Rack } from "./rack.ts";
import { defaultAt, type Setting, settingOr } from "./setting.ts";

/** Bytes that an outer packet is longer (common practice): its IP header, UDP's and the tunnel's own. */
const OVERHEAD = { 4: 60, 6: 80 } as const;

/** Tunnels of a device by name, as written; a host's as well as a router's. */
export function tunnelsOf({ intent, topology }: Rack): ReadonlyMap<string, Tunnel> {
  const kind = topology.is.value;
  const written = kind === "upstream" || kind === "unmanaged-switch" ? [] : (intent?.tunnels?.value ?? []);
  return new Map(written.map((tunnel) => [tunnel.name.value, tunnel]));
}

/** Reports names that ports or bonds bear already. */
export function checkTunnels(rack: Rack, bonds: ReadonlyMap<string, unknown>, findings: Findings): void {
  for (const [name, tunnel] of tunnelsOf(rack)) {
    if (!rack.ports.has(name) && !bonds.has(name)) continue;
    const what = bonds.has(name) ? "a bond" : "a port";
    findings.report(
      "name-taken",
      tunnel.name.span,
      `the tunnel \`${name}\` of \`${rack.name}\` bears the name of ${what}`,
      {
        about: [rack.name],
      },
    );
  }
}

/** Which version of IP the address has that a name means; undefined: it means none, or that is not known yet. */
export type FamilyNamed = (name: NameReference) => Family | undefined;

/** How many bytes of a packet's size a tunnel takes, as far as it is known what the names of its ends mean. */
export function overheadOf(tunnel: Tunnel, names: Names, familyNamed: FamilyNamed = () => undefined): Setting<number> {
  const ends = tunnel.peers.value.flatMap((peer) => [peer.endpoint, ...endpointsTowards(tunnel, peer, names)]);
  const isSix = ends.some((end) => {
    if (end === undefined) return false;
    return (end.value.by === "address" ? end.value.family : familyNamed(end.value)) === 6;
  });
  const rule = isSix ? "80 bytes around a packet over IPv6" : "60 bytes around a packet over IPv4";
  return settingOr(tunnel.overheadBytes, OVERHEAD[isSix ? 6 : 4], defaultAt(tunnel.span, rule, "common practice"));
}

function endpointsTowards({ name }: Tunnel, { to }: TunnelPeer, names: Names): readonly TunnelPeer["endpoint"][] {
  const far = farTunnel(to.value, names);
  return (far?.peers.value ?? []).filter((peer) => peer.to.value.part === name.value).map(({ endpoint }) => endpoint);
}

function farTunnel({ name, part }: TunnelPeer["to"]["value"], names: Names): Tunnel | undefined {
  return names.intents.get(name)?.tunnels?.value.find((tunnel) => tunnel.name.value === part);
}
