/**
 * Stacks: interfaces with their addresses, and the steps of packets.
 */
import { addressKey, widthOf } from "../address/index.ts";
import { type Awaits, type Id, type Interface, idOf, type RouteTable, type Stack } from "../network/index.ts";
import type { SiteDevice, SiteInterface } from "../site/index.ts";
import { addressesOf } from "./addresses.ts";
import { withDigest } from "./digest.ts";
import { heardOn } from "./hearing.ts";
import { footingId, interfaceId, stackId } from "./ids.ts";
import { beyondInterfaces, beyondOf } from "./internet.ts";
import { profileOf, type SiteIndex } from "./plant.ts";
import { routesOf } from "./routes.ts";
import { stepsOf } from "./steps.ts";
import { mappingOf } from "./translations.ts";
import { peerLegs } from "./tunnels.ts";

/** A stack with its table of routes; undefined: the device has no interface, so it neither sends nor receives packets. */
export function stackOf(
  device: SiteDevice,
  index: SiteIndex,
): { readonly stack: Stack; readonly routes: RouteTable } | undefined {
  if (device.interfaces.length === 0) return undefined;
  const beyond = beyondOf(device, index);
  const own = device.interfaces.flatMap((one) => compileInterfaces(device, one));
  const interfaces = [...own, ...beyondInterfaces(device, beyond)];
  const routes = routesOf(device, beyond);
  const mapping = mappingOf(device);
  const open = device.translate?.clientsMayOpenForwards;
  const stack: Stack = withDigest({
    id: stackId(device.name),
    origin: device.intent ?? device.origin,
    device: device.name,
    interfaces,
    answersFor: answersFor(device),
    ...(device.hostModel.origin.by === "written" ? { hostModel: device.hostModel.origin } : {}),
    ...stepsOf(device, beyond),
    routesNeedCarrier: profileOf(device).routesNeedCarrier.value,
    routes: routes.id,
    tracking: profileOf(device).tracking.value,
    ...(mapping === undefined ? {} : { mapping }),
    ...(open === undefined ? {} : { clientsMayOpenForwards: open }),
  });
  return { stack, routes };
}

function answersFor({ is, hostModel }: SiteDevice): Stack["answersFor"] {
  if (is === "upstream") return "everywhere";
  return hostModel.value === "weak" ? "any-own-address" : "this-leg";
}

/** One interface, or one for each peer of the tunnel that it stands on. */
function compileInterfaces(device: SiteDevice, one: SiteInterface): readonly Interface[] {
  const legs = peerLegs(device, one);
  if (legs === undefined) {
    const id = interfaceId(device.name, one.name);
    return [{ ...compileInterface(device, one, id, footingId(device, one.footing)), addresses: addressesOf(one, id) }];
  }
  return legs.map(({ id, on, tunnel }) => ({
    ...compileInterface(device, one, id, on),
    tunnel,
    // Of several peers none has the whole prefix on its link.
    addresses: addressesOf(one, id).map((address) =>
      legs.length === 1 ? address : { ...address, prefixLength: widthOf(address.family) },
    ),
  }));
}

function compileInterface(device: SiteDevice, one: SiteInterface, id: Id, on: Id): Omit<Interface, "addresses"> {
  return {
    id,
    origin: one.origin,
    on,
    ...(one.vlan === undefined ? {} : { vlan: one.vlan.value }),
    ...(one.network === undefined ? {} : { network: idOf(one.network.value) }),
    ...(one.session === undefined ? {} : { session: one.session }),
    hardware: one.hardware.value,
    mtu: one.mtu.value,
    speaks6: one.speaks6.value,
    hears: heardOn(device, one),
    awaits: awaitsOf(device, one, id),
    ...resolversOf(one),
    ...delegatedTo(one),
  };
}

function resolversOf({ resolvers }: SiteInterface): Pick<Interface, "resolvers"> {
  if (resolvers === undefined) return {};
  return { resolvers: resolvers.value.map(({ value, origin }) => ({ address: addressKey(value), origin })) };
}

function delegatedTo({ delegation }: SiteInterface): Pick<Interface, "delegated"> {
  if (delegation?.granted === undefined) return {};
  const { block, by } = delegation.granted;
  const { value, length } = block.value;
  return { delegated: { value, length, from: interfaceId(by.device, by.port), origin: block.origin } };
}

/** A written gateway, or none, stands instead of the one that a lease or advertisement offers. */
function awaitsOf(device: SiteDevice, one: SiteInterface, id: string): readonly Awaits[] {
  const takes = (family: 4 | 6): boolean => {
    const { gateways } = one;
    if (gateways === undefined) return true;
    return gateways.value.length > 0 && !gateways.value.some(({ value }) => value.family === family);
  };
  return [
    ...(one.lease === undefined
      ? []
      : [{ id: `${id}/lease`, origin: one.lease, from: "lease", gateway: takes(4) } as const]),
    ...(one.advertised === undefined
      ? []
      : [
          {
            id: `${id}/advertisement`,
            origin: one.advertised,
            from: "advertisement",
            // Who forwards takes no default from advertisements (kernel fact 51), but on the uplink that it asks (RFC 7084 W-3).
            gateway: takes(6) && (!device.forwarding.value || one.delegation !== undefined),
          } as const,
        ]),
  ];
}
