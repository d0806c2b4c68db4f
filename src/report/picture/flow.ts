/**
 * Which way the drawing reads: from the upstreams at the left edge to the hosts at the right. Each wire gets a source, the
 * end that is nearer to the edge; ties go by document order, so that there is no way in a circle.
 */
import type { PictureDevice, PictureEnd, PictureWire, SitePicture } from "../../result/index.ts";
import type { Point } from "./measures.ts";

/** A wire with its direction. */
export type Flow = {
  /** It. */
  readonly wire: PictureWire;
  /** The end at the left. */
  readonly source: PictureEnd;
  /** The end at the right. */
  readonly target: PictureEnd;
};

/** A wire with its way. */
export type Line = {
  /** It. */
  readonly wire: PictureWire;
  /** Its middle line from the left end to the right one; each piece is upright or level. */
  readonly route: readonly Point[];
  /** True when the way begins at the wire's second end. */
  readonly turned: boolean;
};

/** Devices that hang together. */
export type Component = {
  /** As one reads: from the roots along their ports, all behind one port before the next. */
  readonly devices: readonly PictureDevice[];
  /** What joins them, by the device that it comes from, then by its ports. */
  readonly flows: readonly Flow[];
};

/** Whatever hangs together, those with an upstream first, then in document order. Tunnels are drawn apart and join nothing. */
export function componentsOf({ devices, wires }: SitePicture): readonly Component[] {
  const joining = wires.filter(({ kind }) => kind !== "tunnel");
  const beside = neighboursOf(devices, joining);
  const depths = new Map<string, number>();
  const places = new Map(devices.map(({ name }, index) => [name, index]));
  const seen = new Set<string>();
  const components = devices.flatMap((device): readonly Component[] => {
    if (seen.has(device.name)) return [];
    const names = reachedFrom([device.name], beside);
    const members = devices.filter(({ name }) => names.has(name));
    for (const [name, depth] of reachedFrom(rootsOf(members, beside), beside)) depths.set(name, depth);
    for (const { name } of members) seen.add(name);
    const rank = ({ device: name }: PictureEnd): number =>
      (depths.get(name) ?? 0) * devices.length + (places.get(name) ?? 0);
    const flows = joining
      .filter(({ ends: [end] }) => names.has(end.device))
      .map((wire): Flow => {
        const [one, other] = wire.ends;
        return rank(one) <= rank(other) ? { wire, source: one, target: other } : { wire, source: other, target: one };
      });
    return [inReadingOrder(members, flows)];
  });
  const hasUpstream = (component: Component): boolean => component.devices.some(({ is }) => is === "upstream");
  return [...components.filter(hasUpstream), ...components.filter((component) => !hasUpstream(component))];
}

/** Depth first, so that what hangs behind one port stands together in every layer. */
function inReadingOrder(devices: readonly PictureDevice[], flows: readonly Flow[]): Component {
  const byName = new Map(devices.map((device) => [device.name, device]));
  const from = new Map<string, Flow[]>();
  const entered = new Set<string>();
  for (const flow of flows) {
    from.set(flow.source.device, [...(from.get(flow.source.device) ?? []), flow]);
    if (flow.source.device !== flow.target.device) entered.add(flow.target.device);
  }
  for (const [name, leaving] of from) {
    const ports = new Map(byName.get(name)?.ports.map((port, index) => [port.name, index]));
    leaving.sort((a, b) => placeOf(a.source, ports) - placeOf(b.source, ports));
  }
  const ordered = new Set<PictureDevice>();
  const pending = devices.filter(({ name }) => !entered.has(name)).reverse();
  for (let device = pending.pop(); device !== undefined; device = pending.pop()) {
    if (ordered.has(device)) continue;
    ordered.add(device);
    const next = (from.get(device.name) ?? []).map(({ target }) => byName.get(target.device));
    pending.push(...next.filter((each) => each !== undefined).reverse());
  }
  return { devices: [...ordered], flows: [...ordered].flatMap(({ name }) => from.get(name) ?? []) };
}

/** Place of an end among the ports of its device; SSIDs come last. */
function placeOf({ ports: [port = ""] }: PictureEnd, ports: ReadonlyMap<string, number>): number {
  return ports.get(port) ?? ports.size;
}

type Beside = ReadonlyMap<string, readonly string[]>;

function neighboursOf(devices: readonly PictureDevice[], wires: readonly PictureWire[]): Beside {
  const beside = new Map<string, string[]>(devices.map(({ name }) => [name, []]));
  for (const { ends } of wires) {
    const [one, other] = ends.map(({ device }) => device);
    if (one === undefined || other === undefined) continue;
    beside.get(one)?.push(other);
    beside.get(other)?.push(one);
  }
  return beside;
}

/** Distance of everything from the nearest root. */
function reachedFrom(roots: readonly string[], beside: Beside): ReadonlyMap<string, number> {
  const depths = new Map(roots.map((name) => [name, 0]));
  // Names found on the way are appended and so walked too.
  for (const [name, depth] of depths) {
    for (const next of beside.get(name) ?? []) if (!depths.has(next)) depths.set(next, depth + 1);
  }
  return depths;
}

/** Upstreams; else the router, else the device, with the most wires. */
function rootsOf(devices: readonly PictureDevice[], beside: Beside): readonly string[] {
  const upstreams = devices.filter(({ is }) => is === "upstream");
  if (upstreams.length > 0) return upstreams.map(({ name }) => name);
  const routers = devices.filter(({ is }) => is === "router");
  const candidates = routers.length > 0 ? routers : devices;
  const wires = ({ name }: PictureDevice): number => beside.get(name)?.length ?? 0;
  const most = Math.max(...candidates.map(wires));
  return candidates
    .filter((device) => wires(device) === most)
    .slice(0, 1)
    .map(({ name }) => name);
}
