/**
 * From documents to a site. First what each device is by itself (ports, bonds, switching, interfaces), then where the
 * networks go, then everything whose names lead elsewhere. A fault is reported where it is found; what depends on it is
 * left out, so that it is not reported again in another guise.
 */
import { type Diagnostic, hasErrors } from "../diagnose/index.ts";
import type { DeviceKind } from "../document/index.ts";
import { prefixesOf } from "./addresses.ts";
import { resolveBonds } from "./bonds.ts";
import { type Roles, resolveBridge, resolveRoles } from "./bridge.ts";
import type { AllConfigured, Configured } from "./configured.ts";
import {
  type Delegations,
  isAnythingDelegated,
  lackOfDelegation,
  resolveDelegations,
  withDelegations,
} from "./delegations.ts";
import { buildDirectory, type Directory, type Handed, networksByLeg } from "./directory.ts";
import { warnEqualDefaults } from "./equal-defaults.ts";
import { extentOf } from "./extent.ts";
import { collectFindings, type Findings } from "./findings.ts";
import { finishDevice } from "./finish.ts";
import { routedPorts } from "./footing.ts";
import { warnCables, warnRadios } from "./idle-ends.ts";
import { resolveInterfaces } from "./interfaces.ts";
import { checkKind, fits } from "./kinds.ts";
import { relayPlaces, resolveServer } from "./leases.ts";
import { handedPool, type Lender, resolveLenders } from "./lenders.ts";
import { type DocumentsOfSite, declareNames, type Names } from "./names.ts";
import { type Rack, rackDevices, resolveCables } from "./rack.ts";
import { resolveJoins, resolveSsids } from "./radio.ts";
import type { PortOf } from "./references.ts";
import { reportClashes } from "./reservation-clashes.ts";
import { resolveReservations } from "./reservations.ts";
import { defaultAt, settingOf, settingOr, writtenAt } from "./setting.ts";
import type { Extent, Site, SiteCable, SiteNetwork } from "./site.ts";
import type { SiteDhcpServer, SiteReservation } from "./site-service.ts";
import { sizesOf } from "./sizes.ts";
import { resolveTargets } from "./targets.ts";
import { warn } from "./warnings.ts";
import { offeredSsids, type Wiring, wire } from "./wiring.ts";
import { checkTunnels } from "./written-tunnels.ts";

/** A site, or why there is none. */
export type Resolved = {
  /** The site; absent when a diagnostic is an error. */
  readonly site?: Site;
  /** All of them, by file and offset of their primary places. */
  readonly diagnostics: readonly Diagnostic[];
};

/** Resolves a site. */
export function resolveSite(documents: DocumentsOfSite): Resolved {
  const { incomplete = [], incompleteRacks = incomplete, unread = false, delegated = new Map() } = documents;
  const findings = collectFindings({ incomplete, incompleteRacks, unread });
  const names = declareNames(documents, findings);
  const racks = rackDevices(names);
  const written = documents.topologies.flatMap((document) => document.cables);
  const cables = resolveCables(written, racks, names, findings);
  const site = connect(names, racks, cables, delegated, findings);
  const diagnostics = findings.all();
  return hasErrors(diagnostics) ? { diagnostics } : { site, diagnostics };
}

function connect(
  declared: Names,
  racks: ReadonlyMap<string, Rack>,
  cables: readonly SiteCable[],
  delegated: ReadonlyMap<string, PortOf>,
  findings: Findings,
): Site {
  const delegations = delegationsOf(declared, racks, cables, delegated, findings);
  const names = withDelegations(declared, delegations, findings);
  const devices = configureAll(racks, names, findings);
  const wiring = wire(devices, cables);
  const { directory, lenders, reservations } = direct(names, wiring, findings);
  const lookup = { directory, findings };
  const targets = resolveTargets(lookup);
  const relays = [...devices.values()].flatMap((device) => relayPlaces(device, lookup));
  const servers = new Map<string, SiteDhcpServer[]>();
  for (const lender of lenders) {
    const name = lender.device.rack.name;
    const server = resolveServer(lender, reservations.get(lender) ?? [], relays, lookup);
    servers.set(name, [...(servers.get(name) ?? []), server]);
  }
  const context = { ...lookup, racks, targets, servers, delegations };
  const finished = [...devices.values()].map((device) => finishDevice(device, context));
  warn(directory, lenders, findings);
  warnEqualDefaults(finished, directory, findings);
  reportClashes(reservations, directory, findings);
  warnCables(cables, wiring, findings);
  warnRadios(devices, findings);
  return {
    networks: networksOf(names, directory, delegations),
    sets: targets.sets,
    devices: finished,
    cables,
    fates: [...names.fates.values()].map(({ name, note }) => ({
      name: name.value,
      origin: writtenAt(name.span),
      note: note.value,
    })),
  };
}

/** Who delegates is told by the wires alone, so a draft of the devices is wired up for it, in silence. */
function delegationsOf(
  names: Names,
  racks: ReadonlyMap<string, Rack>,
  cables: readonly SiteCable[],
  delegated: ReadonlyMap<string, PortOf>,
  findings: Findings,
): Delegations {
  if (!isAnythingDelegated(racks)) return new Map();
  const draft = configureAll(racks, names, collectFindings());
  return resolveDelegations(names, wire(draft, cables), delegated, findings);
}

function networksOf(names: Names, { extents }: Directory, delegations: Delegations): readonly SiteNetwork[] {
  return [...names.networks.values()].map((network) => {
    const lacking = lackOfDelegation(network, delegations);
    return {
      name: network.name.value,
      origin: writtenAt(network.name.span),
      ...(network.vlan === undefined ? {} : { vlan: settingOf(network.vlan) }),
      prefixes: prefixesOf(network).map((prefix) => settingOf(prefix)),
      ...(lacking === undefined ? {} : { lacking }),
      extent: extents.get(network.name.value) ?? { domains: [], interfaces: [] },
    };
  });
}

function configureAll(racks: ReadonlyMap<string, Rack>, names: Names, findings: Findings): AllConfigured {
  const roles = resolveRoles(names, findings);
  const configured = new Map([...racks].map(([name, rack]) => [name, configure(rack, roles, names, findings)]));
  const offered = offeredSsids(configured.values());
  return new Map(
    [...configured].map(([name, device]) => [name, { ...device, joins: resolveJoins(device.rack, offered, findings) }]),
  );
}

/** Who forwards by default. */
const FORWARDS: Partial<Record<DeviceKind, string>> = {
  router: "a router forwards",
  upstream: "a provider's router forwards",
};

function configure(rack: Rack, roles: Roles, names: Names, findings: Findings): Configured {
  checkKind(rack, findings);
  const bonds = resolveBonds(rack, findings);
  const switched = resolveBridge({ rack, bonds, roles, routed: routedPorts(rack), names, findings });
  const { bridge } = switched;
  const sizes = sizesOf(rack, bridge);
  const kind = rack.topology.is.value;
  const forwarding = settingOr(
    fits("forwarding", kind) ? rack.intent?.forwarding : undefined,
    kind === "router" || kind === "upstream",
    defaultAt(rack.topology.is.span, FORWARDS[kind] ?? "only routers forward", "RFC 1122 section 3.3.1"),
  );
  checkTunnels(rack, bonds.byName, findings);
  const interfaces = resolveInterfaces({ rack, bonds, bridge, sizes, forwards: forwarding.value, names, findings });
  const ssids = resolveSsids(rack, bridge, names, findings);
  return { rack, bonds, switched, sizes, forwarding, interfaces, ssids, joins: [] };
}

type Directed = {
  readonly directory: Directory;
  readonly lenders: readonly Lender[];
  readonly reservations: ReadonlyMap<Lender, readonly SiteReservation[]>;
};

/** Where the networks go, who lends what, and so which name has which address. */
function direct(names: Names, wiring: Wiring, findings: Findings): Directed {
  const extents = allExtents(names, wiring);
  const lenders = [...wiring.devices.values()].flatMap((device) => resolveLenders(device, names, findings));
  const context = { devices: wiring.devices, networks: networksByLeg(extents), findings };
  const reservations = new Map(lenders.map((lender) => [lender, resolveReservations(lender, context)]));
  const parts = { names, wiring, extents, handed: handedOut(wiring, lenders), lenders };
  return { directory: buildDirectory(parts, [...reservations.values()].flat()), lenders, reservations };
}

function allExtents(names: Names, wiring: Wiring): ReadonlyMap<string, Extent> {
  const declared = declaredIn(wiring);
  const claimed = new Set([...names.networks.values()].flatMap(({ vlan }) => vlan?.value ?? []));
  const walks = [...names.networks].map(([name, { vlan }]): [string, Extent] => {
    const interfaces = declared.get(name) ?? [];
    const start = { ...(vlan === undefined ? {} : { vlan: vlan.value }), interfaces, physical: false };
    return [name, extentOf(start, wiring, claimed)];
  });
  return new Map(walks);
}

type Declared = { readonly device: Configured; readonly interface: Configured["interfaces"][number] };

function declaredIn({ devices }: Wiring): ReadonlyMap<string, readonly Declared[]> {
  const declared = new Map<string, Declared[]>();
  for (const device of devices.values()) {
    for (const one of device.interfaces) {
      if (one.network === undefined) continue;
      const others = declared.get(one.network.value);
      if (others === undefined) declared.set(one.network.value, [{ device, interface: one }]);
      else others.push({ device, interface: one });
    }
  }
  return declared;
}

/** Upstreams, and servers on interfaces that are in no network, lend to whomever the wires reach. */
function handedOut(wiring: Wiring, lenders: readonly Lender[]): readonly Handed[] {
  // Faults of these pools are reported where the pools are resolved for good.
  const silent = collectFindings();
  const from = (start: Declared, prefixes: Handed["prefixes"], pool: Handed["pool"]): Handed => ({
    extent: extentOf({ interfaces: [start], physical: true }, wiring, new Set()),
    prefixes,
    pool,
  });
  const upstreams = [...wiring.devices.values()].flatMap((device) =>
    (device.rack.topology.is.value === "upstream" ? (device.rack.intent?.handsOut?.value ?? []) : []).flatMap(
      (entry) => {
        const one = device.interfaces.find(({ name }) => name === entry.port.value);
        const prefixes = [entry.ipv4, entry.ipv6].flatMap((prefix) => prefix?.value ?? []);
        return one === undefined ? [] : [from({ device, interface: one }, prefixes, handedPool(entry, silent))];
      },
    ),
  );
  const servers = lenders.flatMap(({ device, interface: one, network, subnet, pool }) =>
    one !== undefined && network === undefined ? [from({ device, interface: one }, [subnet.value], pool)] : [],
  );
  return [...upstreams, ...servers];
}
