/**
 * What is otherwise after a change beside reach: networks that only have another name, and devices that stand in another network
 * or have another address or gateway. What gets from network to network tells nothing of them, since others stand there, too.
 */
import { type Address, addressKey, formatAddress, formatPrefix, isLinkLocal, keyAddress } from "../address/index.ts";
import type { Evaluation } from "../evaluate/index.ts";
import { deviceOf, type Id, lastName, type Route } from "../network/index.ts";
import { deviceName, inWords } from "../result/index.ts";
import type { Site, SiteNetwork } from "../site/index.ts";
import type { CompareRequest } from "./states.ts";

/** Networks of the base by name, with the name that each has in the head where nothing but that is another one. */
export function renamedNetworks(base: Site, head: Site): ReadonlyMap<string, string> {
  const gone = withoutNamesake(base.networks, head.networks);
  const come = withoutNamesake(head.networks, base.networks);
  return new Map(
    [...gone].flatMap(([word, old]) => {
      const now = come.get(word);
      return old === undefined || now === undefined ? [] : [[old.name, now.name] as const];
    }),
  );
}

/** By VLAN and prefixes; undefined where several have the same. */
function withoutNamesake(
  networks: readonly SiteNetwork[],
  others: readonly SiteNetwork[],
): ReadonlyMap<string, SiteNetwork | undefined> {
  const names = new Set(others.map(({ name }) => name));
  const found = new Map<string, SiteNetwork | undefined>();
  for (const network of networks) {
    if (names.has(network.name) || network.prefixes.length === 0) continue;
    const prefixes = network.prefixes.map(({ value }) => formatPrefix(value));
    const word = JSON.stringify([network.vlan?.value ?? 0, prefixes]);
    found.set(word, found.has(word) ? undefined : network);
  }
  return found;
}

/** A sentence each: renamed networks, then devices that are on both sides or replaced, in the order of the head. */
export function tellAlongside(
  { base, head, replaced }: CompareRequest,
  renamed: ReadonlyMap<string, string>,
): readonly string[] {
  const standings = bothStandings({ base, head, replaced }, renamed);
  return [
    ...[...renamed].map(([old, now]) => `network \`${old}\` is called \`${now}\` now`),
    ...standings.flatMap(({ leg, old, now }) => moved(legName(leg, deviceName(deviceOf(leg))), old, now)),
    ...tellGateways(standings),
  ];
}

/** Where interfaces stand that are on both sides, or those of a replaced device and its successor. */
function bothStandings(
  { base, head, replaced }: Pick<CompareRequest, "base" | "head" | "replaced">,
  renamed: ReadonlyMap<string, string>,
): readonly { readonly leg: Id; readonly old: Standing; readonly now: Standing }[] {
  const [before, after] = [standingsOf(base.evaluation, renamed), standingsOf(head.evaluation, new Map())];
  const named = new Map(
    [...before].map(([leg, standing]) => [legName(leg, deviceName(deviceOf(leg))), { leg, standing }]),
  );
  // Whoever keeps its name is its own successor; of several that become one it is the first.
  const successors = [...replaced].reverse().map(([old, now]) => [now, old] as const);
  const earlier = new Map(successors.filter(([now]) => base.site.devices.every(({ name }) => name !== now)));
  return [...after].flatMap(([leg, now]) => {
    const device = deviceName(deviceOf(leg));
    const found = named.get(legName(leg, earlier.get(device) ?? device));
    return found === undefined ? [] : [{ leg, old: found.standing, now }];
  });
}

/** Where an interface stands: its networks, and its addresses and gateways in whatever is left open, but for link-local ones. */
type Standing = {
  readonly networks: readonly string[];
  readonly addresses: readonly string[];
  readonly gateways: readonly string[];
};

function standingsOf(evaluation: Evaluation, renamed: ReadonlyMap<string, string>): ReadonlyMap<Id, Standing> {
  const { groups, stacks } = evaluation.network;
  const { worlds } = evaluation.worlds();
  const addresses = keysBy(
    worlds.flatMap(({ settled }) =>
      settled.stacks.flatMap(({ interfaces }) =>
        interfaces.flatMap((leg) => leg.addresses.map((address) => ({ leg: leg.interface, address }))),
      ),
    ),
  );
  const gateways = keysBy(worlds.flatMap(({ settled }) => settled.stacks.flatMap(({ routes }) => gatewaysIn(routes))));
  const networks = groups.filter(({ kind }) => kind === "network");
  const legs = stacks.flatMap(({ interfaces }) => interfaces.map(({ id }) => id));
  return new Map(
    legs.map((leg): [Id, Standing] => {
      const own = networks.filter(({ interfaces }) => interfaces.includes(leg)).map(({ id }) => deviceName(id));
      return [
        leg,
        {
          networks: own.map((name) => renamed.get(name) ?? name),
          addresses: inOrder(addresses.get(leg)),
          gateways: inOrder(gateways.get(leg)),
        },
      ];
    }),
  );
}

type LegAddress = { readonly leg: Id; readonly address: Address };

function gatewaysIn(routes: readonly Route[]): readonly LegAddress[] {
  return routes.flatMap(({ family, length, action }) =>
    length > 0 || action.do !== "forward"
      ? []
      : action.hops.flatMap(({ egress, via }) =>
          via === undefined ? [] : [{ leg: egress, address: { family, value: via } }],
        ),
  );
}

function keysBy(all: readonly LegAddress[]): ReadonlyMap<Id, ReadonlySet<bigint>> {
  const known = new Map<Id, Set<bigint>>();
  for (const { leg, address } of all) {
    const keys = known.get(leg) ?? new Set();
    known.set(leg, keys);
    if (!isLinkLocal(address)) keys.add(addressKey(address));
  }
  return known;
}

function inOrder(keys: ReadonlySet<bigint> = new Set()): readonly string[] {
  return [...keys].sort((a, b) => (a < b ? -1 : 1)).map((key) => formatAddress(keyAddress(key)));
}

function legName(leg: Id, device: string): string {
  return `${device}/${lastName(leg)}`;
}

const MOST_NAMED = 3;

/** A sentence on those who stand in the network that they stood in and send what is for elsewhere to another gateway; those of one change together. */
function tellGateways(
  standings: readonly { readonly leg: Id; readonly old: Standing; readonly now: Standing }[],
): readonly string[] {
  const changed = new Map<string, string[]>();
  for (const { leg, old, now } of standings) {
    const [had, has] = [old, now].map(({ gateways }) => gateways.join(" and "));
    // In another network it is another one anyhow, and who has no address has none.
    const isElsewhere = old.networks.join() !== now.networks.join() && has !== "" && had !== "";
    const isBoth = (old.addresses.length === 0) === (now.addresses.length === 0);
    if (had === has || isElsewhere || !isBoth) continue;
    const told = has === "" ? `no gateway now, not ${had}` : `gateway ${has} now, not ${had === "" ? "none" : had}`;
    changed.set(told, [...(changed.get(told) ?? []), legName(leg, deviceName(deviceOf(leg)))]);
  }
  return [...changed].map(([told, legs]) => {
    const left = legs.length - MOST_NAMED;
    const named = [...legs.slice(0, MOST_NAMED), ...(left > 0 ? [`${left} more`] : [])];
    return `${inWords(named)} ${named.length === 1 ? "has" : "have"} ${told}`;
  });
}

function moved(leg: string, old: Standing, now: Standing): readonly string[] {
  const [was, is] = [old.networks, now.networks].map((networks) => someOf(networks, "no network"));
  const place = was === is ? [] : [`stands in ${is} now, not in ${was}`];
  const said = [...place, ...tellAddresses(old.addresses, now.addresses)];
  return said.length === 0 ? [] : [`${leg} ${said.join(", and ")}`];
}

/** Those that came and those that went; what an interface keeps is no change. */
function tellAddresses(old: readonly string[], now: readonly string[]): readonly string[] {
  const come = now.filter((each) => !old.includes(each));
  const gone = old.filter((each) => !now.includes(each));
  if (come.length + gone.length === 0) return [];
  if (come.length === 0 && now.length > 0) return [`has ${someOf(gone, "")} no more`];
  if (gone.length === 0 && old.length > 0) return [`has ${someOf(come, "")} now, too`];
  return [`has ${someOf(come, "no address")} now, not ${someOf(gone, "no address")}`];
}

function someOf(words: readonly string[], none: string): string {
  return words.length === 0 ? none : words.join(" and ");
}
