/**
 * The clients of a site that stands take their leases, each asking once, device after device; those that got none ask again
 * when others have their addresses, as somebody on the way may have lacked one.
 */
import { type Id, idOf } from "../network/index.ts";
import type { ClientPlan, KernelPlan } from "./plan.ts";
import type { Rack } from "./rack.ts";

/** What a client was lent, as the helper tells it. */
export type KernelLease = {
  /** The address. */
  readonly address: string;
  /** Length of its prefix. */
  readonly length: number;
  /** Address that the server goes by. */
  readonly server: string;
  /** How long it lasts. */
  readonly seconds: number;
  /** Option 3. */
  readonly routers: readonly string[];
  /** Option 6. */
  readonly resolvers: readonly string[];
  /** Option 15; empty: none. */
  readonly domain: string;
  /** Option 121. */
  readonly routes: readonly { readonly to: string; readonly via: string }[];
};

/** Leases by the ids of interfaces; undefined: the client got none. */
export type KernelLeases = ReadonlyMap<Id, KernelLease | undefined>;

/** Starts the servers and has every client ask. */
export async function takeLeases(rack: Rack, site: string, plan: KernelPlan): Promise<KernelLeases> {
  const servers = plan.devices.flatMap(({ device, dnsmasq }) => (dnsmasq === "" ? [] : [{ device, text: dnsmasq }]));
  const clients = plan.devices.flatMap((device) => device.clients).toSorted(byDevice);
  if (servers.length > 0) await rack.ask("serve", { site, servers });
  const first = await askAll(rack, site, clients);
  const failed = clients.filter(({ id }) => first.get(id) === undefined);
  if (failed.length === 0 || failed.length === clients.length) return first;
  // They ask again much later, when connections of the first time are forgotten: so the simulator has it, too.
  await rack.ask("forget", { site });
  return new Map([...first, ...(await askAll(rack, site, failed))]);
}

/** Who asks first is nobody's to say; the simulator goes by the ids of devices, and so do we. */
function byDevice(one: ClientPlan, other: ClientPlan): number {
  const [a, b] = [idOf(one.device), idOf(other.device)];
  return a === b ? 0 : a < b ? -1 : 1;
}

/** All ask before anybody has what he got: nobody's success depends on his place in the document. */
async function askAll(rack: Rack, site: string, clients: readonly ClientPlan[]): Promise<KernelLeases> {
  const leases = new Map<Id, KernelLease | undefined>();
  for (const { id, device, name } of clients) {
    // The helper's own shape.
    const lease = (await rack.ask("lease", { site, device, interface: name })) as KernelLease | null;
    leases.set(id, lease ?? undefined);
  }
  const steps = clients.flatMap((client) => {
    const lease = leases.get(client.id);
    const lines = lease === undefined ? [] : linesFor(client, lease);
    return lines.map((line) => ({ device: client.device, command: ["ip", "-batch", "-"], text: `${line}\n` }));
  });
  // A second default route is refused, and the first one stays.
  for (const step of steps) await rack.ask("run", { site, steps: [step] });
  return leases;
}

/** The routes that a lease brings: those of option 121 in place of option 3 (RFC 3442). */
export function routesBy({ routes, routers: [router] }: KernelLease): KernelLease["routes"] {
  return routes.length > 0 || router === undefined ? routes : [{ to: "0.0.0.0/0", via: router }];
}

/** The address, and the routes. */
function linesFor({ name, takesGateway }: ClientPlan, lease: KernelLease): readonly string[] {
  const routes = routesBy(lease).filter(({ to }) => takesGateway || to !== "0.0.0.0/0");
  return [
    `addr add ${lease.address}/${lease.length} dev ${name}`,
    ...routes.map(({ to, via }) =>
      via === "0.0.0.0" ? `route add ${to} dev ${name}` : `route add ${to} via ${via} dev ${name}`,
    ),
  ];
}
