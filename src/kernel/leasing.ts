/**
 * DHCPv4 on a kernel: what a device serves and relays, as one configuration of dnsmasq, and which of its interfaces ask.
 * dnsmasq serves whatever subnet an interface or a relay's address is in, so a server needs no interface of its own here. Its
 * ranges are tried in the order of the file, so "highest first" is a range for each of the highest addresses. In one range it
 * goes on after the highest address lent, so "lowest first" is written alike where a reservation lies in the pool.
 */
import { formatAddress, formatHardware, formatPrefix, type Prefix } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { idOf } from "../network/index.ts";
import type { Setting, SiteDevice, SiteDhcpServer, SiteHandsOut, SiteInterface } from "../site/index.ts";
import type { DeviceNames } from "./names.ts";
import type { ClientPlan, Unsupported } from "./plan.ts";

/** So many of the first addresses in order get a range of their own; nobody has more clients in one network of a plan. */
const MOST_SINGLES = 64n;

type Pool = SiteDhcpServer["pool"];

/** A network that is lent, whoever lends it. */
type Lent = Pick<SiteDhcpServer, "pool" | "leaseSeconds" | "order"> & {
  readonly subnet: Prefix;
  readonly routers: readonly bigint[];
  readonly resolvers: readonly bigint[];
  readonly server?: SiteDhcpServer;
};

/** The configuration; empty: the device neither serves nor relays. */
export function dnsmasqOf(device: SiteDevice): string {
  const lent = lentBy(device);
  const relays = device.relays.flatMap(({ interface: name, servers }) =>
    servers.map(({ value }) => `dhcp-relay=${relayAddress(device, name)},${text(value)}`),
  );
  if (lent.length + relays.length === 0) return "";
  const isSequential = lent.some(({ order }) => order.value !== "hashed");
  const isAuthoritative = device.handsOut.length > 0 || device.dhcp.some(({ authoritative }) => authoritative.value);
  return [
    "port=0",
    "user=root",
    "pid-file",
    "no-ping",
    "no-hosts",
    "no-resolv",
    "quiet-dhcp",
    "except-interface=lo",
    "dhcp-leasefile=/dev/null",
    ...(isAuthoritative ? ["dhcp-authoritative"] : []),
    ...(isSequential ? ["dhcp-sequential-ip"] : []),
    ...lent.flatMap((each, index) => lentLines(each, `net${index + 1}`)),
    ...relays,
    "",
  ].join("\n");
}

function lentBy({ dhcp, handsOut }: SiteDevice): readonly Lent[] {
  const served = dhcp.map((server) => ({
    pool: server.pool,
    leaseSeconds: server.leaseSeconds,
    order: server.order,
    subnet: server.subnet.value,
    routers: server.routers.value.map(({ value }) => value),
    resolvers: server.resolvers.value.map(({ value }) => value),
    server,
  }));
  return [...served, ...handsOut.flatMap(handedOut)];
}

function handedOut({ ipv4, router, pool, leaseSeconds, order, resolvers }: SiteHandsOut): readonly Lent[] {
  if (ipv4 === undefined || pool.length === 0) return [];
  const routers = router === undefined ? [] : [router.value];
  return [{ pool, leaseSeconds, order, subnet: ipv4.value, routers, resolvers: resolvers.map(({ value }) => value) }];
}

function lentLines({ pool, leaseSeconds, order, subnet, routers, resolvers, server }: Lent, tag: string): string[] {
  const mask = text((0xffffffffn << BigInt(32 - subnet.length)) & 0xffffffffn);
  const time = `${leaseSeconds.value}`;
  const ranges = rangesOf(pool, order.value, server?.reservations ?? []);
  // A network without a pool still serves its reservations.
  const runs =
    ranges.length === 0
      ? [`dhcp-range=set:${tag},${text(subnet.value)},static,${mask},${time}`]
      : ranges.map(({ first, last }) => `dhcp-range=set:${tag},${text(first)},${text(last)},${mask},${time}`);
  const option = (name: string, values: readonly string[]): string =>
    [`dhcp-option=tag:${tag},option:${name}`, ...values].join(",");
  return [
    ...runs,
    // Nothing after the name: the option that dnsmasq would add by itself is left out.
    option("router", routers.map(text)),
    option("dns-server", resolvers.map(text)),
    ...(server?.domain === undefined ? [] : [option("domain-name", [server.domain.value])]),
    ...(server === undefined || server.routes.length === 0
      ? []
      : [
          option(
            "classless-static-route",
            server.routes.flatMap(({ value: { to, via } }) => [formatPrefix(to), text(via)]),
          ),
        ]),
    ...(server?.reservations ?? []).map(
      ({ hardware, value }) => `dhcp-host=${formatHardware(hardware.value)},${text(value.value)}`,
    ),
  ];
}

type Run = { readonly first: bigint; readonly last: bigint };

function rangesOf(pool: Pool, order: Lent["order"]["value"], reserved: SiteDhcpServer["reservations"]): readonly Run[] {
  const runs = pool.map(({ value }) => value);
  if (order === "highest-first") return singlesFirst(runs.toReversed(), order);
  const isReserved = reserved.some(({ value }) =>
    runs.some(({ first, last }) => first <= value.value && value.value <= last),
  );
  return order === "lowest-first" && isReserved ? singlesFirst(runs, order) : runs;
}

/** The first addresses in order one by one, then what is left of the pool. */
function singlesFirst(runs: readonly Run[], order: "lowest-first" | "highest-first"): readonly Run[] {
  const singles: Run[] = [];
  const rest: Run[] = [];
  for (const run of runs) {
    let { first, last } = run;
    for (; first <= last && BigInt(singles.length) < MOST_SINGLES; ) {
      const value = order === "lowest-first" ? first++ : last--;
      singles.push({ first: value, last: value });
    }
    if (first <= last) rest.push({ first, last });
  }
  return [...singles, ...rest];
}

function relayAddress(device: SiteDevice, name: string): string {
  const own = device.interfaces.find((one) => one.name === name)?.addresses.find(({ family }) => family === 4);
  if (own === undefined) throw new Error(`the relay of ${device.name} on ${name} has no address`);
  return text(own.value);
}

function text(value: bigint): string {
  return formatAddress({ family: 4, value });
}

/** The interfaces of a device that take a lease, in document order. */
export function clientsOf(device: SiteDevice, names: DeviceNames): readonly ClientPlan[] {
  return device.interfaces.flatMap((own) => {
    const name = names.interfaces.get(own.name);
    if (own.lease === undefined || name === undefined) return [];
    return [{ id: idOf(device.name, own.name), device: device.name, name, takesGateway: takesGateway(own) }];
  });
}

function takesGateway({ gateways }: SiteInterface): boolean {
  return gateways === undefined || gateways.value.length > 0;
}

/** What dnsmasq does otherwise than it is written. */
export function unsupportedLeasing(device: SiteDevice): readonly Unsupported[] {
  const { name, dhcp, relays, handsOut } = device;
  const mixed = [
    ...differing([...dhcp, ...handsOut].map(({ order }) => ({ ...order, value: order.value === "hashed" }))),
    ...differing(dhcp.map(({ authoritative }) => authoritative)),
  ];
  return [
    ...mixed.map((origin) => ({ origin, what: `DHCP servers of one device, \`${name}\`, that differ in this` })),
    ...dhcp.flatMap(({ reads }) =>
      reads.value === "frames" && device.filter?.to !== undefined
        ? [{ origin: reads.origin, what: `a DHCP server that no filter stops, \`${name}\`` }]
        : [],
    ),
    ...relays.flatMap(({ origin, source, via, interface: on }) => [
      ...(source.value === "server-side"
        ? [{ origin: source.origin, what: `a relay that asks from its far side, \`${name}\`` }]
        : []),
      ...(via === undefined
        ? []
        : [{ origin: via.origin, what: `a relay that is bound to an interface, \`${name}\`` }]),
      ...(hasAddress(device, on) ? [] : [{ origin, what: `a relay without an address, \`${name}/${on}\`` }]),
    ]),
    ...handsOut.flatMap(({ remembers }) =>
      remembers.value === "first-client"
        ? [{ origin: remembers.origin, what: `an upstream that remembers its first client, \`${name}\`` }]
        : [],
    ),
  ];
}

function hasAddress(device: SiteDevice, name: string): boolean {
  return device.interfaces.some((one) => one.name === name && one.addresses.some(({ family }) => family === 4));
}

/** Where a value is another than the first one's. */
function differing(settings: readonly Setting<boolean>[]): readonly Origin[] {
  return settings.filter(({ value }) => value !== settings[0]?.value).map(({ origin }) => origin);
}
