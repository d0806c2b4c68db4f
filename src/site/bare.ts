/**
 * Devices that no document declares: bare ones, and a client as it is when it was just plugged in. Who puts one into a site
 * fills in the rest.
 */
import type { Origin } from "../diagnose/index.ts";
import { derivedHardware } from "./hardware.ts";
import type { Setting } from "./setting.ts";
import type { SiteDevice, SitePort } from "./site-device.ts";
import type { SiteInterface } from "./site-stack.ts";

const MTU = 1500; // RFC 894
const RATE_MBPS = 1000;

/** A device with nothing on it, told nothing. */
export function bareDevice(name: string, is: SiteDevice["is"], origin: Origin): SiteDevice {
  const set = <T>(value: T): Setting<T> => ({ value, origin });
  const nothing = {
    ports: [],
    radios: [],
    poweredBy: [],
    shares: [],
    bonds: [],
    ssids: [],
    joins: [],
    trusted: [],
    tunnels: [],
    interfaces: [],
  };
  const serves = { routes: [], dhcp: [], relays: [], advertise: [], names: [], handsOut: [], rescue: [] };
  return {
    name,
    origin,
    is,
    ...nothing,
    ...serves,
    profile: set("linux"),
    forwarding: set(false),
    reversePath: set("none"),
    hostModel: set("weak"),
    saves: set("at-once"),
  };
}

/** A port of such a device. */
export function barePort(device: string, name: string, use: SitePort["use"], origin: Origin): SitePort {
  const set = <T>(value: T): Setting<T> => ({ value, origin });
  const hardware = set(derivedHardware(device, name));
  return { name, origin, radio: false, rateMbps: set(RATE_MBPS), mtu: set(MTU), enabled: set(true), hardware, use };
}

/** A host with one leg that takes a lease; `six`: and addresses of advertised prefixes. */
export function newClient(
  { device, port }: { readonly device: string; readonly port: string },
  origin: Origin,
  { six, network }: { readonly six: boolean; readonly network?: string },
): SiteDevice {
  const set = <T>(value: T): Setting<T> => ({ value, origin });
  const leg: SiteInterface = {
    name: port,
    origin,
    footing: { on: "port", port },
    ...(network === undefined ? {} : { network: set(network) }),
    networks: network === undefined ? [] : [network],
    addresses: [],
    lease: origin,
    ...(six ? { advertised: origin } : {}),
    speaks6: set(six),
    hardware: set(derivedHardware(device, port)),
    privateHardware: false,
    mtu: set(MTU),
  };
  return {
    ...bareDevice(device, "host", origin),
    ports: [barePort(device, port, "routed", origin)],
    interfaces: [leg],
  };
}
