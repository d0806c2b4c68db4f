/**
 * Interfaces of a device: legs of a host, interfaces of everything else, and an upstream's ends of what it hands out.
 * Names inside gateways and resolvers wait until all interfaces are known (see `next-hops.ts`).
 */
import { type Address, hostAddress } from "../address/index.ts";
import type { Origin, Span } from "../diagnose/index.ts";
import type { HandsOut, InterfaceEntry, Pppoe } from "../document/index.ts";
import { resolveAddressing } from "./addresses.ts";
import type { Findings } from "./findings.ts";
import { entriesOf, type FootingContext, findFooting, findTag } from "./footing.ts";
import { derivedHardware } from "./hardware.ts";
import type { Names } from "./names.ts";
import { findPort, type Rack } from "./rack.ts";
import { defaultAt, type Setting, settingOf, settingOr, writtenAt } from "./setting.ts";
import type { SiteAddress, SiteInterface } from "./site-stack.ts";
import type { Sizes } from "./sizes.ts";
import { overheadOf, tunnelsOf } from "./written-tunnels.ts";

/** An interface before names in its gateways are resolved and its networks found. */
export type RackInterface = Omit<SiteInterface, "networks" | "gateways" | "resolvers" | "delegation"> & {
  /** Its entry; absent for an upstream's. */
  readonly entry?: InterfaceEntry;
};

/** What interfaces are resolved from. */
export type InterfaceContext = FootingContext & {
  /** Largest packets on this device. */
  readonly sizes: Sizes;
  /** Whether the device forwards. */
  readonly forwards: boolean;
};

/** Resolves the interfaces of a device. */
export function resolveInterfaces(context: InterfaceContext): readonly RackInterface[] {
  const { rack, findings } = context;
  const interfaces =
    rack.topology.is.value === "upstream"
      ? (rack.intent?.handsOut?.value ?? []).flatMap((entry) => upstreamInterface(entry, context) ?? [])
      : entriesOf(rack).flatMap((entry) => ownInterface(entry, context) ?? []);
  checkClashes(interfaces, rack, findings);
  return interfaces;
}

function ownInterface(entry: InterfaceEntry, context: InterfaceContext): RackInterface | undefined {
  const { names, findings, forwards } = context;
  const network = entry.network && names.networks.get(entry.network.value);
  if (entry.network !== undefined && network === undefined) {
    const { value: name, span } = entry.network;
    findings.unknown({ kind: "network", name, span, candidates: names.networks.keys() });
  }
  reportClamp(entry, findings);
  const footing = findFooting(entry, context);
  // Without its network nothing more can be said of the addresses.
  if (footing === undefined || (entry.network !== undefined && network === undefined)) return undefined;
  return {
    name: entry.name.value,
    origin: writtenAt(entry.name.span),
    ...footing,
    ...(entry.network === undefined ? {} : { network: settingOf(entry.network) }),
    ...resolveAddressing({ entry, network, forwards, findings }),
    ...stationOf(entry, footing.footing, context),
    ...(entry.pppoe === undefined ? {} : { session: { role: "client", origin: writtenAt(entry.pppoe.span) } }),
    entry,
  };
}

/** Exchanges of a check are short: none of them meets what clamping is for. */
function reportClamp({ pppoe }: InterfaceEntry, findings: Findings): void {
  if (pppoe?.clampMss?.value !== true) return;
  const message = "segments of full size are not modelled, so `clamp-mss` changes no verdict";
  findings.report("not-modelled", pppoe.clampMss.span, message, { severity: "note" });
}

type Station = Pick<SiteInterface, "hardware" | "privateHardware" | "mtu">;

/** A tunnel has no hardware address that anybody sees; its packets are smaller by what is put around them. */
function tunnelStation(entry: InterfaceEntry, port: string, rack: Rack, sizes: Sizes, names: Names): Station {
  const tunnel = tunnelsOf(rack).get(port);
  if (tunnel === undefined) throw new Error(`\`${rack.name}\` has no tunnel \`${port}\``);
  const overhead = overheadOf(tunnel, names);
  const origin = defaultAt(tunnel.span, "an end of a tunnel is known by its peer", "dryrack");
  return {
    hardware: { value: derivedHardware(rack.name, port), origin },
    privateHardware: false,
    mtu: settingOr(entry.mtu, sizes.of(port).value - overhead.value, overhead.origin),
  };
}

/** Hardware address and size: those of what it stands on, unless stated. */
function stationOf(
  entry: InterfaceEntry,
  footing: SiteInterface["footing"],
  { rack, bonds, bridge, sizes, names }: InterfaceContext,
): Station {
  if (footing.on === "tunnel") return tunnelStation(entry, footing.port, rack, sizes, names);
  const below =
    footing.on === "bridge"
      ? bridge?.hardware
      : (bonds.byName.get(footing.port)?.hardware ?? rack.ports.get(footing.port)?.hardware);
  const mtu = footing.on === "bridge" ? sizes.bridge : sizes.of(footing.port);
  return {
    ...hardwareOf(entry, rack, below),
    mtu: entry.pppoe === undefined ? settingOr(entry.mtu, mtu.value, mtu.origin) : sessionMtu(entry, entry.pppoe, mtu),
  };
}

/** A session takes 8 bytes of what it runs over, and is 1492 bytes wide at most unless more is stated. */
function sessionMtu({ mtu }: InterfaceEntry, pppoe: Pppoe, below: Setting<number>): Setting<number> {
  return settingOr(pppoe.mtu ?? mtu, Math.min(LONGEST_IN_SESSION, below.value - 8), sessionDefault(pppoe.span));
}

const LONGEST_IN_SESSION = 1492; // RFC 2516 section 7

function sessionDefault(span: Span): Origin {
  return defaultAt(span, "packets of up to 1492 bytes in a session", "RFC 2516 section 7");
}

function hardwareOf(
  { mac, name }: InterfaceEntry,
  rack: Rack,
  below: Setting<bigint> | undefined,
): Pick<SiteInterface, "hardware" | "privateHardware"> {
  if (mac?.value === "private") {
    const value = derivedHardware(rack.name, name.value, "private");
    return { hardware: { value, origin: writtenAt(mac.span) }, privateHardware: true };
  }
  const origin = defaultAt(name.span, "the hardware address of what it stands on", "kernel fact 39");
  if (mac !== undefined) return { hardware: { value: mac.value, origin: writtenAt(mac.span) }, privateHardware: false };
  return { hardware: { value: below?.value ?? 0n, origin }, privateHardware: false };
}

/** The upstream's own end on a port: the customer's gateway. */
function upstreamInterface(
  entry: HandsOut,
  { rack, findings, names, sizes }: InterfaceContext,
): RackInterface | undefined {
  const { value: port, span } = entry.port;
  const racked = findPort(rack, port, span, findings);
  const tag = findTag(entry, names, findings);
  if (racked === undefined || tag === undefined) return undefined;
  const six = entry.ipv6;
  const session = entry.pppoe?.value === true ? entry.pppoe.span : undefined;
  const size = sizes.of(port);
  return {
    name: port,
    origin: writtenAt(span),
    footing: { on: "port", port },
    ...tag,
    addresses: upstreamAddresses(entry),
    speaks6: {
      value: six !== undefined,
      origin: six === undefined ? defaultAt(span, "no IPv6 is handed out", "dryrack") : writtenAt(six.span),
    },
    hardware: racked.hardware,
    privateHardware: false,
    ...(session === undefined
      ? { mtu: size }
      : {
          session: { role: "server", origin: writtenAt(session) },
          mtu: { value: Math.min(LONGEST_IN_SESSION, size.value - 8), origin: sessionDefault(session) },
        }),
  };
}

/** Its own addresses: the stated router, else the first host of each prefix. */
export function upstreamAddresses({ ipv4, router, ipv6 }: HandsOut): readonly SiteAddress[] {
  const four = ipv4 && (router?.value ?? hostAddress(ipv4.value, 1n));
  const six = ipv6 && hostAddress(ipv6.value, 1n);
  return [
    ...(ipv4 && four ? [ownEnd(four, ipv4.value.length, router?.span, ipv4.span)] : []),
    ...(ipv6 && six ? [ownEnd(six, ipv6.value.length, undefined, ipv6.span)] : []),
  ];
}

function ownEnd({ family, value }: Address, length: number, written: Span | undefined, prefix: Span): SiteAddress {
  const rule = "an upstream's own address is the first of its prefix";
  const origin = written === undefined ? defaultAt(prefix, rule, "common practice") : writtenAt(written);
  return { family, value, length, origin };
}

function checkClashes(interfaces: readonly RackInterface[], rack: Rack, findings: Findings): void {
  const taken = new Map<string, RackInterface>();
  for (const one of interfaces) {
    const key = JSON.stringify([one.footing, one.vlan?.value ?? 0]);
    const earlier = taken.get(key);
    if (earlier === undefined) taken.set(key, one);
    else reportClash(one, earlier, rack, findings);
  }
}

function reportClash(one: RackInterface, earlier: RackInterface, rack: Rack, findings: Findings): void {
  if ((one.session === undefined) !== (earlier.session === undefined)) {
    const what = `an interface beside the PPPoE session on \`${one.footing.on === "bridge" ? "the bridge" : one.footing.port}\``;
    findings.report("not-modelled", one.origin.span, `${what} is not modelled`, { severity: "error" });
    return;
  }
  const place = one.footing.on === "bridge" ? "the bridge" : `\`${one.footing.port}\``;
  const tag = one.vlan === undefined ? "untagged" : `with tag ${one.vlan.value}`;
  const message = `\`${earlier.name}\` and \`${one.name}\` of \`${rack.name}\` both stand on ${place} ${tag}`;
  findings.report("interface-clash", one.origin.span, message, {
    also: [{ span: earlier.origin.span, text: "takes the same frames" }],
    help: "give one of them a `tag`, such as its network, or another port; several addresses on one interface are a list",
  });
}
