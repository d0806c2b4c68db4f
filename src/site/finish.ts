/**
 * The last step of a device: names that lead elsewhere are resolved, and everything is put in its place.
 */

import { type Address, isLinkLocal, linkLocal } from "../address/index.ts";
import { familyNamed, type Lookup } from "./address-names.ts";
import { attachmentOf, type Configured } from "./configured.ts";
import { type Delegations, grantedOf } from "./delegations.ts";
import { type Leg, legKey } from "./directory.ts";
import { resolveFilter } from "./filters.ts";
import { resolveHandsOut, resolveRelays } from "./leases.ts";
import { resolveLearned, resolveRoutes } from "./next-hops.ts";
import { type Rack, type RackPort, resolveFates, resolvePort } from "./rack.ts";
import {
  resolveAdmin,
  resolveAdvertise,
  resolveNames,
  resolveRescue,
  resolveResolver,
  resolveServes,
} from "./services.ts";
import { defaultAt, type Setting, settingOf, settingOr, writtenAt } from "./setting.ts";
import type { SiteBond, SiteDevice, SitePort } from "./site-device.ts";
import type { SiteDhcpServer } from "./site-service.ts";
import type { SiteInterface, SiteRoute } from "./site-stack.ts";
import type { Targets } from "./targets.ts";
import { resolveTranslate } from "./translations.ts";
import { resolveTrusted } from "./trusted.ts";
import { reportDeafServices, resolveTunnels } from "./tunnels.ts";
import { overheadOf, tunnelsOf } from "./written-tunnels.ts";

/** What a device is finished with. */
export type FinishContext = Lookup & {
  /** Every device as racked. */
  readonly racks: ReadonlyMap<string, Rack>;
  /** Whom names in rules mean. */
  readonly targets: Targets;
  /** DHCP servers, by device. */
  readonly servers: ReadonlyMap<string, readonly SiteDhcpServer[]>;
  /** Who is delegated which prefix. */
  readonly delegations: Delegations;
};

/** A device of the site. */
export function finishDevice(device: Configured, context: FinishContext): SiteDevice {
  const { rack, switched } = device;
  const { topology, intent } = rack;
  const { findings, directory } = context;
  const interfaces = directory.legsOf(rack.name).map((leg) => finishInterface(leg, context));
  return {
    name: rack.name,
    origin: writtenAt(topology.name.span),
    ...(intent === undefined ? {} : { intent: writtenAt(intent.name.span) }),
    is: topology.is.value,
    profile: settingOr(
      intent?.profile,
      "linux",
      defaultAt(topology.name.span, "it behaves as the linux profile says", "dryrack"),
    ),
    ports: [...rack.ports.values()].map((port) => finishPort(port, device)),
    radios: topology.is.value === "host" ? [] : (topology.radios?.value ?? []).map((radio) => settingOf(radio)),
    poweredBy: (topology.poweredBy?.value ?? []).flatMap(({ value, span }) => {
      const port = resolvePort(value, context.racks, findings);
      return port === undefined ? [] : [{ value: port, origin: writtenAt(span) }];
    }),
    shares: resolveFates(topology.shares, directory.names, findings),
    bonds: [...device.bonds.byName.values()].map((bond): SiteBond => ({ ...bond, mtu: device.sizes.of(bond.name) })),
    ...(switched.bridge === undefined ? {} : { bridge: switched.bridge }),
    ssids: device.ssids,
    joins: device.joins,
    tunnels: resolveTunnels(device, context),
    interfaces,
    routes: [...resolveRoutes(device, interfaces, context), ...delegatedRoutes(device, context)],
    ...routesListOf(device, interfaces),
    forwarding: device.forwarding,
    ...policyOf(device),
    trusted: resolveTrusted(device, directory.wiring, findings),
    ...servicesOf(device, context),
    ...rulesOf(device, context),
    saves: settingOr(
      intent?.saves,
      "at-once",
      defaultAt(topology.name.span, "settings are saved at once", "common practice"),
    ),
  };
}

/**
 * A delegated block is routed to whoever it was delegated to, by its address on the link, and what it has no route for ends
 * at that router, so that no packet goes round between the two.
 */
function delegatedRoutes({ rack }: Configured, { delegations, directory }: FinishContext): readonly SiteRoute[] {
  return grantedOf(delegations).flatMap((granted): readonly SiteRoute[] => {
    const { block, by } = granted;
    const to = block.value;
    const { span } = block.origin;
    if (granted.device === rack.name) {
      const origin = defaultAt(span, "what is left of a delegated prefix is unreachable", "RFC 7084 WPD-5");
      return [{ origin, to, metric: 0, action: "unreachable", hops: [] }];
    }
    const leg = directory.legs.get(legKey(granted.device, granted.interface));
    if (by.device !== rack.name || leg === undefined) return [];
    const { addresses, hardware } = leg.interface;
    const stated = addresses.find((address) => address.family === 6 && isLinkLocal(address));
    const via: Address = { family: 6, value: stated?.value ?? linkLocal(hardware.value).value };
    const origin = defaultAt(span, "a delegated prefix is routed to its customer", "RFC 8415 section 6.3");
    return [{ origin, to, metric: 0, action: "forward", hops: [{ interface: by.port, via, origin }] }];
  });
}

/** A leg told to take no way out tells more than one that has some. */
function routesListOf({ rack }: Configured, interfaces: readonly SiteInterface[]): Pick<SiteDevice, "lacksRoutesAt"> {
  const gateways = interfaces.flatMap((one) => one.gateways ?? []);
  const written = gateways.find(({ value }) => value.length === 0) ?? gateways[0];
  const span = rack.intent?.routes?.span ?? written?.origin.span;
  return span === undefined ? {} : { lacksRoutesAt: span };
}

function finishInterface(leg: Leg, context: FinishContext): SiteInterface {
  const { entry: _, ...own } = leg.interface;
  const delegation = context.delegations.get(legKey(leg.device.rack.name, own.name));
  return {
    ...own,
    networks: leg.networks,
    mtu: sizeOf(leg, context),
    ...(delegation === undefined ? {} : { delegation }),
    ...resolveLearned(leg, context),
  };
}

/** Of what stands on a tunnel, now that names of endpoints mean addresses: those of IPv6 take more. */
function sizeOf(
  { interface: { entry, footing, mtu }, device: { rack } }: Leg,
  { directory }: FinishContext,
): Setting<number> {
  const tunnel = footing.on === "tunnel" ? tunnelsOf(rack).get(footing.port) : undefined;
  if (tunnel === undefined || entry?.mtu !== undefined) return mtu;
  const guessed = overheadOf(tunnel, directory.names);
  const known = overheadOf(tunnel, directory.names, (name) => familyNamed(name, directory));
  return known.value === guessed.value ? mtu : { value: mtu.value + guessed.value - known.value, origin: known.origin };
}

function finishPort(port: RackPort, device: Configured): SitePort {
  const { bonds, switched, sizes, interfaces } = device;
  const bond = bonds.byMember.get(port.name)?.name;
  const attachment = attachmentOf(device, port.name);
  const off = switched.off.get(attachment);
  const bridged = switched.bridge?.ports.some(({ name }) => name === port.name) ?? false;
  const routed = interfaces.some(({ footing }) => footing.on === "port" && footing.port === port.name);
  return {
    ...port,
    mtu: sizes.of(attachment),
    enabled: enabledOf(off, port),
    use: bond !== undefined ? "member" : bridged ? "switched" : routed ? "routed" : "unused",
    ...(bond === undefined ? {} : { bond }),
  };
}

function enabledOf(off: SitePort["origin"] | undefined, port: RackPort): Setting<boolean> {
  if (off !== undefined) return { value: false, origin: off };
  return { value: true, origin: defaultAt(port.origin.span, "ports are up", "common practice") };
}

function policyOf({ rack: { intent, topology } }: Configured): Pick<SiteDevice, "reversePath" | "hostModel"> {
  const { span } = topology.name;
  return {
    reversePath: settingOr(
      intent?.reversePath,
      "none",
      defaultAt(span, "sources are not checked against the routes", "linux"),
    ),
    hostModel: settingOr(
      intent?.hostModel,
      "weak",
      defaultAt(span, "own addresses answer on every leg", "kernel fact 4"),
    ),
  };
}

type Services = Pick<
  SiteDevice,
  "admin" | "serves" | "dhcp" | "relays" | "advertise" | "resolver" | "names" | "handsOut" | "rescue"
>;

/** Kinds that can serve nothing were reported with their keys. */
function servicesOf(device: Configured, context: FinishContext): Services {
  const kind = device.rack.topology.is.value;
  const handsOut = resolveHandsOut(device, context);
  reportDeafServices(device, context.findings);
  if (kind === "upstream" || kind === "unmanaged-switch") {
    return { dhcp: [], relays: [], advertise: [], names: [], handsOut, rescue: [] };
  }
  const admin = resolveAdmin(device, context);
  const serves = resolveServes(device, context);
  const resolver = resolveResolver(device, context);
  return {
    ...(admin === undefined ? {} : { admin }),
    ...(serves === undefined ? {} : { serves }),
    dhcp: context.servers.get(device.rack.name) ?? [],
    relays: resolveRelays(device, context),
    advertise: resolveAdvertise(device, context),
    ...(resolver === undefined ? {} : { resolver }),
    names: resolveNames(device, context),
    handsOut,
    rescue: resolveRescue(device, context),
  };
}

function rulesOf(device: Configured, context: FinishContext): Pick<SiteDevice, "filter" | "translate"> {
  const { intent, topology } = device.rack;
  const kind = topology.is.value;
  if (intent === undefined || kind === "upstream" || kind === "unmanaged-switch") return {};
  const rules = { ...context, device };
  return {
    ...(intent.filter === undefined ? {} : { filter: resolveFilter(intent.filter, rules) }),
    ...(intent.translate === undefined ? {} : { translate: resolveTranslate(intent.translate, rules) }),
  };
}
