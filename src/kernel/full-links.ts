/**
 * Lines for `ip` and `bridge` that make a device's links on a kernel that knows tags, bonds and spanning tree. What the
 * kernel would choose by the speed of its virtual cables is set to what the site's rates say.
 */
import { formatHardware } from "../address/index.ts";
import type { Site, SiteBond, SiteBridge, SiteDevice, SiteMembership } from "../site/index.ts";
import { portCost } from "./costs.ts";
import type { FullNames, TaggedLink } from "./full-names.ts";
import { tunnelLines } from "./tunnels.ts";

/** Milliseconds between looks at a bond's members. */
const LINK_WATCH_MS = 50;
/** Hundredths of a second, in which `ip` takes the times of a bridge. */
const HUNDREDTHS = 100;
/** The kernel keeps 6 bits of a port's priority, the standard 8 whose last two are 0. */
const PRIORITY_STEP = 4;

type SiteTree = NonNullable<SiteBridge["tree"]>;

const MODES = { lacp: "802.3ad", static: "balance-xor", "active-backup": "active-backup" } as const;

/** Bonds, the bridge and interfaces with tags, for `ip -batch`; nothing is up yet but members of bonds. */
export function fullBridgeLines(
  device: SiteDevice,
  names: FullNames,
  present: ReadonlySet<string>,
  site: Site,
): readonly string[] {
  return [
    ...device.bonds.flatMap((bond) => bondLines(bond, device, names, present)),
    ...(device.bridge === undefined ? [] : bridgeLines(device.bridge, device, names, present, site)),
    ...names.tagged.map(taggedLine),
    ...tunnelLines(names),
  ];
}

function bondLines(
  bond: SiteBond,
  device: SiteDevice,
  names: FullNames,
  present: ReadonlySet<string>,
): readonly string[] {
  const name = names.bonds.get(bond.name);
  const members = bond.members.map(({ value }) => value).filter((port) => present.has(port));
  const [first] = enabledMembers(bond, device, present);
  const options = [
    `mode ${MODES[bond.mode.value]} miimon ${LINK_WATCH_MS}`,
    ...(bond.mode.value === "active-backup" ? [] : [`xmit_hash_policy ${bond.hash.value}`]),
    ...(bond.mode.value === "lacp" ? lacpOptions(bond) : []),
  ];
  return [
    `link add name ${name} address ${formatHardware(bond.hardware.value)} type bond ${options.join(" ")}`,
    ...members.map((port) => `link set dev ${names.ports.get(port)} master ${name}`),
    // Joining a bond switches a port on. Of the members the first alone is on at first: see `lateLines`.
    ...members.filter((port) => port !== first).map((port) => `link set dev ${names.ports.get(port)} down`),
  ];
}

function enabledMembers(bond: SiteBond, device: SiteDevice, present: ReadonlySet<string>): readonly string[] {
  const off = new Set(device.ports.filter(({ enabled }) => !enabled.value).map((port) => port.name));
  return bond.members.map(({ value }) => value).filter((port) => present.has(port) && !off.has(port));
}

/**
 * Members of bonds but the first of each, switched on when that one carries, for `ip -batch`. Whoever is heard first would
 * carry for good (kernel facts 40 and 43), and among cables that are plugged in at once that is a race.
 */
export function lateLines(device: SiteDevice, names: FullNames, present: ReadonlySet<string>): readonly string[] {
  return lateMembers(device, names, present).map((name) => `link set dev ${name} up`);
}

function lateMembers(device: SiteDevice, names: FullNames, present: ReadonlySet<string>): readonly string[] {
  return device.bonds.flatMap((bond) =>
    enabledMembers(bond, device, present)
      .slice(1)
      .flatMap((port) => names.ports.get(port) ?? []),
  );
}

function lacpOptions({ activity, speed, minimum }: SiteBond): readonly string[] {
  return [
    `lacp_rate ${speed.value}`,
    ...(activity.value === "passive" ? ["lacp_active off"] : []),
    ...(minimum === undefined ? [] : [`min_links ${minimum.value}`]),
  ];
}

function bridgeLines(
  bridge: SiteBridge,
  device: SiteDevice,
  names: FullNames,
  present: ReadonlySet<string>,
  site: Site,
): readonly string[] {
  const hardware = untaggedHardware(device) ?? bridge.hardware.value;
  const obeys = bridge.tags.value === "obeyed" ? "vlan_filtering 1 vlan_default_pvid 0" : "vlan_filtering 0";
  const ageing = `ageing_time ${bridge.ageingSeconds.value * HUNDREDTHS}`;
  const head = `link add name ${names.bridge} address ${formatHardware(hardware)}`;
  const ports = bridgePorts(bridge, names, present);
  return [
    `${head} type bridge ${obeys} ${ageing} mcast_snooping 0 ${treeOptions(bridge.tree)}`,
    ...ports.map(({ kernel }) => `link set dev ${kernel} master ${names.bridge}`),
    ...ports
      .filter(({ membership }) => membership.isolated.value)
      .map(({ kernel }) => `link set dev ${kernel} type bridge_slave isolated on`),
    ...(bridge.tree === undefined ? [] : ports.map(({ name, kernel }) => treePortLine(name, kernel, device, site))),
  ];
}

type BridgePort = { readonly name: string; readonly kernel: string; readonly membership: SiteMembership };

/** The ports that are there, in the order of the bridge: a port's number is its turn. */
function bridgePorts(bridge: SiteBridge, names: FullNames, present: ReadonlySet<string>): readonly BridgePort[] {
  return bridge.ports.flatMap(({ name, membership }) => {
    const kernel = names.bonds.get(name) ?? (present.has(name) ? names.ports.get(name) : undefined);
    return kernel === undefined ? [] : [{ name, kernel, membership }];
  });
}

function untaggedHardware({ interfaces }: SiteDevice): bigint | undefined {
  return interfaces.find(({ footing, vlan }) => footing.on === "bridge" && vlan === undefined)?.hardware.value;
}

function treeOptions(tree: SiteTree | undefined): string {
  if (tree === undefined) return "stp_state 0";
  const hundredths = (seconds: number): number => seconds * HUNDREDTHS;
  return [
    "stp_state 1",
    `priority ${tree.priority.value}`,
    `hello_time ${hundredths(tree.helloSeconds.value)}`,
    `max_age ${hundredths(tree.maxAgeSeconds.value)}`,
    `forward_delay ${hundredths(tree.forwardDelaySeconds.value)}`,
  ].join(" ");
}

function treePortLine(name: string, kernel: string, device: SiteDevice, site: Site): string {
  const port = device.bridge?.tree?.ports.find((each) => each.name === name);
  const guard = port?.guard.value === true ? " guard on" : "";
  const priority = (port?.priority.value ?? 128) / PRIORITY_STEP;
  return `link set dev ${kernel} type bridge_slave cost ${portCost(name, device, site)} priority ${priority}${guard}`;
}

function taggedLine({ name, parent, vlan, own }: TaggedLink): string {
  return `link add link ${parent} name ${name} address ${formatHardware(own.hardware.value)} type vlan id ${vlan}`;
}

/** Memberships, for `bridge -batch`. */
export function vlanLines(device: SiteDevice, names: FullNames, present: ReadonlySet<string>): readonly string[] {
  const { bridge } = device;
  if (bridge === undefined || bridge.tags.value === "ignored") return [];
  const ports = bridgePorts(bridge, names, present).flatMap(({ kernel, membership }) =>
    membershipLines(`dev ${kernel}`, membership),
  );
  const own = bridge.own === undefined ? [] : membershipLines(`dev ${names.bridge}`, bridge.own, " self");
  const apart = names.tagged
    .filter(({ parent, own: { hardware } }) => parent === names.bridge && hardware.value !== bridge.hardware.value)
    .map(
      ({ vlan, own: { hardware } }) =>
        `fdb add ${formatHardware(hardware.value)} dev ${names.bridge} self local vlan ${vlan}`,
    );
  return [...ports, ...own, ...apart];
}

function membershipLines(device: string, { members, portVlan, admit }: SiteMembership, self = ""): readonly string[] {
  const entry = admit.value === "tagged" ? "refused" : portVlan.value;
  return members.flatMap(({ first, last, leaves }) =>
    runsAround(first, last, entry).map(([from, to]) => {
      const flags = `${from === entry ? " pvid" : ""}${leaves === "untagged" ? " untagged" : ""}`;
      return `vlan add ${device} vid ${from === to ? from : `${from}-${to}`}${flags}${self}`;
    }),
  );
}

/** A run of VLANs, with the port VLAN on its own: a run cannot be a port VLAN. */
function runsAround(first: number, last: number, entry: number | "refused"): readonly (readonly [number, number])[] {
  if (entry === "refused" || entry < first || entry > last) return [[first, last]];
  const parts: readonly (readonly [number, number])[] = [
    [first, entry - 1],
    [entry, entry],
    [entry + 1, last],
  ];
  return parts.filter(([from, to]) => from <= to);
}

/**
 * Ports that admit untagged frames only, as a table for `nft`: a bridge takes the tag of a port's own VLAN too (kernel fact 34).
 * A frame with VLAN 0 counts as untagged.
 */
export function admissionTable(device: SiteDevice, names: FullNames, present: ReadonlySet<string>): string {
  const { bridge } = device;
  if (bridge === undefined || bridge.tags.value === "ignored") return "";
  const strict = bridgePorts(bridge, names, present).filter(({ membership }) => membership.admit.value === "untagged");
  if (strict.length === 0) return "";
  const chains = strict.flatMap(({ kernel }, index) => [
    `  chain port${index + 1} {`,
    `    type filter hook ingress device "${kernel}" priority 0; policy accept;`,
    "    vlan id 1-4095 drop",
    "  }",
  ]);
  return ["table netdev admission {", ...chains, "}", ""].join("\n");
}

/** What is up, for `ip -batch`. */
export function fullLinkLines(device: SiteDevice, names: FullNames, present: ReadonlySet<string>): readonly string[] {
  const late = new Set(lateMembers(device, names, present));
  const now = [...fullUpNames(device, names, present)].filter((name) => !late.has(name));
  return [
    "link set dev lo up",
    // What carries others and no interface itself hears nothing of its own: see also `ruleset.ts`.
    ...names.mute.map((name) => `link set dev ${name} arp off`),
    ...now.map((name) => `link set dev ${name} up`),
  ];
}

/** Names of the kernel's interfaces that are switched on. */
export function fullUpNames(device: SiteDevice, names: FullNames, present: ReadonlySet<string>): ReadonlySet<string> {
  const ports = device.ports
    .filter((port) => port.enabled.value && present.has(port.name))
    .flatMap((port) => names.ports.get(port.name) ?? []);
  const bridge = names.bridge === undefined ? [] : [names.bridge];
  const tagged = names.tagged.map(({ name }) => name);
  return new Set([...ports, ...names.bonds.values(), ...bridge, ...tagged, ...names.tunnels.values()]);
}
