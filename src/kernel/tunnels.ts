/**
 * Tunnels on a kernel: its own tunnel interface with all peers of a tunnel on it, so that it picks the peer. An end that
 * knows where its peer is speaks to it each second, as what starts a tunnel keeps it open.
 */
import { formatAddress, formatPrefix } from "../address/index.ts";
import type { Site, SiteDevice, SiteTunnel, SiteTunnelPeer } from "../site/index.ts";
import type { FullNames } from "./full-names.ts";
import type { TunnelPeerPlan, TunnelPlan, Unsupported } from "./plan.ts";

/** Interfaces for tunnels, for `ip -batch`. */
export function tunnelLines(names: FullNames): readonly string[] {
  return [...names.tunnels.values()].map((name) => `link add name ${name} type wireguard`);
}

/** Ends of a device's tunnels. */
export function tunnelPlans(device: SiteDevice, names: FullNames, site: Site): readonly TunnelPlan[] {
  return device.tunnels.flatMap((tunnel): readonly TunnelPlan[] => {
    const name = names.tunnels.get(tunnel.name);
    if (name === undefined) return [];
    const { listen } = tunnel;
    return [
      {
        id: `${device.name}/${tunnel.name}`,
        name,
        ...(listen === undefined ? {} : { port: listen.value }),
        peers: tunnel.peers.map((peer) => peerPlan(peer, farTunnel(peer, site))),
      },
    ];
  });
}

function farTunnel(peer: SiteTunnelPeer, { devices }: Site): SiteTunnel | undefined {
  return devices.find(({ name }) => name === peer.device)?.tunnels.find(({ name }) => name === peer.tunnel);
}

function peerPlan({ device, tunnel, endpoint, allowed }: SiteTunnelPeer, far: SiteTunnel | undefined): TunnelPeerPlan {
  const port = far?.listen?.value;
  return {
    to: `${device}/${tunnel}`,
    ...(endpoint === undefined || port === undefined
      ? {}
      : {
          endpoint:
            endpoint.value.family === 4
              ? `${formatAddress(endpoint.value)}:${port}`
              : `[${formatAddress(endpoint.value)}]:${port}`,
        }),
    allowed: allowed.value.map(formatPrefix),
  };
}

/** The internet between two upstreams is nowhere on a kernel. */
export function unsupportedTunnels(device: SiteDevice, site: Site): readonly Unsupported[] {
  if (!site.devices.some(({ is }) => is === "upstream")) return [];
  return device.tunnels.map(({ origin, name }) => ({
    origin,
    what: `the tunnel \`${device.name}/${name}\` over an upstream`,
  }));
}
