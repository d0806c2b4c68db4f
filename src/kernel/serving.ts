/**
 * Who listens on a device: its administration, what it serves, and, on a host of which nothing is said, everything.
 */
import {
  type Address,
  type Family,
  formatAddress,
  isLinkLocal,
  linkLocal,
  type Ranges,
  type Service,
} from "../address/index.ts";
import { idOf } from "../network/index.ts";
import type { SiteDevice, SiteInterface, SiteListen } from "../site/index.ts";
import type { DeviceNames } from "./names.ts";
import type { ListenerAddress, ListenerPlan } from "./plan.ts";

const TCP = 6;
const UDP = 17;

/** The listeners of a device. */
export function listenersOf(device: SiteDevice, names: DeviceNames): readonly ListenerPlan[] {
  const everything = (device.is === "host" && device.serves === undefined) || device.is === "upstream";
  const said = [
    ...(device.admin?.services.map(({ value }) => ({ service: value, listen: device.admin?.listen })) ?? []),
    ...(device.serves?.value.map(({ service, listen }) => ({ service: service.value, listen })) ?? []),
    ...(device.resolver === undefined ? [] : NAMES.map((service) => ({ service, listen: device.resolver?.listen }))),
  ];
  return [
    ...said.flatMap(({ service, listen }) => listener(service, listen, device, names)),
    ...(everything ? [TCP, UDP].map((protocol) => ({ protocol, ports: "asked", on: "every-address" }) as const) : []),
  ];
}

/** Where resolvers are asked (RFC 1035 section 4.2). */
const NAMES: readonly Service[] = [TCP, UDP].map((protocol) => ({ protocol, ports: [[53n, 53n]] }));

function listener(
  { protocol, ports }: Service,
  listen: SiteListen | undefined,
  device: SiteDevice,
  names: DeviceNames,
): readonly ListenerPlan[] {
  const protocols = protocol === undefined ? [TCP, UDP] : [protocol].filter((one) => one === TCP || one === UDP);
  return protocols.map((one) => ({
    protocol: one,
    ports: ports === undefined ? "asked" : runsOf(ports),
    on: listen === undefined || listen.value === "all" ? "every-address" : addressesOn(listen.value, device, names),
  }));
}

function runsOf(ports: Ranges): readonly (readonly [number, number])[] {
  return ports.map(([first, last]) => [Number(first), Number(last)]);
}

function addressesOn(
  listen: readonly { readonly value: string }[],
  device: SiteDevice,
  names: DeviceNames,
): readonly ListenerAddress[] {
  const named = new Set(listen.map(({ value }) => value));
  return device.interfaces
    .filter(({ name }) => named.has(name))
    .flatMap((own) => [
      ...addressesOf(own).map((address) => boundTo(address, names.interfaces.get(own.name))),
      ...(own.lease === undefined ? [] : [learned(4, device.name, own.name)]),
      ...(own.advertised === undefined ? [] : [learned(6, device.name, own.name)]),
    ]);
}

/** Addresses that nobody knows before the lease or the advertisement is there. */
function learned(family: Family, device: string, own: string): ListenerAddress {
  const address = family === 4 ? `the lease of ${own}` : `what is advertised to ${own}`;
  return { family, address, lentTo: idOf(device, own) };
}

function addressesOf({ addresses, speaks6, hardware }: SiteInterface): readonly Address[] {
  return speaks6.value ? [...addresses, linkLocal(hardware.value)] : addresses;
}

function boundTo(address: Address, name: string | undefined): ListenerAddress {
  const plain = { family: address.family, address: formatAddress(address) };
  return isLinkLocal(address) && name !== undefined ? { ...plain, interface: name } : plain;
}
