/**
 * The whole picture of a site at rest.
 */
import { formatAddress, formatPrefix } from "../address/index.ts";
import type { Evaluation, World, Worlds } from "../evaluate/index.ts";
import { deviceOf as deviceAt, type Id, type Network, portId, type Settled } from "../network/index.ts";
import type { PictureAddress, PictureDevice, PictureNetwork, PicturePort, SitePicture } from "../result/index.ts";
import type { Site, SiteDevice } from "../site/index.ts";
import { heldAddresses, interfaceName } from "./addresses.ts";
import { carriedAt, networksAt } from "./carried.ts";
import { wiresOf } from "./wires.ts";

/** What a picture is worked out from. */
export type PictureGround = {
  /** Name of the site. */
  readonly name: string;
  /** What is written, resolved. */
  readonly site: Site;
  /** The network under question; its first world is drawn. */
  readonly evaluation: Evaluation;
};

/** The picture of a site at rest. */
export function pictureOf({ name, site, evaluation }: PictureGround): SitePicture {
  const worlds = evaluation.worlds();
  const [world] = worlds.worlds;
  if (world === undefined) throw new Error("a site has no world");
  const { settled } = world;
  const wires = wiresOf({ site, network: evaluation.network, settled });
  const joined = new Set(
    wires.flatMap(({ kind, ends }) =>
      kind === "tunnel" ? [] : ends.flatMap(({ device, ports }) => ports.map((port) => portId(device, port))),
    ),
  );
  const addresses = addressesOf(evaluation, settled);
  const drawn = new Set(
    wires.flatMap(({ threads }) => threads.flatMap((each) => (each.carriedBy === "neither" ? [] : [each.network]))),
  );
  const terms: Terms = { site, joined, drawn };
  return {
    site: name,
    networks: site.networks.map(networkOf),
    devices: site.devices.map((device) => blockOf(device, terms, addresses.get(device.name) ?? [])),
    wires,
    notes: [...stormNotes(evaluation.network, settled), ...leaseNotes(site, world, addresses), ...openNotes(worlds)],
  };
}

function networkOf({ name, vlan, prefixes }: Site["networks"][number], index: number): PictureNetwork {
  return {
    name,
    letter: letterOf(index),
    ...(vlan === undefined ? {} : { vlan: vlan.value }),
    prefixes: prefixes.map(({ value }) => formatPrefix(value)),
  };
}

/** `A` to `Z`, `AA`, `AB`. */
function letterOf(index: number): string {
  const last = String.fromCharCode(65 + (index % 26));
  return index < 26 ? last : `${letterOf(Math.floor(index / 26) - 1)}${last}`;
}

/** What blocks are worked out from: the site, ports that something is plugged into, and networks that some wire carries. */
type Terms = { readonly site: Site; readonly joined: ReadonlySet<Id>; readonly drawn: ReadonlySet<string> };

function blockOf(
  device: SiteDevice,
  { site, joined, drawn }: Terms,
  addresses: readonly PictureAddress[],
): PictureDevice {
  const { name, is, ports } = device;
  const portOf = ({ name: port, rateMbps, enabled, bond }: SiteDevice["ports"][number]): PicturePort => {
    const state = !enabled.value ? "off" : joined.has(portId(name, port)) ? "used" : "free";
    const { networks } = carriedAt(site, device, bond ?? port);
    const alone = site.networks.flatMap((each) => (networks.has(each.name) && !drawn.has(each.name) ? each.name : []));
    return {
      name: port,
      rateMbps: rateMbps.value,
      state,
      ...(bond === undefined ? {} : { bond }),
      ...(state === "free" && alone.length > 0 ? { alone } : {}),
    };
  };
  return { name, is, ports: ports.map(portOf), addresses, networks: networksAt(site, name) };
}

type Addresses = ReadonlyMap<string, readonly PictureAddress[]>;

/** Addresses at rest by device. */
function addressesOf(evaluation: Evaluation, settled: Settled): Addresses {
  const found = new Map<string, PictureAddress[]>();
  for (const held of heldAddresses(evaluation, settled)) {
    const text = `${formatAddress(held)}/${held.prefixLength}`;
    const address: PictureAddress = { interface: held.interface, text, by: held.by };
    found.set(held.device, [...(found.get(held.device) ?? []), address]);
  }
  return found;
}

/** Ports as people know them, not as bridges number them. */
function stormNotes({ bridges }: Network, { storms }: Settled): readonly string[] {
  const attached = new Map(bridges.flatMap(({ ports }) => ports.map(({ id, on }) => [id, on] as const)));
  return storms.map(({ ports }) => {
    const names = ports.map((port) => attached.get(port) ?? port);
    return `A loop that nothing cuts: frames circle for ever through ${names.join(", ")}.`;
  });
}

/** Of interfaces that have no address at all, why; clients that exist only in questions are none of the site's. */
function leaseNotes(site: Site, { failures }: World, addresses: Addresses): readonly string[] {
  const names = new Set(site.devices.map(({ name }) => name));
  const told = new Map<Id, string>();
  for (const { interface: at, text } of failures) {
    const device = deviceAt(at);
    const name = interfaceName(at);
    const has = addresses.get(device)?.some((address) => address.interface === name) === true;
    if (!has && names.has(device) && !told.has(at)) told.set(at, `${device}/${name} got no address: ${text}.`);
  }
  return [...told.values()];
}

function openNotes({ worlds }: Worlds): readonly string[] {
  if (worlds.length < 2) return [];
  return [`The plan leaves open which of ${worlds.length} states the site comes to rest in; the first one is drawn.`];
}
