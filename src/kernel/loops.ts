/**
 * Loops among bridges: found by joining the two ends of each cable between bridged ports, one after the other. A cable
 * whose ends are joined already closes a loop, and only a spanning tree or a storm could say what comes of it.
 */
import type { PortOf, Site, SiteCable } from "../site/index.ts";
import type { Domain } from "./bridging.ts";
import type { Unsupported } from "./plan.ts";

/** Every cable that closes a loop of bridges. */
export function loopsOf(site: Site, domains: ReadonlyMap<string, readonly Domain[]>): readonly Unsupported[] {
  const joined = new Map<Domain, Domain>();
  const root = (domain: Domain): Domain => {
    const above = joined.get(domain);
    return above === undefined ? domain : root(above);
  };
  return site.cables.flatMap((cable) => {
    const [one, other] = cable.ends.map((end) => domainAt(end, domains));
    if (one === undefined || other === undefined) return [];
    if (root(one) === root(other)) return [{ origin: cable.origin, what: whatOf(cable) }];
    joined.set(root(one), root(other));
    return [];
  });
}

function whatOf({ ends }: SiteCable): string {
  return `a loop through the cable ${ends.map(({ device, port }) => `\`${device}:${port}\``).join(", ")}`;
}

function domainAt({ device, port }: PortOf, domains: ReadonlyMap<string, readonly Domain[]>): Domain | undefined {
  return domains.get(device)?.find(({ ports }) => ports.some(({ name }) => name === port));
}
