/**
 * Addresses written by the name of who owns them: `edge/crew`, or a device with one interface that fits.
 */
import { type Address, type Family, isLinkLocal, keyAddress } from "../address/index.ts";
import type { AddressesOrNone, AddressOrName, Located, NameReference } from "../document/index.ts";
import { lacksDelegated } from "./addresses.ts";
import { addressesOf, type Directory, type Leg, legKey } from "./directory.ts";
import type { Findings } from "./findings.ts";
import { isWritten } from "./lenders.ts";
import { type Setting, writtenAt } from "./setting.ts";

/** What names are resolved against. */
export type Lookup = {
  /** Everything names can lead to. */
  readonly directory: Directory;
  /** Where diagnostics go. */
  readonly findings: Findings;
};

/** One address of a family, or of either (`undefined`, then IPv4 first). Undefined after a diagnostic. */
export function resolveAddress(
  { value, span }: Located<AddressOrName>,
  family: Family | undefined,
  lookup: Lookup,
): Setting<Address> | undefined {
  const origin = writtenAt(span);
  if (value.by === "name") {
    const address = addressOfName({ value, span }, family, lookup);
    return address && { value: address, origin };
  }
  if (family === undefined || value.family === family) {
    return { value: { family: value.family, value: value.value }, origin };
  }
  lookup.findings.report("bad-address", span, `an IPv${family} address is expected here`);
  return undefined;
}

/** A list of addresses; `none` is the empty list. Undefined: not written. */
export function resolveAddresses(
  written: Located<AddressesOrNone> | undefined,
  family: Family | undefined,
  lookup: Lookup,
): Setting<readonly Setting<Address>[]> | undefined {
  if (written === undefined) return undefined;
  const items = written.value.by === "none" ? [] : written.value.items;
  return {
    value: items.flatMap((item) => resolveAddress(item, family, lookup) ?? []),
    origin: writtenAt(written.span),
  };
}

/** The same of those who are asked for something over either version of IP: a name means an address of each that it has, IPv4 first. */
export function resolveServers(
  written: Located<AddressesOrNone> | undefined,
  lookup: Lookup,
): Setting<readonly Setting<Address>[]> | undefined {
  if (written === undefined) return undefined;
  const items = written.value.by === "none" ? [] : written.value.items;
  return { value: items.flatMap((item) => serversAt(item, lookup)), origin: writtenAt(written.span) };
}

/** What one item of such a list means. */
export function serversAt(written: Located<AddressOrName>, lookup: Lookup): readonly Setting<Address>[] {
  const first = resolveAddress(written, undefined, lookup);
  if (first === undefined || written.value.by !== "name") return first === undefined ? [] : [first];
  const legs = legsNamed({ value: written.value, span: written.span }, lookup) ?? [];
  // A link-local address is of use on its own link alone, and of what is advertised nobody knows yet whether it is.
  const stated = legs.flatMap((leg) => leg.interface.addresses);
  const six = stated.find(({ family, value }) => family === 6 && !isLinkLocal({ family, value }));
  return six === undefined || first.value.family === 6
    ? [first]
    : [first, { value: { family: 6, value: six.value }, origin: first.origin }];
}

function addressOfName(
  written: Located<NameReference>,
  family: Family | undefined,
  lookup: Lookup,
): Address | undefined {
  const legs = legsNamed(written, lookup);
  if (legs === undefined) return undefined;
  const having = legs.flatMap((leg) => {
    const address = fixedAddress(leg, family, lookup.directory);
    return address === undefined ? [] : [{ leg, address }];
  });
  const [first, second] = having;
  if (first !== undefined && second === undefined) return first.address;
  // What would give it an address may have been left out, or may be in what was not read.
  const isExcused = lookup.directory.isPartial || legs.some((leg) => isUndelegated(leg, lookup.directory));
  if (first === undefined && !isExcused) reportNone(written, legs, family, lookup.findings);
  else if (first !== undefined)
    reportSeveral(
      written,
      having.map(({ leg }) => leg),
      lookup.findings,
    );
  return undefined;
}

function isUndelegated({ networks }: Leg, { names }: Directory): boolean {
  return networks.some((name) => {
    const network = names.networks.get(name);
    return network !== undefined && lacksDelegated(network);
  });
}

/** The legs that a device's name, or a device's and a leg's, mean. Undefined after a diagnostic. */
export function legsNamed(
  { value: { name, part }, span }: Located<NameReference>,
  { directory, findings }: Lookup,
): readonly Leg[] | undefined {
  const device = directory.wiring.devices.get(name);
  if (device === undefined) {
    findings.unknown({ kind: "device", name, span, candidates: directory.wiring.devices.keys() });
    return undefined;
  }
  if (part === undefined) return directory.legsOf(name);
  const leg = directory.legs.get(legKey(name, part));
  if (leg !== undefined) return [leg];
  if (!isWritten(device, part)) {
    const kind = device.rack.topology.is.value === "host" ? "leg" : "interface";
    const candidates = directory.legsOf(name).map((one) => one.interface.name);
    findings.unknown({ kind, of: name, name: part, span, candidates, written: (candidate) => `${name}/${candidate}` });
  }
  return undefined;
}

/** The version of the address that a device's name, or a device's and a leg's, mean; undefined: of none. Reports nothing. */
export function familyNamed({ name, part }: NameReference, directory: Directory): Family | undefined {
  const named = part === undefined ? directory.legsOf(name) : [directory.legs.get(legKey(name, part))];
  const [first] = named.flatMap((leg) => (leg && fixedAddress(leg, undefined, directory)) ?? []);
  return first?.family;
}

/** The first stated address of the family, else a reserved one. */
function fixedAddress(leg: Leg, family: Family | undefined, directory: Directory): Address | undefined {
  const { keys, unknown } = addressesOf(leg, directory.names);
  const stated = leg.interface.addresses.find((address) => family === undefined || address.family === family);
  if (stated !== undefined) return { family: stated.family, value: stated.value };
  if (unknown) return undefined;
  return keys.map(([low]) => keyAddress(low)).find((address) => family === undefined || address.family === family);
}

function textOf({ name, part }: NameReference): string {
  return part === undefined ? name : `${name}/${part}`;
}

function reportNone(
  { value, span }: Located<NameReference>,
  legs: readonly Leg[],
  family: Family | undefined,
  findings: Findings,
): void {
  const lease = legs.find((leg) => leg.interface.lease !== undefined)?.interface.lease;
  const version = family === undefined ? "" : ` IPv${family}`;
  findings.report("no-address", span, `\`${textOf(value)}\` has no fixed${version} address`, {
    also: lease === undefined ? [] : [{ span: lease.span, text: "it comes from a lease" }],
    help: lease === undefined ? undefined : "reserve one, or write the address out",
    about: "anything",
  });
}

function reportSeveral({ value, span }: Located<NameReference>, legs: readonly Leg[], findings: Findings): void {
  const names = legs.map((leg) => `${value.name}/${leg.interface.name}`);
  findings.report("ambiguous-leg", span, `\`${textOf(value)}\` has several addresses`, {
    notes: [`they are those of ${names.join(", ")}`],
    help: `name one: \`${names[0]}\``,
    about: [value.name],
  });
}
