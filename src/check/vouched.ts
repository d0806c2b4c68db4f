/**
 * Hosts that are trusted to be alone at their cables, as a `blocked` sees them: who is not asked because of it, and the lines
 * that say so.
 */
import { addressKey } from "../address/index.ts";
import { directoryOf, sendersOf } from "../evaluate/index.ts";
import {
  deviceOf,
  type FateClass,
  type Group,
  type Id,
  lastName,
  type Network,
  type Settled,
} from "../network/index.ts";
import { eachOnce, packetOf, type Support, tellVouched } from "../result/index.ts";
import type { End } from "./ends.ts";
import { type Source, sourcesOf } from "./exchange.ts";

/** What is taken of each place that is left out of a group: a sentence with the line that says it, by place. */
export function vouchedFor({ vouched }: Group): readonly Support[] {
  return eachOnce(
    vouched.map(({ at, origin }) => {
      const hosts = vouched.filter((each) => each.at === at).map(({ device }) => device);
      return { origin, text: tellVouched([...new Set(hosts)], at), ground: "assumed" };
    }),
  );
}

/**
 * What to do about a packet with a tag of its sender's choice that is sent where one host is plugged in; undefined: it bears none, or
 * whoever else may be there is not asked about.
 */
export function helpAtCable(sent: FateClass, from: Group, network: Network): string | undefined {
  const { sentAt } = sent;
  if (packetOf(sent).tag === undefined || from.kind === "host" || from.kind === "leg") return undefined;
  const far = portsBeyond(sentAt, network);
  const [host, ...others] = new Set(far.map(deviceOf));
  if (host === undefined || others.length > 0 || directoryOf(network).devices.get(host)?.is !== "host")
    return undefined;
  const ports = far.map(lastName).join(", ");
  return `whoever unplugs ${host} has every network of ${sentAt}: carry fewer there or, where nobody can, say so, \`${host}: { trusted: [${ports}] }\``;
}

/** What to know of a packet that claims more than the trusted host is which is named as its sender; undefined: there is nothing to know. */
export function noteOfNamed(
  sent: FateClass,
  { group: { kind, begins } }: End,
  network: Network,
  settled: Settled,
): string | undefined {
  const [stack] = begins.map((party) => party.stack);
  if ((kind !== "host" && kind !== "leg") || stack === undefined || isHonest(sent, stack, network, settled))
    return undefined;
  const device = deviceOf(stack);
  const isTrusted = network.groups.some(({ vouched }) =>
    vouched.some((each) => each.device === device && each.at === sent.sentAt),
  );
  return isTrusted
    ? `that ${device} is trusted counts where its networks are asked; who names it asks what it might send, whatever source and tag it makes up`
    : undefined;
}

/** Whether it is sent from an address of a leg, in a frame as that leg sends them. */
function isHonest({ witness }: FateClass, stack: Id, { stacks }: Network, settled: Settled): boolean {
  const numbers = new Map(witness.numbers);
  const [source, vlan = 0n] = [numbers.get("source"), numbers.get("vlan")];
  const tag = vlan === 0n ? undefined : Number(vlan - TAGGED);
  const rest = settled.stacks.find((each) => each.stack === stack)?.interfaces ?? [];
  const legs = stacks.find(({ id }) => id === stack)?.interfaces ?? [];
  return legs.some(
    (leg) =>
      leg.vlan === tag &&
      rest.some(({ interface: id, addresses }) => id === leg.id && addresses.some((own) => addressKey(own) === source)),
  );
}

/** What the number of a tag's VLAN is more by in packets (`network/match.ts`). */
const TAGGED = 4096n;

/** Ports at the other ends of the cables of a port or bond. */
function portsBeyond(at: Id, { bonds, links }: Network): readonly Id[] {
  const own = bonds.find(({ id }) => id === at)?.members ?? [at];
  return own.flatMap((port) =>
    links.flatMap(({ kind, onDemand, ends }) =>
      kind === "cable" && !onDemand && ends.includes(port) ? ends.filter((end) => end !== port) : [],
    ),
  );
}

/** The sources of an end but those that nobody has to suspect. */
export function askedSources(end: End, network: Network): Source[] {
  return sourcesOf({ ...end, group: { ...end.group, begins: sendersOf(end.group, network) } }, network);
}
