/**
 * Leases and advertised addresses in one line of text, the same for the kernel and the simulator, and the worlds that fit what
 * the interfaces of a site on the kernel were told.
 */
import { formatAddress, keyAddress } from "../address/index.ts";
import type { World } from "../evaluate/index.ts";
import { deviceOf, type Id, type Lease, type Route } from "../network/index.ts";
import type { Site } from "../site/index.ts";
import type { KernelAdvertised, KernelAdvertisements } from "./take-advertised.ts";
import { type KernelLease, type KernelLeases, routesBy } from "./take-leases.ts";

/** What a client was lent on the kernel; `site` names the server. */
export function tellLease(lease: KernelLease | undefined, site: Site): string {
  if (lease === undefined) return NOTHING;
  const { address, length, resolvers, seconds } = lease;
  return lineOf({
    address: `${address}/${length}`,
    server: serverAt(lease.server, site),
    routes: routesBy(lease),
    resolvers,
    seconds,
  });
}

/** What the simulator lends it in a world. */
export function tellBinding(binding: Lease | undefined): string {
  if (binding === undefined) return NOTHING;
  const { value, prefixLength, server, routes, resolvers, seconds } = binding;
  return lineOf({
    address: `${text(value)}/${prefixLength}`,
    server: deviceOf(server),
    routes: routes.map(({ prefix, length, via }) => ({ to: `${text(prefix)}/${length}`, via: text(via ?? 0n) })),
    resolvers: resolvers.map((key) => formatAddress(keyAddress(key))),
    seconds,
  });
}

/** The lease of an interface in a world. */
export function bindingIn({ settled }: World, id: Id): Lease | undefined {
  return settled.bindings.find((binding): binding is Lease => binding.interface === id && binding.family === 4);
}

/** What an interface made of advertisements on the kernel. */
export function tellAdvertised({ addresses, routers }: KernelAdvertised): string {
  return advertisedLine(
    addresses.map(({ address, length }) => `${address}/${length}`),
    routers,
  );
}

/** What it makes of them in a world. */
export function tellAdvertisedIn({ settled }: World, id: Id): string {
  const own = settled.bindings.flatMap((binding) =>
    binding.interface === id && binding.family === 6 && binding.value !== undefined ? [binding.value] : [],
  );
  const routes = settled.stacks.flatMap((stack) => stack.routesBack ?? stack.routes);
  const routers = routes.flatMap(({ family, length, action, origin }) => {
    const isTold = family === 6 && length === 0 && origin.by === "learned" && origin.from === "advertisement";
    if (!isTold || action.do !== "forward") return [];
    return action.hops.flatMap(({ egress, via }) => (egress === id && via !== undefined ? [text6(via)] : []));
  });
  return advertisedLine(
    own.map((value) => `${text6(value)}/${routes.some((route) => isItsLink(route, id, value)) ? 64 : 128}`),
    routers,
  );
}

/** Whether the prefix of an address that was formed is on the interface's link, whoever says so. */
function isItsLink({ family, prefix, length, action }: Route, id: Id, value: bigint): boolean {
  if (family !== 6 || length !== 64 || action.do !== "forward") return false;
  return prefix >> 64n === value >> 64n && action.hops.some(({ egress, via }) => egress === id && via === undefined);
}

function advertisedLine(addresses: readonly string[], routers: readonly string[]): string {
  const ways = [...new Set(routers)].toSorted().map((router) => `router ${router}`);
  return [...new Set(addresses)].toSorted().concat(ways).join("; ") || "nothing";
}

/** What the interfaces of a site on the kernel were told. */
export type Told = {
  /** By lease. */
  readonly leases: KernelLeases;
  /** By advertisement. */
  readonly advertised: KernelAdvertisements;
};

/** The worlds in which everybody is told the same. */
export function worldsLike(worlds: readonly World[], { leases, advertised }: Told, site: Site): readonly World[] {
  return worlds.filter(
    (world) =>
      [...leases].every(([id, lease]) => tellLease(lease, site) === tellBinding(bindingIn(world, id))) &&
      [...advertised].every(([id, each]) => tellAdvertised(each) === tellAdvertisedIn(world, id)),
  );
}

const NOTHING = "no lease";

type Line = {
  readonly address: string;
  readonly server: string;
  readonly routes: readonly { readonly to: string; readonly via: string }[];
  readonly resolvers: readonly string[];
  readonly seconds: number;
};

function lineOf({ address, server, routes, resolvers, seconds }: Line): string {
  const ways = routes.map(({ to, via }) => (to === "0.0.0.0/0" ? `router ${via}` : `${to} by ${via}`));
  const names = resolvers.length === 0 ? [] : [`resolvers ${resolvers.join(", ")}`];
  return [`${address} from ${server}`, ...ways, ...names, `${seconds} s`].join("; ");
}

function text(value: bigint): string {
  return formatAddress({ family: 4, value });
}

function text6(value: bigint): string {
  return formatAddress({ family: 6, value });
}

/** The device that goes by an address; the address itself where none of the site's stated ones is it. */
function serverAt(address: string, { devices }: Site): string {
  const owner = devices.find(({ interfaces, handsOut }) => {
    const own = interfaces.flatMap(({ addresses }) =>
      addresses.map(({ family, value }) => formatAddress({ family, value })),
    );
    return [...own, ...handsOut.flatMap(({ router }) => (router === undefined ? [] : [text(router.value)]))].includes(
      address,
    );
  });
  return owner?.name ?? address;
}
