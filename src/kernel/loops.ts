/**
 * Loops among bridges: found by joining the two ends of each cable between bridged ports, one after the other. A cable
 * whose ends are joined already closes a loop, and only a spanning tree or a storm could say what comes of it.
 */
import type { PortOf, Site, SiteCable, SiteDevice } from "../site/index.ts";
import { domainsOf } from "./bridging.ts";
import type { Unsupported } from "./plan.ts";

/** Something that hands frames on from port to port. */
type Joint = { readonly ports: readonly string[] };

/** Every cable that closes a loop of bridges; on a `full` kernel, of bridges that run no spanning tree. */
export function loopsOf(site: Site, kind: "plain" | "full"): readonly Unsupported[] {
  const joints = new Map(site.devices.map((device) => [device.name, kind === "plain" ? plain(device) : full(device)]));
  const joined = new Map<Joint, Joint>();
  const root = (joint: Joint): Joint => {
    const above = joined.get(joint);
    return above === undefined ? joint : root(above);
  };
  return site.cables.flatMap((cable) => {
    const [one, other] = cable.ends.map((end) => jointAt(end, joints));
    if (one === undefined || other === undefined) return [];
    if (root(one) === root(other)) return [{ origin: cable.origin, what: whatOf(cable) }];
    joined.set(root(one), root(other));
    return [];
  });
}

function plain(device: SiteDevice): readonly Joint[] {
  return domainsOf(device).map(({ ports }) => ({ ports: ports.map(({ name }) => name) }));
}

/** One bridge carries all VLANs, so what could go round in one of them counts as a loop. */
function full({ bridge }: SiteDevice): readonly Joint[] {
  if (bridge === undefined || bridge.tree !== undefined) return [];
  return [{ ports: bridge.ports.map(({ name }) => name) }];
}

function whatOf({ ends }: SiteCable): string {
  return `a loop through the cable ${ends.map(({ device, port }) => `\`${device}:${port}\``).join(", ")}`;
}

function jointAt({ device, port }: PortOf, joints: ReadonlyMap<string, readonly Joint[]>): Joint | undefined {
  return joints.get(device)?.find(({ ports }) => ports.includes(port));
}
