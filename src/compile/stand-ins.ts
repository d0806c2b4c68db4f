/**
 * Stand-in clients: for each network where leases are served or relayed, a client that exists in questions only, as if it
 * had just been plugged in at the first place that takes untagged frames. Its device is called `~crew`, which no name can be.
 */
import type { Origin } from "../diagnose/index.ts";
import { type Id, idOf, type Link, portId } from "../network/index.ts";
import { newClient, type SiteDevice, type SiteNetwork } from "../site/index.ts";
import { withDigest } from "./digest.ts";
import type { Place, Places } from "./places.ts";
import type { SiteIndex } from "./plant.ts";
import { linkId } from "./wires.ts";

/** A stand-in client. */
export type StandIn = {
  /** The network it is in. */
  readonly network: string;
  /** The client, as if it had been declared. */
  readonly device: SiteDevice;
  /** Its link, which is up only when a question asks for it. */
  readonly link: Link;
};

const PORT = "nic";

/** The stand-in of every network that serves leases and has a place to plug one in. */
export function standInsOf(index: SiteIndex, places: Places): readonly StandIn[] {
  const served = servedNetworks(index);
  return index.site.networks
    .filter(({ name }) => served.has(name))
    .flatMap((network) => {
      const place = placeFor(network, places);
      return place === undefined ? [] : [standIn(network, place)];
    });
}

/** Networks where a server or relay listens, and those that a server keeps a pool for. */
function servedNetworks({ site }: SiteIndex): ReadonlySet<string> {
  const names = site.devices.flatMap((device) => {
    const networksOf = (name: string): readonly string[] =>
      device.interfaces.find((one) => one.name === name)?.networks ?? [];
    return [
      ...device.dhcp.flatMap((server) =>
        server.interface === undefined ? [server.name] : networksOf(server.interface),
      ),
      ...device.relays.flatMap((relay) => networksOf(relay.interface)),
    ];
  });
  return new Set(names);
}

/** A free socket, else a radio, else a socket in use (one can always unplug what is there), each rather both ways than one. */
function placeFor(network: SiteNetwork, places: Places): Place | undefined {
  const all = [...places.of(network), ...places.unmanaged(network)].filter(({ untagged }) => untagged !== "no");
  const pluggable = all.filter(({ by, port, free }) => (by === "radio" ? free : port !== undefined));
  const rank = ({ by, free, untagged }: Place): number =>
    (untagged === "both-ways" ? 0 : 8) + (by === "cable" && free ? 0 : by === "radio" ? 1 : 2);
  return pluggable.reduce<Place | undefined>(
    (best, place) => (best === undefined || rank(place) < rank(best) ? place : best),
    undefined,
  );
}

function standIn(network: SiteNetwork, place: Place): StandIn {
  const name = `~${network.name}`;
  const { span } = network.origin;
  const origin: Origin = { by: "default", span, rule: "a client that was just plugged in", source: "dryrack" };
  const ends = [portId(name, PORT), place.port ?? place.at] as const;
  const kind = place.by;
  const link: Link = withDigest({ id: linkId(...ends), origin, ends, kind, downWith: [], onDemand: true });
  const six = network.prefixes.some(({ value }) => value.family === 6);
  const device = newClient({ device: name, port: PORT }, origin, { six, network: network.name });
  return { network: network.name, device, link };
}

/** The device of a network's stand-in client. */
export function standInId({ device }: StandIn): Id {
  return idOf(device.name);
}
