/**
 * Who reaches whom at all: between which networks, and from which to the internet, packets get through, whoever asks. One walk for all
 * pairs of a site; what the engines are asked about one pair is asked elsewhere.
 */
import {
  addressKey,
  FAMILY_KEYS,
  normalizeRanges,
  parseAddressSet,
  type Ranges,
  rangesOf,
  rangesOverlap,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import { deviceOf, type Group, internetAddresses, lastName, type Network, type Settled } from "../network/index.ts";
import { type Between, bothAsked, STEP_LIMIT, tellServices } from "../prove/index.ts";
import { type Cell, deviceName, inWords, type OpenTo, type OpenWays, type Unseen } from "../result/index.ts";
import type { Evaluation } from "./evaluation.ts";
import { homesOf, startOf } from "./reach.ts";
import type { World } from "./worlds.ts";

type Ends = {
  /** Networks that begin. */
  readonly from: readonly Group[];
  /** Networks, and the internet, with the addresses that are meant. */
  readonly to: readonly (readonly [Group, Ranges])[];
};

/**
 * From each network all that its packets get to in some world, by name and with what they ask for, in the order of the description: packets of senders that
 * use an address of their own, to stations other than routers, and that need no others before them. Networks whose addresses another one has too are left out;
 * undefined: it takes too many steps.
 */
export function openWaysOf(evaluation: Evaluation): readonly OpenWays[] | undefined {
  const { network } = evaluation;
  const ends = endsOf(network);
  const found = evaluation.worlds().worlds.flatMap((world) => evaluation.between(world, askedIn(network, world, ends)));
  const known = found.flatMap((pairs) => pairs ?? []);
  if (known.length < found.length) return undefined;
  return ends.from.map((from, row) => {
    const to = ends.to.flatMap(([group], column): readonly OpenTo[] => {
      const asked = known.flatMap(({ ways, asked: all }) =>
        ways[row]?.[column] === "open" ? (all[row]?.[column] ?? []) : [],
      );
      if (group === from || asked.length === 0) return [];
      const { services, families } = asked.reduce(bothAsked);
      return [
        { name: lastName(group.id), services: tellServices(services, families.includes(6), families.includes(4)) },
      ];
    });
    return { from: lastName(from.id), to };
  });
}

function endsOf(network: Network): Ends {
  const all = network.groups.filter(({ kind, addresses }) => kind === "network" && addresses.length > 0);
  const networks = all.filter((one) =>
    all.every((other) => other === one || !rangesOverlap(one.addresses, other.addresses)),
  );
  // Nobody in the plan is near the addresses that stand for it.
  const beyond = rangesOf(internetAddresses(network).map(addressKey));
  return {
    from: networks,
    to: [
      ...networks.map((group) => [group, group.addresses] as const),
      ...network.groups.filter(({ kind }) => kind === "internet").map((group) => [group, beyond] as const),
    ],
  };
}

function routersIn({ devices }: Network, { stacks }: Settled): Ranges {
  const routers = new Set(devices.flatMap(({ id, is }) => (is === "router" ? [id] : [])));
  const theirs = stacks.filter(({ stack }) => routers.has(deviceOf(stack)));
  return rangesOf(theirs.flatMap(({ interfaces }) => interfaces.flatMap(({ addresses }) => addresses.map(addressKey))));
}

/**
 * Addresses of prefixes that are nobody's alone, and that a router takes for itself: the first and the last of IPv4 (RFC 1812 section 5.3.5),
 * the first of IPv6 (RFC 4291 section 2.6.1).
 */
function sharedIn(prefixes: Ranges): Ranges {
  return normalizeRanges(
    prefixes.flatMap(([low, high]) => {
      if (high - low < 3n) return [];
      const last = high <= FAMILY_KEYS[4][1] ? [[high, high] as const] : [];
      return [[low, low] as const, ...last];
    }),
  );
}

function askedIn(network: Network, { settled }: World, { from, to }: Ends): Between {
  const starts = from.map((group) => ({
    ...startOf({ group }, network),
    addresses: group.addresses,
    origin: group.origin,
  }));
  // A router has an address in each of its networks, and is none of those who stand there.
  const routers = routersIn(network, settled);
  const aims = to.map(([, addresses]) => subtractRanges(addresses, unionRanges(routers, sharedIn(addresses))));
  return { from: starts, to: aims, limitSteps: STEP_LIMIT };
}

/** Of the ways that are open those that no verdict asks about: neither between the two, nor between hosts, legs or clients of theirs. */
export function unaskedIn(network: Network, open: readonly OpenWays[], cells: readonly Cell[]): readonly Unseen[] {
  const byName = networksByName(network);
  const networksOf = (end: string): readonly string[] => byName.get(end) ?? homesNamed(end, network);
  const asked = new Map<string, Set<string>>();
  for (const { from, to, expect } of cells) {
    for (const each of expect === "unjudged" ? [] : networksOf(from)) {
      const tos = asked.get(each) ?? new Set();
      asked.set(each, tos);
      for (const other of networksOf(to)) tos.add(other);
    }
  }
  return open.flatMap(({ from, to }): readonly Unseen[] => {
    const left = to.filter(({ name }) => asked.get(from)?.has(name) !== true);
    const origin = network.groups.find(({ id, kind }) => kind === "network" && lastName(id) === from)?.origin;
    if (left.length === 0 || origin === undefined) return [];
    const where = `to ${inWords(left.map(({ name, services }) => `${name} (${services})`))}`;
    return [{ kind: "way", name: from, where, origin }];
  });
}

/** Names of networks, and of the internet, by the names that ends of verdicts have. */
function networksByName({ groups }: Network): ReadonlyMap<string, readonly string[]> {
  const byId = new Map(groups.map((group) => [group.id, group]));
  const networks = groups.filter(({ kind }) => kind === "network" || kind === "internet");
  const namesOf = (group: Group): readonly string[] => {
    switch (group.kind) {
      case "network":
      case "internet":
        return [lastName(group.id)];
      case "internet-public":
        return networks.flatMap(({ id, kind }) => (kind === "internet" ? [lastName(id)] : []));
      case "host":
      case "leg":
        return networks.filter((each) => sharesLeg(each, group)).map(({ id }) => lastName(id));
      case "device":
        return [];
      case "set":
        return (group.members ?? []).flatMap((member) => {
          const each = "group" in member ? byId.get(member.group) : undefined;
          return each === undefined ? [] : namesOf(each);
        });
    }
  };
  const clients = networks.flatMap(({ id, standIns }) =>
    standIns.map((device) => [deviceName(device), [lastName(id)]] as const),
  );
  return new Map([...groups.map((group) => [group.id, namesOf(group)] as const), ...clients]);
}

/** Networks of addresses that were written. */
function homesNamed(end: string, network: Network): readonly string[] {
  const addresses = parseAddressSet(end);
  return addresses === undefined ? [] : homesOf(addresses, network).map(({ id }) => lastName(id));
}

function sharesLeg(one: Group, other: Group): boolean {
  return one.interfaces.some((leg) => other.interfaces.includes(leg));
}
