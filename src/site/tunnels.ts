/**
 * Tunnels of a device: whom each leads to, where outer packets are sent, and what its peers are allowed.
 */
import { prefixesOfKeys } from "../address/index.ts";
import type { Located, Tunnel, TunnelPeer } from "../document/index.ts";
import { type Lookup, resolveAddress } from "./address-names.ts";
import type { Configured } from "./configured.ts";
import type { Findings } from "./findings.ts";
import type { Rack } from "./rack.ts";
import { absentAt, settingOf, writtenAt } from "./setting.ts";
import type { SiteTunnel, SiteTunnelPeer } from "./site-stack.ts";
import type { Targets } from "./targets.ts";
import { tunnelsOf } from "./written-tunnels.ts";

/** What tunnels are resolved against. */
export type TunnelContext = Lookup & {
  /** Whom names mean. */
  readonly targets: Targets;
};

/** The tunnels of a device. */
export function resolveTunnels(device: Configured, context: TunnelContext): readonly SiteTunnel[] {
  return [...tunnelsOf(device.rack).values()].map((tunnel): SiteTunnel => {
    const { name, listen, peers } = tunnel;
    return {
      name: name.value,
      origin: writtenAt(name.span),
      ...(listen === undefined ? {} : { listen: settingOf(listen) }),
      peers: peers.value.flatMap((peer) => resolvePeer(device, tunnel, peer, context) ?? []),
    };
  });
}

function resolvePeer(
  device: Configured,
  tunnel: Tunnel,
  peer: TunnelPeer,
  context: TunnelContext,
): SiteTunnelPeer | undefined {
  const { rack } = device;
  const far = farEndOf(rack, peer.to, context);
  if (far === undefined) return undefined;
  const endpoint = peer.endpoint && resolveAddress(peer.endpoint, undefined, context);
  if (endpoint !== undefined && far.listen === undefined) reportPortless(rack, tunnel, peer, far, context);
  const back = far.peers.value.find(({ to }) => to.value.name === rack.name && to.value.part === tunnel.name.value);
  if (back === undefined) reportOneSided(rack, tunnel, peer, far, context);
  const targets = peer.allowed.value.flatMap((written) => context.targets.resolve(written));
  return {
    device: peer.to.value.name,
    tunnel: far.name.value,
    origin: writtenAt(peer.span),
    ...(endpoint === undefined ? {} : { endpoint }),
    allowed: {
      value: targets.flatMap(({ value }) => prefixesOfKeys(value.addresses)),
      origin: writtenAt(peer.allowed.span),
    },
    ...(back === undefined ? { lacking: absentAt(far.peers.span, `\`${rack.name}/${tunnel.name.value}\``) } : {}),
  };
}

/** The tunnel that `hill/link` means; undefined after a diagnostic. */
function farEndOf(
  rack: Rack,
  to: Located<TunnelPeer["to"]["value"]>,
  { directory, findings }: TunnelContext,
): Tunnel | undefined {
  const { name, part } = to.value;
  const device = directory.wiring.devices.get(name);
  if (device === undefined || name === rack.name) {
    const others = [...directory.wiring.devices.keys()].filter((other) => other !== rack.name);
    findings.unknown({ kind: "device", name, span: to.span, candidates: others });
    return undefined;
  }
  const tunnels = tunnelsOf(device.rack);
  const tunnel = part === undefined ? undefined : tunnels.get(part);
  if (tunnel !== undefined) return tunnel;
  const candidates = [...tunnels.keys()];
  const written = (candidate: string): string => `${name}/${candidate}`;
  findings.unknown({ kind: "tunnel", of: name, name: part ?? "", span: to.span, candidates, written });
  return undefined;
}

function reportPortless(rack: Rack, tunnel: Tunnel, peer: TunnelPeer, far: Tunnel, { findings }: TunnelContext): void {
  const { name, part } = peer.to.value;
  const text = `\`${rack.name}/${tunnel.name.value}\` sends to \`${name}/${part}\`, which states no port to listen on`;
  findings.report("tunnel-portless", peer.endpoint?.span ?? peer.span, text, {
    also: [{ span: far.span, text: "`listen` would stand here" }],
    about: [name],
  });
}

function reportOneSided(rack: Rack, tunnel: Tunnel, peer: TunnelPeer, far: Tunnel, { findings }: TunnelContext): void {
  const { name, part } = peer.to.value;
  const text = `\`${name}/${part}\` does not know \`${rack.name}/${tunnel.name.value}\`, so the tunnel never comes up`;
  findings.report("tunnel-one-sided", peer.to.span, text, {
    also: [{ span: far.peers.span, text: "its peers" }],
    about: [name],
  });
}

/** Reports services that live by what everyone on a link hears, on a tunnel, where nobody else hears anything. */
export function reportDeafServices({ rack, interfaces }: Configured, findings: Findings): void {
  const onTunnel = new Set(interfaces.flatMap(({ name, footing }) => (footing.on === "tunnel" ? [name] : [])));
  const { dhcp, relay, advertise } = rack.intent ?? {};
  for (const [key, entries] of Object.entries({ dhcp, relay, advertise })) {
    for (const { name } of entries?.value ?? []) {
      if (!onTunnel.has(name.value)) continue;
      const text = `\`${key}\` has no meaning on \`${name.value}\` of \`${rack.name}\`, which stands on a tunnel`;
      findings.report("wrong-kind", name.span, text, { notes: ["nobody there hears what is said to everyone"] });
    }
  }
}
