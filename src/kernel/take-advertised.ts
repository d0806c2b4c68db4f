/**
 * The routers of a site that stands advertise, and the interfaces that wait make addresses and routes of what they hear: that
 * is the kernel's own doing, and is read from it.
 */
import { parseAddress, parsePrefix } from "../address/index.ts";
import type { Id } from "../network/index.ts";
import type { Done } from "./build.ts";
import type { AwaitingPlan, KernelPlan } from "./plan.ts";
import type { Rack } from "./rack.ts";

/** What an interface made of advertisements. */
export type KernelAdvertised = {
  /** Its addresses; the length is that of the prefix where that is on the link, whoever says so, else 128. */
  readonly addresses: readonly { readonly address: string; readonly length: number }[];
  /** Gateways of its default routes. */
  readonly routers: readonly string[];
};

/** By the ids of the interfaces that wait. */
export type KernelAdvertisements = ReadonlyMap<Id, KernelAdvertised>;

/**
 * Has everybody advertise once, and reads what came of it. Hosts know a router that they heard for a while without asking for
 * it; a site at rest has learned nothing of its neighbours, so that is forgotten.
 */
export async function takeAdvertised(rack: Rack, site: string, plan: KernelPlan): Promise<KernelAdvertisements> {
  const routers = plan.devices.flatMap(({ device, radvd }) => (radvd.text === "" ? [] : [{ device, ...radvd }]));
  if (routers.length > 0) {
    await rack.ask("advertise", { site, routers });
    await rack.ask("forget", { site });
  }
  const awaiting = plan.devices.flatMap((device) => device.awaiting);
  const read = await Promise.all(awaiting.map((leg) => readFrom(rack, site, leg)));
  return new Map(awaiting.map(({ id }, index) => [id, read[index] ?? NOTHING]));
}

const NOTHING: KernelAdvertised = { addresses: [], routers: [] };

/** As `ip -j` tells, as far as it is of use. */
type Addresses = readonly {
  readonly addr_info?: readonly { readonly local: string; readonly scope: string; readonly dynamic?: boolean }[];
}[];
type Routes = readonly { readonly dst: string; readonly gateway?: string; readonly protocol: string }[];

async function readFrom(rack: Rack, site: string, { device, name }: AwaitingPlan): Promise<KernelAdvertised> {
  const commands = [
    ["ip", "-6", "-j", "address", "show", "dev", name],
    ["ip", "-6", "-j", "route", "show", "dev", name],
  ];
  const steps = commands.map((command) => ({ device, command, text: "" }));
  // One report for each step.
  const [addresses, routes] = (await rack.ask("run", { site, steps })) as readonly [Done, Done];
  const formed = (JSON.parse(addresses.said || "[]") as Addresses).flatMap(({ addr_info = [] }) => addr_info);
  const ways = JSON.parse(routes.said || "[]") as Routes;
  return {
    addresses: formed
      .filter(({ scope, dynamic }) => scope === "global" && dynamic === true)
      .map(({ local }) => ({ address: local, length: ways.some((way) => isLinkOf(way, local)) ? 64 : 128 })),
    routers: ways.flatMap(({ dst, gateway, protocol }) =>
      dst === "default" && protocol === "ra" && gateway !== undefined ? [gateway] : [],
    ),
  };
}

/** Addresses are formed of prefixes of 64 bits alone (RFC 4862 section 5.5.3). */
function isLinkOf({ dst, gateway }: Routes[number], address: string): boolean {
  if (gateway !== undefined) return false;
  const prefix = parsePrefix(dst)?.prefix;
  const own = parseAddress(address);
  return prefix?.length === 64 && own !== undefined && prefix.value >> 64n === own.value >> 64n;
}
