/**
 * Tunnels. Each peer is a link of its own: a port at either end, joined by a link that lives by its outer packets, and an
 * interface of whoever stands on the tunnel. Which peer a packet goes to is then a matter of routes: the longest prefix that
 * a peer is allowed, inside of what a route leads there.
 */
import {
  addressKey,
  type Prefix,
  prefixesOfKeys,
  prefixKeys,
  type Ranges,
  ranges,
  rangesWithin,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import {
  type Alternatives,
  type Id,
  idOf,
  type Link,
  type OuterEnd,
  type Port,
  portId,
  type Route,
  type Step,
  type TunnelEnd,
} from "../network/index.ts";
import type { SiteDevice, SiteInterface, SiteTunnel, SiteTunnelPeer } from "../site/index.ts";
import { withDigest } from "./digest.ts";
import { interfaceId, stackId } from "./ids.ts";
import { interfaceOf, ruleOf, type SiteIndex } from "./plant.ts";
import { SILENT } from "./refusals.ts";

/** The longest IP packet; what a tunnel takes is said by the interface on it (RFC 791). */
const LONGEST = 65_535;

/** The port towards a peer: named like the tunnel where it has no other peer. */
function peerPortId(device: string, { name, peers }: SiteTunnel, peer: SiteTunnelPeer | undefined): Id {
  return portId(device, peer === undefined || peers.length === 1 ? name : `${name}/${peer.device}/${peer.tunnel}`);
}

function tunnelNamed(device: SiteDevice, name: string): SiteTunnel {
  const tunnel = device.tunnels.find((each) => each.name === name);
  if (tunnel === undefined) throw new Error(`\`${device.name}\` has no tunnel \`${name}\``);
  return tunnel;
}

/** The peers of a tunnel, or nobody, once. */
function endsOf({ peers }: SiteTunnel): readonly (SiteTunnelPeer | undefined)[] {
  return peers.length === 0 ? [undefined] : peers;
}

/** What stands for one interface of a tunnel: one towards each peer. */
export type PeerLeg = {
  /** Id of the interface. */
  readonly id: Id;
  /** Id of the port it stands on. */
  readonly on: Id;
  /** What goes that way. */
  readonly tunnel: TunnelEnd;
};

/** Interfaces that stand for the one on a tunnel; undefined: it stands on no tunnel. */
export function peerLegs(device: SiteDevice, { name, footing }: SiteInterface): readonly PeerLeg[] | undefined {
  if (footing.on !== "tunnel") return undefined;
  const tunnel = tunnelNamed(device, footing.port);
  const allowed = allowedApart(tunnel);
  return endsOf(tunnel).map(
    (peer, place): PeerLeg => ({
      id: peerLegId(interfaceId(device.name, name), tunnel, peer),
      on: peerPortId(device.name, tunnel, peer),
      tunnel: {
        allowed: allowed[place] ?? [],
        whenDown: peer?.endpoint === undefined ? "refused" : "silent",
        reason: "tunnel-down",
        origin: peer?.lacking ?? peer?.origin ?? tunnel.origin,
      },
    }),
  );
}

/** Named like the interface itself where the tunnel has no other peer. */
function peerLegId(base: Id, { peers }: SiteTunnel, peer: SiteTunnelPeer | undefined): Id {
  return peer === undefined || peers.length === 1 ? base : `${base}/${idOf(peer.device, peer.tunnel)}`;
}

/**
 * What each peer is allowed, cut so that an address is one peer's: the longer prefix has it, of equals the one allowed last
 * (common practice; so does the kernel).
 */
function allowedApart({ peers }: SiteTunnel): readonly Ranges[] {
  const claims = peers.flatMap(({ allowed }, peer) => allowed.value.map((prefix) => ({ peer, prefix })));
  const owned = peers.map((): Ranges => []);
  for (const { peer, prefix } of claims.toSorted((a, b) => a.prefix.length - b.prefix.length)) {
    const keys = ranges(prefixKeys(prefix));
    for (const [other, set] of owned.entries()) {
      owned[other] = other === peer ? unionRanges(set, keys) : subtractRanges(set, keys);
    }
  }
  return owned;
}

/** Ids of all interfaces that stand for the one of this name. */
export function interfaceIds(device: SiteDevice, name: string): readonly Id[] {
  const { footing } = interfaceOf(device, name);
  const base = interfaceId(device.name, name);
  if (footing.on !== "tunnel") return [base];
  const tunnel = tunnelNamed(device, footing.port);
  return endsOf(tunnel).map((peer) => peerLegId(base, tunnel, peer));
}

/** Ports at the ends of tunnels. */
export function tunnelPorts(device: SiteDevice): readonly Port[] {
  return device.tunnels.flatMap((tunnel) =>
    endsOf(tunnel).map((peer) => {
      const one = device.interfaces.find(({ footing }) => footing.on === "tunnel" && footing.port === tunnel.name);
      return withDigest({
        id: peerPortId(device.name, tunnel, peer),
        origin: peer?.origin ?? tunnel.origin,
        device: device.name,
        rateMbps: 0,
        mtu: LONGEST,
        enabled: true,
        hardware: one?.hardware.value ?? 0n,
      });
    }),
  );
}

type End = { readonly device: SiteDevice; readonly tunnel: SiteTunnel; readonly peer: SiteTunnelPeer };

/** The far end of a peer; undefined: it does not know this one. */
function farEnd({ device, tunnel, peer }: End, { devices }: SiteIndex): End | undefined {
  const other = devices.get(peer.device);
  const far = other?.tunnels.find(({ name }) => name === peer.tunnel);
  const back = far?.peers.find((each) => each.device === device.name && each.tunnel === tunnel.name);
  return other === undefined || far === undefined || back === undefined
    ? undefined
    : { device: other, tunnel: far, peer: back };
}

/** A link for each two ends that know each other. */
export function tunnelLinks(index: SiteIndex): readonly Link[] {
  const ends = index.site.devices.flatMap((device) =>
    device.tunnels.flatMap((tunnel) => tunnel.peers.map((peer): End => ({ device, tunnel, peer }))),
  );
  const made = new Set<Id>();
  return ends.flatMap((near): readonly Link[] => {
    const far = farEnd(near, index);
    const here = peerPortId(near.device.name, near.tunnel, near.peer);
    if (far === undefined || made.has(here)) return [];
    const there = peerPortId(far.device.name, far.tunnel, far.peer);
    made.add(here).add(there);
    return [
      withDigest({
        id: `${here}--${there}`,
        origin: near.peer.origin,
        ends: [here, there] as const,
        kind: "tunnel" as const,
        downWith: [],
        onDemand: false,
        outer: { ends: [outerEnd(near), outerEnd(far)] as const },
      }),
    ];
  });
}

function outerEnd({ device, tunnel, peer }: End): OuterEnd {
  return {
    stack: stackId(device.name),
    ...(tunnel.listen === undefined ? {} : { port: tunnel.listen.value }),
    ...(peer.endpoint === undefined ? {} : { endpoint: addressKey(peer.endpoint.value) }),
    origin: peer.origin,
  };
}

/** Ports at the far ends of a host's tunnel: where its packets come in. */
export function portsBeyond(device: SiteDevice, name: string, index: SiteIndex): readonly Id[] {
  const tunnel = tunnelNamed(device, name);
  return tunnel.peers.flatMap((peer) => {
    const far = farEnd({ device, tunnel, peer }, index);
    return far === undefined ? [] : [peerPortId(far.device.name, far.tunnel, far.peer)];
  });
}

/** Ports of a tunnel, and of these the ones that a host is at the far end of. */
export function portsOfTunnel(
  device: SiteDevice,
  name: string,
  { devices }: SiteIndex,
): { readonly all: readonly Id[]; readonly ofHosts: readonly Id[] } {
  const tunnel = tunnelNamed(device, name);
  const hosts = tunnel.peers.filter((peer) => devices.get(peer.device)?.is === "host");
  return {
    all: endsOf(tunnel).map((peer) => peerPortId(device.name, tunnel, peer)),
    ofHosts: hosts.map((peer) => peerPortId(device.name, tunnel, peer)),
  };
}

/** What comes out of a tunnel has a source that its peer is allowed, or goes no further. */
export function allowedSources(device: SiteDevice): readonly Step[] {
  const legs = device.interfaces.flatMap((one) => peerLegs(device, one) ?? []);
  if (legs.length === 0) return [];
  const origin = ruleOf(device, "a tunnel takes what its peer is allowed to send", "common practice");
  const others = device.interfaces.flatMap((one) =>
    one.footing.on === "tunnel" ? [] : interfaceIds(device, one.name),
  );
  const that: Alternatives = [
    ...(others.length === 0 ? [] : [[{ field: "ingress", oneOf: others, origin } as const]]),
    ...legs
      .filter(({ tunnel }) => tunnel.allowed.length > 0)
      .map(({ id, tunnel }) => [
        { field: "ingress", oneOf: [id], origin } as const,
        { field: "source", within: tunnel.allowed, origin: tunnel.origin } as const,
      ]),
  ];
  return [{ op: "require", fromOutside: true, that, reason: "foreign-source", otherwise: SILENT, origin }];
}

// -- routes --------------------------------------------------------------------------------------------------------

/** Routes into tunnels of several peers, cut into those to each of them. */
export function spreadOverPeers(routes: readonly Route[], device: SiteDevice): readonly Route[] {
  let spread = routes;
  for (const one of device.interfaces) {
    const legs = peerLegs(device, one) ?? [];
    if (legs.length > 1) spread = spreadOver(spread, interfaceId(device.name, one.name), legs);
  }
  return spread;
}

function spreadOver(routes: readonly Route[], base: Id, legs: readonly PeerLeg[]): readonly Route[] {
  const claims = legs.flatMap(({ id, tunnel }) => prefixesOfKeys(tunnel.allowed).map((prefix) => ({ id, prefix })));
  return routes.flatMap((route) => {
    if (route.action.do !== "forward" || !route.action.hops.some(({ egress }) => egress === base)) return [route];
    const keys = ranges(prefixKeys(prefixOfRoute(route)));
    const whole = legs.find(({ tunnel }) => rangesWithin(tunnel.allowed, keys)) ?? legs[0];
    if (whole === undefined) throw new Error(`\`${base}\` leads to nobody`);
    const inside = claims.filter(
      ({ prefix }) =>
        lies(prefix, route) && !routes.some((other) => other.length > route.length && holds(other, prefix)),
    );
    return [
      towards(route, base, whole.id),
      ...inside.map(({ id, prefix: { value, length } }, place) => ({
        ...towards(route, base, id),
        id: `${route.id}~peer${place + 1}`,
        prefix: value,
        length,
      })),
    ];
  });
}

function prefixOfRoute({ family, prefix, length }: Route): Prefix {
  return { family, value: prefix, length };
}

function holds(route: Route, prefix: Prefix): boolean {
  return (
    route.family === prefix.family &&
    route.length <= prefix.length &&
    rangesWithin(ranges(prefixKeys(prefixOfRoute(route))), ranges(prefixKeys(prefix)))
  );
}

/** Whether a prefix is a part of a route's. */
function lies(prefix: Prefix, route: Route): boolean {
  return prefix.length > route.length && holds(route, prefix);
}

function towards(route: Route, base: Id, id: Id): Route {
  if (route.action.do !== "forward") return route;
  const hops = route.action.hops.map((hop) => (hop.egress === base ? { ...hop, egress: id } : hop));
  return { ...route, action: { do: "forward", hops } };
}
