/**
 * What joins devices, line by line: cables, several of them braided where they make a bond, radios, tunnels.
 */
import { type Id, type Link, lastName, type Network, portId, type Settled } from "../network/index.ts";
import type { PictureEnd, PictureThread, PictureWire } from "../result/index.ts";
import type { PortOf, Site, SiteDevice } from "../site/index.ts";
import { type Carried, carriedAt, carriedBySsid, threadsBetween } from "./carried.ts";

/** What wires are worked out from. */
export type WireGround = {
  /** What is written, resolved. */
  readonly site: Site;
  /** The description. */
  readonly network: Network;
  /** The site at rest. */
  readonly settled: Settled;
};

/** Every wire: cables and bonds in document order, then radios that are joined, then tunnels. */
export function wiresOf(ground: WireGround): readonly PictureWire[] {
  const plan = planOf(ground);
  return [...cablesOf(plan), ...radiosOf(plan), ...tunnelsOf(plan)];
}

/** The ground with what is looked up often. */
type Plan = WireGround & {
  readonly devices: ReadonlyMap<string, SiteDevice>;
  readonly rates: ReadonlyMap<Id, number>;
  readonly down: ReadonlySet<Id>;
  /** Ports and bonds that the spanning tree blocks. */
  readonly blocked: ReadonlySet<Id>;
};

function planOf(ground: WireGround): Plan {
  const { site, network, settled } = ground;
  const blocked = new Set(settled.blocked.map(({ port }) => port));
  const bridged = network.bridges.flatMap(({ ports }) => ports);
  return {
    ...ground,
    devices: new Map(site.devices.map((device) => [device.name, device])),
    rates: new Map(network.ports.map(({ id, rateMbps }) => [id, rateMbps])),
    down: new Set(settled.down),
    blocked: new Set(bridged.flatMap(({ id, on }) => (blocked.has(id) ? [on] : []))),
  };
}

/** One cable: its link and its ends. */
type Strand = { readonly link: Id; readonly ends: readonly [PortOf, PortOf] };

/** Cables between the same two devices that make the same bond are one wire. */
function cablesOf(plan: Plan): readonly PictureWire[] {
  const groups = new Map<string, Strand[]>();
  const linkOf = new Map(plan.network.links.map((link) => [link.ends.join(" "), link.id]));
  for (const [index, { ends }] of plan.site.cables.entries()) {
    const link = linkOf.get(ends.map(idOfPort).join(" "));
    if (link === undefined) throw new Error(`the cable ${ends.map(idOfPort).join(" - ")} has no link`);
    const bonds = ends.map((end) => bondOf(plan, end) ?? "");
    const keys = ends.map(({ device }, side) => `${device}:${bonds[side]}`);
    const key = bonds.every((bond) => bond === "") ? `${index}` : [...keys].sort().join(" ");
    const group = groups.get(key) ?? [];
    const [first] = group;
    const turned = first !== undefined && first.ends[0].device !== ends[0].device;
    group.push({ link, ends: turned ? [ends[1], ends[0]] : ends });
    groups.set(key, group);
  }
  return [...groups.values()].map((strands) => cableWire(strands, plan));
}

function idOfPort({ device, port }: PortOf): Id {
  return portId(device, port);
}

function bondOf({ devices }: Plan, { device, port }: PortOf): string | undefined {
  return devices.get(device)?.ports.find(({ name }) => name === port)?.bond;
}

function cableWire(strands: readonly Strand[], plan: Plan): PictureWire {
  const [first] = strands;
  if (first === undefined) throw new Error("a wire without a strand");
  const parts = strands.map(({ link }) => link);
  const end = (side: 0 | 1): PictureEnd => {
    const { device } = first.ends[side];
    const bond = bondOf(plan, first.ends[side]);
    const ports = strands.map(({ ends }) => ends[side].port);
    return {
      device,
      ports,
      ...(bond === undefined ? {} : { bond }),
      blocked: plan.blocked.has(portId(device, bond ?? first.ends[side].port)),
    };
  };
  const ends = [end(0), end(1)] as const;
  const carried = ends.map(({ device, ports, bond }) =>
    carriedAt(plan.site, deviceIn(plan, device), bond ?? ports[0] ?? ""),
  );
  return {
    id: first.link,
    kind: strands.length > 1 ? "bond" : "cable",
    ends,
    parts,
    rateMbps: Math.min(...first.ends.map((port) => plan.rates.get(idOfPort(port)) ?? 0)),
    threads: threadsOf(plan, ends, carried),
    up: parts.some((part) => !plan.down.has(part)),
  };
}

function deviceIn({ devices }: Plan, name: string): SiteDevice {
  const device = devices.get(name);
  if (device === undefined) throw new Error(`a wire ends at ${name}, which is no device`);
  return device;
}

function threadsOf(
  plan: Plan,
  ends: readonly [PictureEnd, PictureEnd],
  [one, other]: readonly Carried[],
): readonly PictureThread[] {
  if (one === undefined || other === undefined) throw new Error("a wire has two ends");
  return threadsBetween(plan.site, [deviceIn(plan, ends[0].device), deviceIn(plan, ends[1].device)], [one, other]);
}

/** A client and the access point that it joined; those that it did not join are down. */
function radiosOf(plan: Plan): readonly PictureWire[] {
  return looseLinks(plan, "radio").flatMap((link) => {
    if (plan.down.has(link.id)) return [];
    const [client, association] = link.ends;
    const ssid = lastName(association.slice(0, association.lastIndexOf("/")));
    const ends = [endOf(plan, client, lastName(client)), endOf(plan, association, ssid)] as const;
    const carried = [
      carriedAt(plan.site, deviceIn(plan, ends[0].device), lastName(client)),
      carriedBySsid(plan.site, deviceIn(plan, ends[1].device), ssid),
    ];
    return [looseWire(link, ends, threadsOf(plan, ends, carried), plan)];
  });
}

/** Tunnels, whether they come up or not. */
function tunnelsOf(plan: Plan): readonly PictureWire[] {
  return looseLinks(plan, "tunnel").map((link) => {
    const [one, other] = link.ends;
    const ends = [endOf(plan, one, lastName(one)), endOf(plan, other, lastName(other))] as const;
    const carried = ends.map(({ device, ports }) => carriedAt(plan.site, deviceIn(plan, device), ports[0] ?? ""));
    return looseWire(link, ends, threadsOf(plan, ends, carried), plan);
  });
}

/** Links of a kind between devices of the site, in document order. */
function looseLinks({ network, devices }: Plan, kind: Link["kind"]): readonly Link[] {
  const owner = new Map(network.ports.map(({ id, device }) => [id, device]));
  const places = new Map([...devices.keys()].map((name, index) => [name, index]));
  const placeOf = ({ ends: [end] }: Link): number => places.get(owner.get(end) ?? "") ?? 0;
  return network.links
    .filter(
      (link) => link.kind === kind && !link.onDemand && link.ends.every((end) => places.has(owner.get(end) ?? "")),
    )
    .sort((a, b) => placeOf(a) - placeOf(b) || (a.id < b.id ? -1 : 1));
}

function endOf({ network }: Plan, id: Id, name: string): PictureEnd {
  const port = network.ports.find((each) => each.id === id);
  if (port === undefined) throw new Error(`a link ends at ${id}, which is no port`);
  return { device: port.device, ports: [name], blocked: false };
}

function looseWire(
  link: Link,
  ends: readonly [PictureEnd, PictureEnd],
  threads: readonly PictureThread[],
  { down }: Plan,
): PictureWire {
  const kind = link.kind === "tunnel" ? "tunnel" : "radio";
  return { id: link.id, kind, ends, parts: [link.id], rateMbps: 0, threads, up: !down.has(link.id) };
}
