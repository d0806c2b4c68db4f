/**
 * From a resolved site to what it is on a kernel. Reads the site alone, never the description that the engines read:
 * what both get wrong, the kernel would not tell.
 */
import type { Site, SiteDevice, SitePort } from "../site/index.ts";
import { type Domain, domainsOf, unsupportedBridging } from "./bridging.ts";
import { bridgeLines, linkLines, upNames } from "./links.ts";
import { loopsOf } from "./loops.ts";
import { type DeviceNames, nameDevice } from "./names.ts";
import { unsupportedActions } from "./nft-filter.ts";
import type { CableEnd, CablePlan, DevicePlan, KernelPlan, Unsupported } from "./plan.ts";
import { addressLines, routeLines } from "./routing.ts";
import { rulesetOf } from "./ruleset.ts";
import { listenersOf } from "./serving.ts";
import { COMMON_SETTINGS, deviceSettings, interfaceSettings } from "./settings.ts";

/** A device with everything that its lines are made of. */
type Prepared = {
  readonly device: SiteDevice;
  readonly names: DeviceNames;
};

/** Plans a site. Always answers with the whole plan; `unsupported` says whether it may be built. */
export function planKernel(site: Site): KernelPlan {
  const domains = new Map(site.devices.map((device) => [device.name, domainsOf(device)]));
  const prepared = site.devices.map(
    (device): Prepared => ({ device, names: nameDevice(device, domains.get(device.name) ?? []) }),
  );
  const cables = cablesOf(site, prepared);
  return {
    settings: COMMON_SETTINGS,
    devices: prepared.map((one) => planDevice(one, cables)),
    cables,
    unsupported: unsupportedOf(site, domains),
  };
}

function planDevice({ device, names }: Prepared, cables: readonly CablePlan[]): DevicePlan {
  const ends = cables.flatMap(({ ends: both }) => both.filter((end) => end?.device === device.name));
  const named = new Set(ends.map((end) => end?.name));
  const present = new Set(device.ports.map(({ name }) => name).filter((name) => named.has(names.ports.get(name))));
  return {
    device: device.name,
    settings: deviceSettings(device),
    bridges: bridgeLines(names, present),
    links: linkLines(device, names, present),
    up: upNames(device, names, present),
    linkSettings: interfaceSettings(device, names),
    addresses: addressLines(device, names),
    routes: routeLines(device, names),
    ruleset: rulesetOf(device, names),
    listeners: listenersOf(device, names),
    interfaceNames: names.interfaces,
  };
}

/** The cables of the site, then a loose one for every other port that carries an interface. */
function cablesOf(site: Site, prepared: readonly Prepared[]): readonly CablePlan[] {
  const byName = new Map(prepared.map((one) => [one.device.name, one]));
  const cabled = new Set<string>();
  const real = site.cables.flatMap(({ ends }): CablePlan[] => {
    const [one, other] = ends.map(({ device, port }) => {
      cabled.add(`${device}:${port}`);
      return endOf(byName.get(device), port);
    });
    return one === undefined || other === undefined ? [] : [{ ends: [one, other] }];
  });
  const loose = prepared.flatMap(({ device, names }) =>
    device.ports
      .filter((port) => carriesInterface(device, port) && !cabled.has(`${device.name}:${port.name}`))
      .flatMap((port): CablePlan[] => {
        const end = endOf({ device, names }, port.name);
        return end === undefined ? [] : [{ ends: [end, undefined] }];
      }),
  );
  return [...real, ...loose];
}

function carriesInterface({ interfaces }: SiteDevice, { name }: SitePort): boolean {
  return interfaces.some(({ footing }) => footing.on === "port" && footing.port === name);
}

function endOf(prepared: Prepared | undefined, portName: string): CableEnd | undefined {
  const port = prepared?.device.ports.find(({ name }) => name === portName);
  const name = prepared?.names.ports.get(portName);
  if (prepared === undefined || port === undefined || name === undefined) return undefined;
  const own = prepared.device.interfaces.find(({ footing }) => footing.on === "port" && footing.port === portName);
  const hardware = own?.hardware.value ?? port.hardware.value;
  return { device: prepared.device.name, name, hardware, mtu: port.mtu.value };
}

function unsupportedOf(site: Site, domains: ReadonlyMap<string, readonly Domain[]>): readonly Unsupported[] {
  return [...site.devices.flatMap((device) => unsupportedDevice(device, site)), ...loopsOf(site, domains)];
}

function unsupportedDevice(device: SiteDevice, site: Site): readonly Unsupported[] {
  const { bonds, interfaces, joins, ssids, profile, name } = device;
  return [
    ...bonds.map(({ origin }) => ({ origin, what: `a bond of \`${name}\`` })),
    ...joins.map(({ origin }) => ({ origin, what: `the radio of \`${name}\`` })),
    ...ssids.map(({ origin }) => ({ origin, what: `the radio of \`${name}\`` })),
    ...(profile.value === "rfc" ? [{ origin: profile.origin, what: `a stack by the standards, \`${name}\`` }] : []),
    ...interfaces.flatMap(({ footing, vlan, lease, advertised, name: own }) => [
      ...(footing.on === "port" && vlan !== undefined
        ? [{ origin: vlan.origin, what: `tagged frames on \`${name}/${own}\`` }]
        : []),
      ...[lease ?? advertised].flatMap((origin) =>
        origin === undefined ? [] : [{ origin, what: `an address that \`${name}/${own}\` must ask for` }],
      ),
    ]),
    ...unsupportedBridging(device, site),
    ...(device.filter === undefined ? [] : unsupportedActions(device.filter)),
  ];
}
