/**
 * Router advertisements on a kernel: what a device advertises, as one configuration of radvd, which sends its first at once,
 * and which interfaces make addresses and routes of what they hear, as settings of the kernel that does so.
 */
import { formatAddress, formatPrefix, type Prefix } from "../address/index.ts";
import { idOf } from "../network/index.ts";
import type { Setting, SiteDevice, SiteInterface } from "../site/index.ts";
import type { DeviceNames } from "./names.ts";
import type { AwaitingPlan, DevicePlan, Unsupported } from "./plan.ts";

/** What is advertised on one interface, whoever does. */
type Told = {
  readonly interface: string;
  readonly routerSeconds: Setting<number>;
  readonly preference: "high" | "medium" | "low";
  readonly prefixes: readonly Prefix[];
  readonly onLink: boolean;
  readonly autonomous: boolean;
  readonly resolvers: readonly bigint[];
  readonly mtu?: number;
};

/** An upstream is a default router for 1800 s, as everybody by default (RFC 4861 section 6.2.1). */
const ROUTER_SECONDS = 1800;
/** Lifetimes of a prefix by default (RFC 4861 section 6.2.1). */
const VALID_SECONDS = 2_592_000;
const PREFERRED_SECONDS = 604_800;

/** Longest and shortest time between advertisements that radvd takes; a router's lifetime must not be shorter. */
const LONGEST_INTERVAL = 600;
const SHORTEST_INTERVAL = 4;

/** Longer than all questions to one site take. */
const LASTING_SECONDS = 900;

/** The configuration, and the kernel's interfaces that it is for. */
export function radvdOf(device: SiteDevice, names: DeviceNames): DevicePlan["radvd"] {
  const told = toldBy(device).flatMap((each) => {
    const name = names.interfaces.get(each.interface);
    return name === undefined ? [] : [{ name, seconds: each.routerSeconds.value, lines: interfaceLines(each, name) }];
  });
  return {
    text: told.flatMap(({ lines }) => [...lines, ""]).join("\n"),
    interfaces: told.map(({ name }) => name),
    lasts: told.every(({ seconds }) => seconds === 0 || seconds >= LASTING_SECONDS),
  };
}

function toldBy({ advertise, handsOut }: SiteDevice): readonly Told[] {
  const written = advertise.map((entry) => ({
    interface: entry.interface,
    routerSeconds: entry.routerLifetimeSeconds,
    preference: entry.preference.value,
    prefixes: entry.prefixes.map(({ value }) => value),
    onLink: entry.onLink.value,
    autonomous: entry.autonomous.value,
    resolvers: entry.resolvers.map(({ value }) => value),
    ...(entry.mtu === undefined ? {} : { mtu: entry.mtu.value }),
  }));
  const handed = handsOut.flatMap(({ port, ipv6, origin }): Told[] => {
    if (ipv6 === undefined) return [];
    const routerSeconds = { value: ROUTER_SECONDS, origin };
    const plain = { preference: "medium", onLink: true, autonomous: true, resolvers: [] } as const;
    return [{ interface: port, routerSeconds, prefixes: [ipv6.value], ...plain }];
  });
  return [...written, ...handed];
}

function interfaceLines(told: Told, name: string): readonly string[] {
  const { routerSeconds, preference, mtu, prefixes, resolvers } = told;
  const seconds = routerSeconds.value;
  const interval = seconds === 0 ? LONGEST_INTERVAL : Math.min(LONGEST_INTERVAL, seconds);
  return [
    `interface ${name} {`,
    "  AdvSendAdvert on;",
    `  MaxRtrAdvInterval ${interval};`,
    `  AdvDefaultLifetime ${seconds};`,
    `  AdvDefaultPreference ${preference};`,
    ...(mtu === undefined ? [] : [`  AdvLinkMTU ${mtu};`]),
    ...prefixes.map((prefix) => `  ${prefixText(prefix, told)}`),
    ...(resolvers.length === 0 ? [] : [`  RDNSS ${resolvers.map(text).join(" ")} { };`]),
    "};",
  ];
}

function prefixText(prefix: Prefix, { onLink, autonomous }: Told): string {
  const flags = `AdvOnLink ${onLink ? "on" : "off"}; AdvAutonomous ${autonomous ? "on" : "off"};`;
  const times = `AdvValidLifetime ${VALID_SECONDS}; AdvPreferredLifetime ${PREFERRED_SECONDS};`;
  return `prefix ${formatPrefix(prefix)} { ${flags} ${times} };`;
}

function text(value: bigint): string {
  return formatAddress({ family: 6, value });
}

// -- who hears it --------------------------------------------------------------------------------------------------

/** The interfaces of a device that wait for advertisements, in document order. */
export function awaitingOf(device: SiteDevice, names: DeviceNames): readonly AwaitingPlan[] {
  return device.interfaces.flatMap((own) => {
    const name = names.interfaces.get(own.name);
    if (own.advertised === undefined || name === undefined) return [];
    return [{ id: idOf(device.name, own.name), device: device.name, name }];
  });
}

/** Settings of an interface that waits: who forwards takes nothing by itself, and no default but on an uplink that it asks. */
export function acceptSettings(device: SiteDevice, own: SiteInterface, name: string): readonly string[] {
  if (own.advertised === undefined) return [];
  const forwards = device.forwarding.value;
  const takes = takesDefault(own) && (!forwards || own.delegation !== undefined);
  return [
    `net/ipv6/conf/${name}/accept_ra = ${forwards ? 2 : 1}`,
    `net/ipv6/conf/${name}/accept_ra_defrtr = ${takes ? 1 : 0}`,
  ];
}

/** A written gateway of IPv6, or none at all, stands in place of the advertised one. */
function takesDefault({ gateways }: SiteInterface): boolean {
  if (gateways === undefined) return true;
  return gateways.value.length > 0 && gateways.value.every(({ value }) => value.family === 4);
}

/** What radvd does not send. */
export function unsupportedAdvertising(device: SiteDevice): readonly Unsupported[] {
  return toldBy(device).flatMap(({ interface: name, routerSeconds: { value, origin } }) => {
    const isSent = value === 0 || (Number.isInteger(value) && value >= SHORTEST_INTERVAL && value <= MOST_SECONDS);
    return isSent
      ? []
      : [{ origin, what: `a router lifetime of less than 4 or more than 65535 s, \`${device.name}/${name}\`` }];
  });
}

const MOST_SECONDS = 65_535; // RFC 4861 section 4.2: the field is 16 bits long
