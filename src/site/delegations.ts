/**
 * Prefixes that providers delegate (RFC 8415 section 6.3): which uplink asks, who delegates to it, and the block that stands
 * for what nobody knows beforehand. Blocks come from 3fff::/20, the prefix for documentation (RFC 9637 section 3): the nth
 * uplink that asks has the nth /32 of it that the documents leave alone, counted from 1, so that it keeps its block whatever
 * the provider does. Networks cut their /64 from the block by number.
 */
import { formatPrefix, type Prefix, prefixesOverlap } from "../address/index.ts";
import type { Origin, Span } from "../diagnose/index.ts";
import type { HandsOut, InterfaceEntry, Located, NetworkEntry, NetworkPrefix6 } from "../document/index.ts";
import type { Configured } from "./configured.ts";
import { legKey } from "./directory.ts";
import { extentOf } from "./extent.ts";
import type { Findings } from "./findings.ts";
import { entriesOf } from "./footing.ts";
import type { Names } from "./names.ts";
import type { Rack } from "./rack.ts";
import type { PortOf } from "./references.ts";
import { absentAt, defaultAt, type Setting, writtenAt } from "./setting.ts";
import type { SiteDelegation } from "./site-stack.ts";
import type { Wiring } from "./wiring.ts";

/** Every interface that asks for a prefix, by `device/interface`, in document order. */
export type Delegations = ReadonlyMap<string, SiteDelegation>;

/** The word by which an interface asks for a prefix; undefined: it asks for none. */
function asksForPrefix({ ipv6 }: InterfaceEntry): Span | undefined {
  return ipv6?.value.find(({ value }) => value.by === "delegated")?.span;
}

/** Whether anything in the documents asks for a prefix. */
export function isAnythingDelegated(racks: ReadonlyMap<string, Rack>): boolean {
  return [...racks.values()].some((rack) => entriesOf(rack).some((entry) => asksForPrefix(entry) !== undefined));
}

/**
 * Finds who delegates to whom. Only the wires count, so networks may still lack their prefixes in `wiring`; and where they lead to nobody
 * who delegates, who did `before`, by `device/interface`.
 */
export function resolveDelegations(
  names: Names,
  wiring: Wiring,
  before: ReadonlyMap<string, PortOf>,
  findings: Findings,
): Delegations {
  const lenders = lendersByLeg(wiring);
  const blocks = freeBlocks(names);
  const found = new Map<string, SiteDelegation>();
  for (const { rack } of wiring.devices.values()) {
    for (const entry of entriesOf(rack)) {
      const span = asksForPrefix(entry);
      if (span === undefined) continue;
      const key = legKey(rack.name, entry.name.value);
      const network = blocks();
      if (network === undefined) findings.report("not-modelled", span, "so many delegated prefixes are not modelled");
      const reaching = [...(lenders.get(key) ?? []), ...lendersAt(before.get(key), wiring)];
      found.set(key, delegationOf({ span, key, reaching, network, findings }));
    }
  }
  return found;
}

/** What an upstream hands out on a port. */
type Lender = { readonly device: string; readonly entry: HandsOut };

/** Upstreams by the interfaces that their ports reach over the wires, in document order. */
function lendersByLeg(wiring: Wiring): ReadonlyMap<string, readonly Lender[]> {
  const lenders = new Map<string, Lender[]>();
  for (const device of wiring.devices.values()) {
    for (const entry of handedBy(device)) {
      const one = device.interfaces.find(({ name }) => name === entry.port.value);
      if (one === undefined) continue;
      const { interfaces } = extentOf({ interfaces: [{ device, interface: one }], physical: true }, wiring, new Set());
      for (const reached of interfaces) {
        const key = legKey(reached.device, reached.interface);
        lenders.set(key, [...(lenders.get(key) ?? []), { device: device.rack.name, entry }]);
      }
    }
  }
  return lenders;
}

/** What is handed out at a port. */
function lendersAt(at: PortOf | undefined, { devices }: Wiring): readonly Lender[] {
  const device = at && devices.get(at.device);
  if (device === undefined) return [];
  return handedBy(device).flatMap((entry) =>
    entry.port.value === at?.port ? [{ device: device.rack.name, entry }] : [],
  );
}

function handedBy({ rack }: Configured): readonly HandsOut[] {
  return rack.topology.is.value === "upstream" ? (rack.intent?.handsOut?.value ?? []) : [];
}

type Asking = {
  readonly span: Span;
  readonly key: string;
  readonly reaching: readonly Lender[];
  readonly network: bigint | undefined;
  readonly findings: Findings;
};

function delegationOf({ span, key, reaching, network, findings }: Asking): SiteDelegation {
  const origin = writtenAt(span);
  const lender = reaching.find(({ entry }) => entry.delegates !== undefined);
  if (lender?.entry.delegates === undefined || network === undefined) {
    const lacking = lackingAt(span, reaching);
    findings.report("not-delegated", span, `no prefix is delegated to \`${key}\``, {
      also: lacking.span === span ? [] : [{ span: lacking.span, text: "`delegates` is not written here" }],
      about: "anything",
    });
    return { origin, lacking };
  }
  const { value: length, span: written } = lender.entry.delegates;
  const rule = "a prefix for documentation stands for the delegated one";
  return {
    origin,
    granted: {
      block: { value: { family: 6, value: network, length }, origin: defaultAt(written, rule, "RFC 9637 section 3") },
      by: { device: lender.device, port: lender.entry.port.value },
    },
  };
}

/** Where it would be said that a prefix is delegated: at the upstream that is reached, else at who asks in vain. */
function lackingAt(span: Span, [lender]: readonly Lender[]): Origin {
  return lender === undefined
    ? absentAt(span, "an upstream that delegates a prefix")
    : absentAt(lender.entry.port.span, "`delegates`");
}

// -- blocks --------------------------------------------------------------------------------------------------------

const DOCUMENTATION = 0x3fffn << 112n; // 3fff::/20, RFC 9637 section 3
const BLOCKS = 1n << 12n; // /32 prefixes in a /20

/** Hands out one /32 after the other; undefined when there are no more. */
function freeBlocks(names: Names): () => bigint | undefined {
  const taken = writtenPrefixes(names);
  let next = 0n;
  return () => {
    while (++next < BLOCKS) {
      const value = DOCUMENTATION | (next << 96n);
      if (!taken.some((prefix) => prefixesOverlap(prefix, { family: 6, value, length: 32 }))) return value;
    }
    return undefined;
  };
}

/** IPv6 prefixes and addresses that the documents use themselves. */
function writtenPrefixes({ networks, intents }: Names): readonly Prefix[] {
  const ofNetworks = [...networks.values()].flatMap(({ ipv6 }) => ipv6?.value ?? []);
  const told = [...intents.values()];
  const ofUpstreams = told.flatMap(({ handsOut }) => handsOut?.value ?? []).flatMap(({ ipv6 }) => ipv6?.value ?? []);
  const entries = told.flatMap(({ interfaces, legs }) => [...(interfaces?.value ?? []), ...(legs?.value ?? [])]);
  const own = entries.flatMap(({ ipv6 }) => ipv6?.value ?? []);
  return [
    ...ofNetworks.flatMap(({ value }) => (value.by === "prefix" ? [value] : [])),
    ...ofUpstreams,
    ...own.flatMap(({ value }): Prefix[] =>
      value.by === "address" ? [{ family: value.family, value: value.value, length: 128 }] : [],
    ),
  ];
}

// -- networks ------------------------------------------------------------------------------------------------------

/** The names, with every prefix that a network cuts from a block written out; what was not delegated stays as it is. */
export function withDelegations(names: Names, delegations: Delegations, findings: Findings): Names {
  const networks = new Map<string, NetworkEntry>();
  for (const [name, network] of names.networks) {
    const { ipv6 } = network;
    const value = ipv6?.value.map((each) => cutPrefix(each, names, delegations, findings));
    networks.set(name, ipv6 === undefined || value === undefined ? network : { ...network, ipv6: { ...ipv6, value } });
  }
  return { ...names, networks };
}

function cutPrefix(
  written: Located<NetworkPrefix6>,
  names: Names,
  delegations: Delegations,
  findings: Findings,
): Located<NetworkPrefix6> {
  if (written.value.by !== "delegated") return written;
  const { delegated, subnet } = written.value;
  const delegation = delegationNamed(delegated, names, delegations, findings);
  const block = delegation?.granted?.block;
  if (block === undefined) return written;
  const { value, length } = block.value;
  const count = 1n << BigInt(64 - length);
  if (BigInt(subnet.value) < count) {
    const cut = value | (BigInt(subnet.value) << 64n);
    return { value: { by: "prefix", family: 6, value: cut, length: 64 }, span: written.span };
  }
  findings.report("address-outside", subnet.span, `there is no /64 number ${subnet.value} in a /${length}`, {
    also: [{ span: block.origin.span, text: `\`${formatPrefix(block.value)}\` stands for what is delegated here` }],
    notes: [`numbers there are 0 to ${count - 1n}`],
  });
  return written;
}

/** The one delegation that `edge/wan`, or `edge` where only one of its interfaces asks, means. */
function delegationNamed(
  { value: { name, part }, span }: Extract<NetworkPrefix6, { readonly by: "delegated" }>["delegated"],
  names: Names,
  delegations: Delegations,
  findings: Findings,
): SiteDelegation | undefined {
  if (!names.devices.has(name)) {
    findings.unknown({ kind: "device", name, span, candidates: names.devices.keys() });
    return undefined;
  }
  const own = [...delegations].filter(([key]) => key.startsWith(`${name}/`));
  const meant = part === undefined ? own : own.filter(([key]) => key === legKey(name, part));
  const [first, second] = meant;
  if (first !== undefined && second === undefined) return first[1];
  const text = part === undefined ? name : legKey(name, part);
  const listed = own.map(([key]) => `\`${key}\``).join(", ");
  if (first !== undefined) {
    findings.report("ambiguous-leg", span, `several interfaces of \`${name}\` ask for a prefix`, {
      notes: [`they are ${listed}`],
      help: `name one: \`${first[0]}\``,
      about: [name],
    });
  } else {
    findings.report("not-delegated", span, `\`${text}\` asks for no prefix`, {
      help: own.length === 0 ? "write `ipv6: delegated` on the uplink" : `try ${listed}`,
      about: [name],
    });
  }
  return undefined;
}

/** Where a network with no prefix of a family would get one: what was not delegated to it. Undefined: nothing was meant to be. */
export function lackOfDelegation(network: NetworkEntry, delegations: Delegations): Origin | undefined {
  for (const { value, span } of network.ipv6?.value ?? []) {
    if (value.by !== "delegated") continue;
    const { name, part } = value.delegated.value;
    const meant = [...delegations].find(([key]) =>
      part === undefined ? key.startsWith(`${name}/`) : key === legKey(name, part),
    );
    return meant?.[1].lacking ?? writtenAt(span);
  }
  return undefined;
}

/** A granted block with the interface that has it. */
export type Granted = {
  /** Whose it is. */
  readonly device: string;
  /** Its interface. */
  readonly interface: string;
  /** The block. */
  readonly block: Setting<Prefix>;
  /** Who delegates. */
  readonly by: NonNullable<SiteDelegation["granted"]>["by"];
};

/** Every block that was granted, in document order. */
export function grantedOf(delegations: Delegations): readonly Granted[] {
  return [...delegations].flatMap(([key, { granted }]) => {
    const slash = key.indexOf("/"); // a device's name holds none
    return granted === undefined ? [] : [{ device: key.slice(0, slash), interface: key.slice(slash + 1), ...granted }];
  });
}
