/**
 * From a resolved site to what it is on a kernel. Reads the site alone, never the description that the engines read:
 * what both get wrong, the kernel would not tell.
 */
import type { Site, SiteDevice, SitePort } from "../site/index.ts";
import { awaitingOf, radvdOf, unsupportedAdvertising } from "./advertising.ts";
import { airAsCables } from "./air.ts";
import { domainsOf, unsupportedBridging } from "./bridging.ts";
import { weighedBonds } from "./costs.ts";
import { admissionTable, fullBridgeLines, fullLinkLines, fullUpNames, lateLines, vlanLines } from "./full-links.ts";
import { nameFully } from "./full-names.ts";
import { unsupportedLinks } from "./full-unsupported.ts";
import { clientsOf, dnsmasqOf, unsupportedLeasing } from "./leasing.ts";
import { bridgeLines, linkLines, upNames } from "./links.ts";
import { loopsOf } from "./loops.ts";
import { inMakingOrder } from "./making.ts";
import { type DeviceNames, nameDevice } from "./names.ts";
import { unsupportedActions } from "./nft-filter.ts";
import type { CableEnd, CablePlan, DevicePlan, KernelPlan, Unsupported } from "./plan.ts";
import { addressLines, routeLines } from "./routing.ts";
import { rulesetOf } from "./ruleset.ts";
import { listenersOf } from "./serving.ts";
import { COMMON_SETTINGS, deviceSettings, interfaceSettings } from "./settings.ts";
import { tunnelPlans, unsupportedTunnels } from "./tunnels.ts";

/**
 * What a kernel can do on the link layer: `plain` has bridges that know no tags, `full` has interfaces with tags, bridges
 * that obey them, bonds and spanning tree too.
 */
export type KernelKind = "plain" | "full";

/** A device with everything that its lines are made of. */
type Prepared = {
  readonly device: SiteDevice;
  readonly names: DeviceNames;
  readonly linesOf: (present: ReadonlySet<string>) => LinkLines;
};

/** The link layer of one device. */
type LinkLines = Pick<DevicePlan, "bridges" | "vlans" | "weighed" | "links" | "late" | "up" | "tunnels"> & {
  /** Table for `nft`; empty: none. */
  readonly admission: string;
};

/** Plans a site. Always answers with the whole plan; `unsupported` says whether it may be built. */
export function planKernel(declared: Site, kind: KernelKind = "plain"): KernelPlan {
  const site = kind === "plain" ? declared : airAsCables(declared);
  const prepared = site.devices.map((device) => (kind === "plain" ? preparePlain(device) : prepareFull(device, site)));
  const cables = cablesOf(site, prepared);
  return {
    settings: COMMON_SETTINGS,
    devices: prepared.map((one) => planDevice(one, cables)),
    cables,
    restSeconds: kind === "plain" ? { bonds: 0, trees: 0, pulled: 0 } : restSeconds(site),
    unsupported: [
      ...site.devices.flatMap((device) => [
        ...unsupportedDevice(device),
        ...(kind === "plain"
          ? unsupportedTags(device, site)
          : [...unsupportedLinks(device, site), ...unsupportedTunnels(device, site)]),
      ]),
      ...loopsOf(site, kind),
    ],
  };
}

function preparePlain(device: SiteDevice): Prepared {
  const names = nameDevice(device, domainsOf(device));
  const linesOf = (present: ReadonlySet<string>): LinkLines => ({
    bridges: bridgeLines(names, present),
    vlans: [],
    weighed: [],
    tunnels: [],
    links: linkLines(device, names, present),
    late: [],
    up: upNames(device, names, present),
    admission: "",
  });
  return { device, names, linesOf };
}

function prepareFull(device: SiteDevice, site: Site): Prepared {
  const names = nameFully(device);
  const linesOf = (present: ReadonlySet<string>): LinkLines => ({
    bridges: fullBridgeLines(device, names, present, site),
    vlans: vlanLines(device, names, present),
    weighed: weighedBonds(device, names, site),
    tunnels: tunnelPlans(device, names, site),
    links: fullLinkLines(device, names, present),
    late: lateLines(device, names, present),
    up: fullUpNames(device, names, present),
    admission: admissionTable(device, names, present),
  });
  return { device, names, linesOf };
}

/** Kernel fact 42: LACP carries 2.6 s after its start. Fact 46: a tree forwards after twice its delay, and news take a while. */
function restSeconds({ devices }: Site): KernelPlan["restSeconds"] {
  const bonds = devices.some((device) => device.bonds.length > 0) ? 5 : 0;
  const trees = devices.flatMap(({ bridge }) => bridge?.tree ?? []);
  if (trees.length === 0) return { bonds, trees: 0, pulled: 0 };
  const atFirst = 2 * Math.max(...trees.map(({ forwardDelaySeconds }) => forwardDelaySeconds.value)) + 10;
  // Whoever still hears the lost root elsewhere believes in it until its age is up.
  return {
    bonds,
    trees: atFirst,
    pulled: atFirst + Math.max(...trees.map(({ maxAgeSeconds }) => maxAgeSeconds.value)),
  };
}

function planDevice({ device, names, linesOf }: Prepared, cables: readonly CablePlan[]): DevicePlan {
  const ends = cables.flatMap(({ ends: both }) => both.filter((end) => end?.device === device.name));
  const named = new Set(ends.map((end) => end?.name));
  const present = new Set(device.ports.map(({ name }) => name).filter((name) => named.has(names.ports.get(name))));
  const { admission, ...links } = linesOf(present);
  return {
    device: device.name,
    settings: deviceSettings(device),
    ...links,
    linkSettings: interfaceSettings(device, names),
    addresses: addressLines(device, names),
    routes: routeLines(device, names),
    ruleset: `${rulesetOf(device, names)}${admission}`,
    dnsmasq: dnsmasqOf(device),
    radvd: radvdOf(device, names),
    awaiting: awaitingOf(device, names),
    clients: clientsOf(device, names),
    listeners: listenersOf(device, names),
    portNames: names.ports,
    interfaceNames: names.interfaces,
  };
}

/** The cables of the site and a loose one for every other port that carries an interface, in the order in which they are made. */
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
  const wanted = new Map(prepared.map(({ device, names }) => [device.name, [...names.interfaces.values()]]));
  return inMakingOrder([...real, ...loose], wanted);
}

function carriesInterface({ interfaces }: SiteDevice, { name }: SitePort): boolean {
  return interfaces.some(({ footing }) => footing.on === "port" && footing.port === name);
}

function endOf(prepared: Pick<Prepared, "device" | "names"> | undefined, portName: string): CableEnd | undefined {
  const port = prepared?.device.ports.find(({ name }) => name === portName);
  const name = prepared?.names.ports.get(portName);
  if (prepared === undefined || port === undefined || name === undefined) return undefined;
  const own = prepared.device.interfaces.find(
    ({ footing, vlan }) => footing.on === "port" && footing.port === portName && vlan === undefined,
  );
  const hardware = own?.hardware.value ?? port.hardware.value;
  return { device: prepared.device.name, name, hardware, mtu: port.mtu.value };
}

function unsupportedDevice(device: SiteDevice): readonly Unsupported[] {
  const { interfaces, joins, ssids, profile, filter, name } = device;
  return [
    ...joins.map(({ origin }) => ({ origin, what: `the radio of \`${name}\`` })),
    ...ssids.map(({ origin }) => ({ origin, what: `the radio of \`${name}\`` })),
    ...(profile.value === "rfc" ? [{ origin: profile.origin, what: `a stack by the standards, \`${name}\`` }] : []),
    ...interfaces.flatMap(({ session, name: own }) =>
      session === undefined ? [] : [{ origin: session.origin, what: `a PPPoE session on \`${name}/${own}\`` }],
    ),
    ...unsupportedAdvertising(device),
    ...unsupportedLeasing(device),
    ...(filter === undefined ? [] : unsupportedActions(filter)),
  ];
}

function unsupportedTags(device: SiteDevice, site: Site): readonly Unsupported[] {
  const { bonds, interfaces, tunnels, name } = device;
  return [
    ...tunnels.map(({ origin, name: own }) => ({ origin, what: `the tunnel \`${name}/${own}\`` })),
    ...bonds.map(({ origin }) => ({ origin, what: `a bond of \`${name}\`` })),
    ...interfaces.flatMap(({ footing, vlan, name: own }) =>
      footing.on === "port" && vlan !== undefined
        ? [{ origin: vlan.origin, what: `tagged frames on \`${name}/${own}\`` }]
        : [],
    ),
    ...unsupportedBridging(device, site),
  ];
}
