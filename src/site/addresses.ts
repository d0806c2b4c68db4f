/**
 * Addresses of an interface: its host number in its network's prefixes, those written, and whence further ones come.
 */
import {
  type Address,
  formatAddress,
  formatPrefix,
  hostAddress,
  isLinkLocal,
  type Prefix,
  prefixContains,
  widthOf,
} from "../address/index.ts";
import type { Origin, Span } from "../diagnose/index.ts";
import type { AddressSource, InterfaceEntry, Located, NetworkEntry } from "../document/index.ts";
import type { Findings } from "./findings.ts";
import { defaultAt, type Setting, writtenAt } from "./setting.ts";
import type { SiteAddress } from "./site-stack.ts";

/** All about an interface's addresses. */
export type Addressing = {
  /** Those stated. */
  readonly addresses: readonly SiteAddress[];
  /** Takes a lease. */
  readonly lease?: Origin;
  /** Forms addresses of advertised prefixes. */
  readonly advertised?: Origin;
  /** Speaks IPv6. */
  readonly speaks6: Setting<boolean>;
};

/** What an entry says of addresses. */
export type AddressingContext = {
  /** The interface or leg. */
  readonly entry: InterfaceEntry;
  /** The network it is declared in. */
  readonly network: NetworkEntry | undefined;
  /** Whether its device forwards: who forwards takes no addresses from advertisements unless told. */
  readonly forwards: boolean;
  /** Where diagnostics go. */
  readonly findings: Findings;
};

/** Prefixes of a network that are written or were delegated, IPv4 before IPv6. */
export function prefixesOf(network: NetworkEntry): readonly Located<Prefix>[] {
  const six = (network.ipv6?.value ?? []).flatMap(({ value, span }) =>
    value.by === "prefix" ? [{ value, span }] : [],
  );
  return [...(network.ipv4?.value ?? []), ...six].map(({ value: { family, value, length }, span }) => ({
    value: { family, value, length },
    span,
  }));
}

/** Resolves the addresses of an interface. */
export function resolveAddressing(context: AddressingContext): Addressing {
  const { entry } = context;
  const sources = [...(entry.ipv4?.value ?? []), ...(entry.ipv6?.value ?? [])];
  const written = sources.flatMap((source) =>
    source.value.by === "address" ? [{ ...source, value: source.value }] : [],
  );
  const addresses = eachOnce(
    byHostNumber(context),
    written.flatMap((source) => writtenAddress(source, context)),
  );
  const lease = entry.short ?? entry.ipv4?.value.find(({ value }) => value.by === "lease");
  const speaks6 = speaks6Of(context);
  const advertised = advertisedOf(context, speaks6.value);
  return {
    addresses,
    ...(lease === undefined ? {} : { lease: writtenAt(lease.span) }),
    ...(advertised === undefined ? {} : { advertised }),
    speaks6,
  };
}

/** What a host number says and is written out, too, is as it is written. */
function eachOnce(byNumber: readonly SiteAddress[], written: readonly SiteAddress[]): readonly SiteAddress[] {
  const isSame = (a: SiteAddress, b: SiteAddress): boolean => a.family === b.family && a.value === b.value;
  const first = byNumber.map((each) => written.find((other) => isSame(other, each)) ?? each);
  return [...first, ...written.filter((each) => !first.includes(each))];
}

/** The host number counts in the first IPv4 prefix and in each IPv6 prefix (RFC 4291 section 2.1; RFC 7084 L-2 for delegated ones). */
function byHostNumber({ entry: { host, name }, network, findings }: AddressingContext): readonly SiteAddress[] {
  if (host === undefined || network === undefined) return [];
  const prefixes = prefixesOf(network);
  const [four] = prefixes.filter(({ value }) => value.family === 4);
  const counted = prefixes.filter((prefix) => prefix === four || prefix.value.family === 6);
  if (counted.length === 0 && !lacksDelegated(network)) {
    findings.report(
      "no-address",
      host.span,
      `\`${name.value}\` has a host number, but network \`${network.name.value}\` has no prefix`,
      {
        also: [{ span: network.name.span, text: "the network" }],
        about: [network.name.value],
      },
    );
  }
  return counted.flatMap((prefix) => {
    const address = hostAddress(prefix.value, BigInt(host.value));
    if (address === undefined) reportHostOutside(host, prefix, network, findings);
    return address === undefined ? [] : [{ ...address, length: prefix.value.length, origin: writtenAt(host.span) }];
  });
}

/** Whether a prefix was to be delegated to it and none was: what follows from that is no fault of its own. */
export function lacksDelegated(network: NetworkEntry): boolean {
  return network.ipv6?.value.some(({ value }) => value.by === "delegated") ?? false;
}

function reportHostOutside(
  host: Located<number>,
  prefix: Located<Prefix>,
  network: NetworkEntry,
  findings: Findings,
): void {
  const last = (1n << BigInt(widthOf(prefix.value.family) - prefix.value.length)) - 1n;
  findings.report(
    "address-outside",
    host.span,
    `host number ${host.value} does not fit in \`${formatPrefix(prefix.value)}\``,
    {
      also: [{ span: prefix.span, text: `the prefix of \`${network.name.value}\`` }],
      notes: [`host numbers there are 0 to ${last}`],
    },
  );
}

type WrittenAddress = Extract<AddressSource, { readonly by: "address" }>;

function writtenAddress({ value, span }: Located<WrittenAddress>, context: AddressingContext): readonly SiteAddress[] {
  const { network, findings } = context;
  const address: Address = { family: value.family, value: value.value };
  const origin = writtenAt(span);
  if (value.family === 6 && isLinkLocal(address)) return [{ ...address, length: value.length ?? 64, origin }];
  const own = network === undefined ? [] : prefixesOf(network).filter((prefix) => prefix.value.family === value.family);
  const prefix = own.find((candidate) => prefixContains(candidate.value, address));
  if (own.length > 0 && prefix === undefined) reportOutside(address, span, network, own, findings);
  const length = value.length ?? prefix?.value.length;
  if (length === undefined && own.length === 0) {
    findings.report("bad-prefix", span, `\`${formatAddress(address)}\` needs a prefix length here`, {
      notes: ["no network is named whose prefix would give it"],
      help: `write \`${formatAddress(address)}/${value.family === 4 ? 24 : 64}\``,
    });
  }
  return length === undefined ? [] : [{ ...address, length, origin }];
}

function reportOutside(
  address: Address,
  span: Span,
  network: NetworkEntry | undefined,
  prefixes: readonly Located<Prefix>[],
  findings: Findings,
): void {
  const name = network?.name.value ?? "";
  findings.report("address-outside", span, `\`${formatAddress(address)}\` lies outside of network \`${name}\``, {
    also: prefixes.map((prefix) => ({ span: prefix.span, text: `\`${name}\` is ${formatPrefix(prefix.value)}` })),
  });
}

/** An interface speaks IPv6 where its network has `ipv6`, or where it says so. */
function speaks6Of({ entry, network }: AddressingContext): Setting<boolean> {
  const said = entry.short ?? entry.ipv6;
  if (said !== undefined) return { value: true, origin: writtenAt(said.span) };
  if (network?.ipv6 !== undefined) {
    return {
      value: true,
      origin: defaultAt(network.ipv6.span, "an interface speaks IPv6 where its network has it", "dryrack"),
    };
  }
  return {
    value: false,
    origin: defaultAt(entry.name.span, "neither the interface nor its network has IPv6", "dryrack"),
  };
}

/** Written (who asks for a prefix is a host on its uplink: RFC 7084 W-1), the word `lease`, or the habit of whoever speaks IPv6 and does not forward. */
function advertisedOf({ entry, forwards }: AddressingContext, speaks6: boolean): Origin | undefined {
  const written =
    entry.ipv6?.value.find(({ value }) => value.by === "advertised" || value.by === "delegated") ?? entry.short;
  if (written !== undefined) return writtenAt(written.span);
  if (!speaks6 || forwards || entry.ipv6 !== undefined) return undefined;
  return defaultAt(
    entry.name.span,
    "who does not forward takes addresses from advertisements",
    "RFC 4862, as in linux",
  );
}
