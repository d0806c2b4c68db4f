/**
 * Places where a frame that nobody vouches for enters a network (semantics, section 1): edge ports, that is, ports with
 * no cable or cabled to a host or an unmanaged switch; radio associations; and ports of routers that stand in the network.
 * Where a host is trusted to be alone at its cable the other end is none: who sends there is vouched for.
 */
import type { Origin } from "../diagnose/index.ts";
import { type Id, idOf, portId, type Vouched } from "../network/index.ts";
import type { SiteDevice, SiteMembership, SiteNetwork } from "../site/index.ts";
import { associationId, openAssociationId } from "./ids.ts";
import { attachmentOf, groupBy, profileOf, type SiteIndex } from "./plant.ts";
import { portsOfTunnel } from "./tunnels.ts";

/** A place where frames enter a network. */
export type Place = {
  /** The attachment. */
  readonly at: Id;
  /** The physical port that one can plug into there; absent: a bond, or a radio association. */
  readonly port?: Id;
  /** Nothing is plugged in. */
  readonly free: boolean;
  /** How it takes untagged frames of the network: it carries them both ways, it only hears them, or not at all. */
  readonly untagged: "both-ways" | "in" | "no";
  /** What one joins it by. */
  readonly by: "cable" | "radio" | "tunnel";
  /** The hosts that alone send there, as their intent says; absent: anybody may. */
  readonly vouched?: readonly Trust[];
};

/** A host that is alone at its cable. */
type Trust = { readonly device: string; readonly origin: Origin };

/** Indexes of a site for finding places. */
export type Places = {
  /** Where frames enter a network, managed devices only unless there is none. */
  readonly of: (network: SiteNetwork) => readonly Place[];
  /** Where they would if nobody vouched for who sends there, sorted by place. */
  readonly vouched: (network: SiteNetwork) => readonly Vouched[];
  /** Free ports of unmanaged switches that the network goes into. */
  readonly unmanaged: (network: SiteNetwork) => readonly Place[];
};

/** Prepares the search; the edge ports of each device are found once. */
export function placesIn(index: SiteIndex): Places {
  const edges = new Map<string, readonly Edge[]>();
  const edgesOf = (device: SiteDevice): readonly Edge[] => {
    const known = edges.get(device.name) ?? edgePorts(device, index);
    edges.set(device.name, known);
    return known;
  };
  const unmanaged = (network: SiteNetwork): readonly Place[] => unmanagedPlaces(network, index);
  const found = new Map<SiteNetwork, readonly Place[]>();
  const search = (network: SiteNetwork): readonly Place[] =>
    onceEach([
      ...network.extent.domains.flatMap(({ device: name, vlan }) => {
        const device = index.devices.get(name);
        if (device?.bridge === undefined || device.bridge.unmanaged) return [];
        return [...bridgePlaces(device, vlan, edgesOf(device)), ...radioPlaces(device, vlan, index)];
      }),
      ...routedPlaces(network, index, edgesOf),
    ]);
  const managed = (network: SiteNetwork): readonly Place[] => {
    const known = found.get(network) ?? search(network);
    found.set(network, known);
    return known;
  };
  return {
    of: (network) => {
      const places = managed(network).filter(({ vouched }) => vouched === undefined);
      return places.length > 0 ? places : unmanaged(network);
    },
    vouched: (network) =>
      vouchedOnce(
        managed(network).flatMap(({ at, vouched = [] }) =>
          vouched.map(({ device, origin }) => ({ at, device: idOf(device), origin })),
        ),
      ),
    unmanaged,
  };
}

function onceEach(places: readonly Place[]): readonly Place[] {
  return [...new Map(places.map((place) => [place.at, place])).values()];
}

/** Each place and host once, sorted by place. */
export function vouchedOnce(vouched: readonly Vouched[]): readonly Vouched[] {
  const once = new Map(vouched.map((each) => [`${each.at} ${each.device}`, each]));
  return [...once].sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0)).map(([, each]) => each);
}

/** A port or bond that is an edge. */
type Edge = Pick<Place, "at" | "port" | "free" | "vouched"> & { readonly name: string };

/** Edge ports and bonds of a device. */
function edgePorts(device: SiteDevice, index: SiteIndex): readonly Edge[] {
  const wired = device.ports.filter((port) => !port.radio);
  const single = wired.flatMap((port): readonly Edge[] => {
    if (!port.enabled.value || port.bond !== undefined || !isEdge(device, port.name, index)) return [];
    const id = portId(device.name, port.name);
    const free = index.cableAt(device.name, port.name) === undefined;
    return [{ name: port.name, at: id, port: id, free, ...vouchedAt(device, [port.name], index) }];
  });
  return [...single, ...edgeBonds(device, index)];
}

function isEdge(device: SiteDevice, port: string, index: SiteIndex): boolean {
  const far = index.cableAt(device.name, port)?.far;
  if (far === undefined) return true;
  const kind = index.devices.get(far.device)?.is;
  return kind === "host" || kind === "unmanaged-switch";
}

/** Who alone sends by the cables in these edge ports; nothing where somebody else may, by one of them. */
function vouchedAt(device: SiteDevice, ports: readonly string[], index: SiteIndex): Pick<Edge, "vouched"> {
  const trusts = ports.flatMap((port): readonly Trust[] => {
    const far = index.cableAt(device.name, port)?.far;
    const trust = far && index.devices.get(far.device)?.trusted.find(({ value }) => value === far.port);
    return far === undefined || trust === undefined ? [] : [{ device: far.device, origin: trust.origin }];
  });
  if (trusts.length < ports.length) return {};
  const hosts = groupBy(trusts, (trust) => trust.device).values();
  return { vouched: [...hosts].flatMap(([first]) => first ?? []) };
}

/**
 * A stranger on one member of a bond is heard by a static bond and by active-backup when its turn comes; LACP takes it
 * only when no partner holds the bond, that is, when all its members are edges.
 */
function edgeBonds(device: SiteDevice, index: SiteIndex): readonly Edge[] {
  return device.bonds.flatMap((bond): readonly Edge[] => {
    const members = bond.members.filter(({ value }) =>
      device.ports.some((port) => port.name === value && port.enabled.value),
    );
    const edges = members.filter(({ value }) => isEdge(device, value, index));
    const heard = bond.mode.value === "lacp" ? edges.length === members.length : true;
    if (edges.length === 0 || !heard) return [];
    const free = edges.every(({ value }) => index.cableAt(device.name, value) === undefined);
    const names = edges.map(({ value }) => value);
    return [{ name: bond.name, at: portId(device.name, bond.name), free, ...vouchedAt(device, names, index) }];
  });
}

/** Edge ports of a bridge by which frames can get into a VLAN, with whatever tag. */
function bridgePlaces(device: SiteDevice, vlan: number | undefined, edges: readonly Edge[]): readonly Place[] {
  const memberships = new Map(device.bridge?.ports.map(({ name, membership }) => [name, membership]));
  return edges.flatMap((edge): readonly Place[] => {
    const membership = memberships.get(edge.name);
    if (membership === undefined) return [];
    const untagged = vlan === undefined ? "both-ways" : untaggedAt(membership, vlan);
    if (untagged === "no" && vlan !== undefined && !takesTagged(membership, vlan, device)) return [];
    return [placeAt(edge, untagged)];
  });
}

function placeAt({ at, port, free, vouched }: Edge, untagged: Place["untagged"]): Place {
  const known = { ...(port === undefined ? {} : { port }), ...(vouched === undefined ? {} : { vouched }) };
  return { at, free, untagged, by: "cable", ...known };
}

function untaggedAt({ portVlan, admit, members }: SiteMembership, vlan: number): Place["untagged"] {
  if (portVlan.value !== vlan || admit.value === "tagged") return "no";
  const leaves = members.find(({ first, last }) => first <= vlan && vlan <= last)?.leaves;
  return leaves === "untagged" ? "both-ways" : "in";
}

/** A tag is taken where the port carries its VLAN, and everywhere where nobody checks (802.1Q's default). */
function takesTagged({ admit, members, filterIngress }: SiteMembership, vlan: number, device: SiteDevice): boolean {
  if (admit.value === "untagged") return false;
  const filters = filterIngress?.value ?? profileOf(device).ingressFilter.value;
  return !filters || members.some(({ first, last }) => first <= vlan && vlan <= last);
}

function radioPlaces(device: SiteDevice, vlan: number | undefined, index: SiteIndex): readonly Place[] {
  return device.ssids
    .filter((ssid) => vlan === undefined || ssid.vlan.value === vlan)
    .flatMap((ssid) => {
      const clients = index
        .clientsOf(ssid.name)
        .map((client) => associationId(device.name, ssid.name, client.device.name));
      const place = (at: Id, free: boolean): Place => ({ at, free, untagged: "both-ways", by: "radio" });
      return [...clients.map((at) => place(at, false)), place(openAssociationId(device.name, ssid.name), true)];
    });
}

/** Ports that an interface in the network stands on directly. */
function routedPlaces(
  { extent }: SiteNetwork,
  index: SiteIndex,
  edgesOf: (device: SiteDevice) => readonly Edge[],
): readonly Place[] {
  return extent.interfaces.flatMap((reference): readonly Place[] => {
    const device = index.devices.get(reference.device);
    if (device === undefined || device.is === "host" || device.is === "upstream") return [];
    const one = device.interfaces.find(({ name }) => name === reference.interface);
    if (one?.footing.on === "tunnel") return tunnelPlaces(device, one.footing.port, index);
    if (one?.footing.on !== "port") return [];
    const { port } = one.footing;
    const edge = edgesOf(device).find(({ name }) => name === port);
    return edge === undefined ? [] : [placeAt(edge, one.vlan === undefined ? "both-ways" : "no")];
  });
}

/** Ends of tunnels that a host is at the far end of: nobody else has its part of the tunnel. */
function tunnelPlaces(device: SiteDevice, name: string, index: SiteIndex): readonly Place[] {
  return portsOfTunnel(device, name, index).ofHosts.map((at) => ({
    at,
    free: false,
    untagged: "both-ways",
    by: "tunnel",
  }));
}

function unmanagedPlaces({ extent }: SiteNetwork, index: SiteIndex): readonly Place[] {
  return extent.domains.flatMap(({ device: name, vlan }) => {
    const device = index.devices.get(name);
    if (vlan !== undefined || !device?.bridge?.unmanaged) return [];
    const free = device.ports.filter((port) => index.cableAt(name, port.name) === undefined);
    return free.map((port): Place => {
      const id = portId(name, port.name);
      return { at: id, port: id, free: true, untagged: "both-ways", by: "cable" };
    });
  });
}

/** Attachments at the other ends of a host's port: where its frames enter. */
export function farAttachments(device: SiteDevice, port: string, index: SiteIndex): readonly Id[] {
  const far = index.cableAt(device.name, port)?.far;
  const other = far && index.devices.get(far.device);
  if (far !== undefined && other !== undefined) return [portId(far.device, attachmentOf(other, far.port))];
  return associationsOf(device, port, index);
}

function associationsOf(device: SiteDevice, port: string, index: SiteIndex): readonly Id[] {
  return device.joins.flatMap(({ value: ssid }) => {
    const isOn = index.clientsOf(ssid).some((client) => client.device === device && client.port === port);
    return isOn ? index.offering(ssid).map((offer) => associationId(offer.device.name, ssid, device.name)) : [];
  });
}
