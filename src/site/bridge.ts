/**
 * The bridge of a device: which ports and bonds it has, each with its full membership, and its spanning tree. An access
 * point and a managed switch always have one, an unmanaged switch has nothing else; a router or host has one when it says so.
 */
import type { Origin, Span } from "../diagnose/index.ts";
import type { Located, SwitchedPort, Switching } from "../document/index.ts";
import type { Bonds } from "./bonds.ts";
import { attachmentsOf, switchable } from "./bridge-names.ts";
import type { Findings } from "./findings.ts";
import { fits } from "./kinds.ts";
import { resolveMembership, unboxedMembership, usedAt } from "./membership.ts";
import type { Names } from "./names.ts";
import type { Rack } from "./rack.ts";
import { absentAt, defaultAt, type Setting, settingOf, settingOr, writtenAt } from "./setting.ts";
import type { SiteBridge, SiteBridgePort, SiteMembership } from "./site-switching.ts";
import { resolveTree } from "./tree.ts";

/** Memberships of port roles, by name. */
export type Roles = ReadonlyMap<string, SiteMembership>;

/** What switching makes of a device's ports. */
export type Switched = {
  /** The bridge; absent: it does not switch. */
  readonly bridge?: SiteBridge;
  /** Ports and bonds that are switched off, with the word or default that does it. */
  readonly off: ReadonlyMap<string, Origin>;
  /** Entries of `switching.ports`, by port or bond. */
  readonly listed: ReadonlyMap<string, Span>;
};

/** What a bridge is resolved from. */
export type BridgeContext = {
  /** The device. */
  readonly rack: Rack;
  /** Its bonds. */
  readonly bonds: Bonds;
  /** Memberships of port roles. */
  readonly roles: Roles;
  /** Ports and bonds that interfaces stand on directly. */
  readonly routed: ReadonlySet<string>;
  /** All names. */
  readonly names: Names;
  /** Where diagnostics go. */
  readonly findings: Findings;
};

/** Memberships of all port roles, resolved once. */
export function resolveRoles(names: Names, findings: Findings): Roles {
  return new Map([...names.roles].map(([name, role]) => [name, resolveMembership(role.membership, names, findings)]));
}

const NO_SWITCHING: Switched = { off: new Map(), listed: new Map() };

/** Resolves the bridge of a device. */
export function resolveBridge(context: BridgeContext): Switched {
  const { rack } = context;
  const kind = rack.topology.is.value;
  if (kind === "unmanaged-switch") return { ...NO_SWITCHING, bridge: unmanagedBridge(rack) };
  const switching = fits("switching", kind) ? rack.intent?.switching : undefined;
  if (switching === undefined && kind !== "switch" && kind !== "access-point") return NO_SWITCHING;
  return managedBridge(switching, context);
}

function unmanagedBridge(rack: Rack): SiteBridge {
  const { name, spanningTreeFrames, is } = rack.topology;
  const origin = defaultAt(name.span, "an unmanaged switch joins all its ports", "common practice");
  const membership = unboxedMembership(is.span, "tags that this switch obeys");
  return {
    origin,
    tags: {
      value: "ignored",
      origin: defaultAt(is.span, "an unmanaged switch leaves tags as they are", "common practice"),
    },
    unmanaged: true,
    spanningTreeFrames: settingOr(
      spanningTreeFrames,
      "unknown",
      defaultAt(name.span, "nobody knows what it does with spanning-tree frames", "common practice"),
    ),
    ports: [...rack.ports.values()]
      .filter((port) => !port.radio)
      .map((port) => ({ name: port.name, origin: port.origin, membership })),
    ageingSeconds: ageingOf(undefined, name.span),
    hardware: hardwareOf(rack, [...rack.ports.keys()]),
  };
}

function managedBridge(switching: Switching | undefined, context: BridgeContext): Switched {
  const { rack, names, findings } = context;
  const place = switching?.span ?? rack.intent?.name.span ?? rack.topology.name.span;
  const listed = listedPorts(switching?.ports?.value ?? [], context);
  const { ports, off } = portsOf(switching, listed, place, context);
  const own =
    switching?.own === undefined
      ? unboxedMembership(place, "the network in the device's `own` membership")
      : resolveMembership(switching.own, names, findings);
  const tree = resolveTree(switching?.spanningTree, ports, rack, context.bonds, findings);
  const bridge: SiteBridge = {
    origin:
      switching === undefined ? defaultAt(place, "a switch as unboxed", "common practice") : writtenAt(switching.span),
    tags: settingOr(switching?.tags, "obeyed", defaultAt(place, "tags are obeyed", "IEEE 802.1Q, by common practice")),
    unmanaged: false,
    spanningTreeFrames: {
      value: "pass",
      origin: defaultAt(place, "without a tree of its own it passes spanning-tree frames", "kernel fact 37"),
    },
    ports,
    own,
    ...(tree === undefined ? {} : { tree }),
    ageingSeconds: ageingOf(switching?.ageingSeconds, place),
    hardware:
      rack.intent?.mac === undefined
        ? hardwareOf(
            rack,
            ports.map((port) => port.name),
            context.bonds,
          )
        : settingOf(rack.intent.mac),
  };
  return { bridge, off, listed: new Map([...listed].map(([name, { entry }]) => [name, entry.ports.span])) };
}

function ageingOf(written: Located<number> | undefined, place: Span): Setting<number> {
  return settingOr(written, 300, defaultAt(place, "learned addresses age in 300 s", "RFC 4188 dot1dTpAgingTime"));
}

/** Lowest of its members' (kernel fact 39). */
function hardwareOf(rack: Rack, members: readonly string[], bonds?: Bonds): Setting<bigint> {
  const addresses = members.map((name) => rack.ports.get(name)?.hardware ?? bonds?.byName.get(name)?.hardware);
  const lowest = addresses.reduce<bigint | undefined>((least, next) => {
    if (next === undefined) return least;
    return least === undefined || next.value < least ? next.value : least;
  }, undefined);
  const value = lowest ?? [...rack.ports.values()][0]?.hardware.value ?? 0n;
  return {
    value,
    origin: defaultAt(rack.topology.name.span, "the lowest hardware address of its ports", "kernel fact 39"),
  };
}

type Listed = { readonly entry: SwitchedPort; readonly membership: SiteMembership | "off" };

/** Each port or bond that `switching.ports` names, with what it says. */
function listedPorts(entries: readonly SwitchedPort[], context: BridgeContext): ReadonlyMap<string, Listed> {
  const { rack, bonds, findings } = context;
  const listed = new Map<string, Listed>();
  for (const entry of entries) {
    const membership = membershipOf(entry, context);
    for (const name of entry.ports.value.names) {
      if (!switchable(rack, bonds, name, entry.ports, findings)) continue;
      // A port in two runs was reported when the document was read; the first one holds.
      if (membership !== undefined && !listed.has(name)) listed.set(name, { entry, membership });
    }
  }
  return listed;
}

function membershipOf(
  { use }: SwitchedPort,
  { roles, names, findings }: BridgeContext,
): SiteMembership | "off" | undefined {
  if (use.by === "off") return "off";
  if (use.by === "membership") return resolveMembership(use.membership, names, findings);
  const { value, span } = use.role;
  const role = roles.get(value);
  if (role !== undefined) return usedAt(role, span);
  findings.unknown({ kind: "port role", name: value, span, candidates: names.roles.keys() });
  return undefined;
}

/** Ports and bonds in the order of the topology, a bond at its first member. */
function portsOf(
  switching: Switching | undefined,
  listed: ReadonlyMap<string, Listed>,
  place: Span,
  { rack, bonds, routed }: BridgeContext,
): { readonly ports: readonly SiteBridgePort[]; readonly off: ReadonlyMap<string, Origin> } {
  const list = switching?.ports?.span ?? place;
  const unboxed = unboxedMembership(list, "the port and its network among the switched ports");
  const ports: SiteBridgePort[] = [];
  const off = new Map<string, Origin>();
  for (const name of attachmentsOf(rack, bonds)) {
    const entry = listed.get(name);
    if (entry?.membership === "off") off.set(name, writtenAt(entry.entry.ports.span));
    else if (entry !== undefined)
      ports.push({ name, origin: writtenAt(entry.entry.ports.span), membership: entry.membership });
    else if (routed.has(name)) continue;
    else if (switching?.unlisted?.value === "off")
      off.set(name, absentAt(list, `\`${name}\` among the switched ports`));
    else ports.push({ name, origin: unboxed.portVlan.origin, membership: unboxed });
  }
  return { ports, off };
}
