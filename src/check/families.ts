/**
 * The two versions of IP as far as assertions tell them apart: which of them are asked, who is meant to speak one, and over which
 * one an exchange fails that holds by the other. A client with both falls back, so one is enough unless `family` says otherwise;
 * that the other one is dead is said.
 */
import {
  type Address,
  FAMILY_KEYS,
  type Family,
  isEcho,
  isLinkLocal,
  isPublic,
  keyAddress,
  rangesOverlap,
  type Service,
} from "../address/index.ts";
import type { AskedFamily } from "../document/index.ts";
import { directoryOf, type Evaluation, settledStack, type World } from "../evaluate/index.ts";
import { deviceOf, type Group, type Id, type Party, type Stack } from "../network/index.ts";
import { type Cell, deviceName } from "../result/index.ts";
import type { BindingFailure } from "../simulate/index.ts";
import type { Destination, Source } from "./exchange.ts";

const BOTH = [4, 6] as const;
/** What brings an address of a version. */
const AWAITED = { 4: "lease", 6: "advertisement" } as const;

/** The version that alone is asked; undefined: both. */
export function onlyFamily(asked: AskedFamily | undefined): Family | undefined {
  if (asked === "ipv4") return 4;
  return asked === "ipv6" ? 6 : undefined;
}

/** How a cell says which version alone was asked; empty: none was. */
export function cellFamily(only: Family | undefined): Pick<Cell, "family"> {
  return only === undefined ? {} : { family: `ipv${only}` };
}

/** The versions over each of which an exchange must hold; `undefined`: over one of them, whichever it is. */
export function familiesAsked(asked: AskedFamily | undefined): readonly (Family | undefined)[] {
  return asked === "each" ? BOTH : [onlyFamily(asked)];
}

/** Whether a service is one of a version: errors and neighbour discovery of ICMP are, echoes have their like (RFC 792, RFC 4443). */
export function isServiceOf(service: Service, family: Family): boolean {
  const { protocol } = service;
  return isEcho(service) || (protocol !== 1 && protocol !== 58) || (protocol === 1) === (family === 4);
}

/** The version of addresses that were written for an end; undefined: none were. */
export function writtenFamily({ address, within }: Pick<Destination, "address" | "within">): Family | undefined {
  const [run] = within ?? [];
  return address?.family ?? (run === undefined ? undefined : keyAddress(run[0]).family);
}

// -- who is meant to speak one -------------------------------------------------------------------------------------

/** Whether one of these interfaces has an address of a version that was written, or is to get one. */
export function isMeantToSpeak({ stack, interfaces }: Party, family: Family, evaluation: Evaluation): boolean {
  return legsOf(directoryOf(evaluation.network).stacks.get(stack), interfaces).some(
    ({ id, addresses, awaits }) =>
      addresses.some((address) => address.family === family && !isLinkLocal(address)) ||
      (awaits.some((each) => each.from === AWAITED[family]) && (family === 4 || isWhereIpv6Is(id, evaluation))),
  );
}

/**
 * Clients wait for advertisements wherever they are; they are to hear one where the network, or the provider, has IPv6. A network that
 * was not delegated its prefix is still to have one.
 */
function isWhereIpv6Is(leg: Id, { network: { groups, stacks }, footprint }: Evaluation): boolean {
  const homes = groups.filter(
    ({ kind, begins, standIns }) =>
      kind === "network" &&
      (standIns.includes(deviceOf(leg)) || begins.some(({ interfaces }) => interfaces.includes(leg))),
  );
  for (const { id } of homes) footprint.groups.add(id);
  if (homes.length > 0)
    return homes.some((home) => home.lacking !== undefined || rangesOverlap(home.addresses, [FAMILY_KEYS[6]]));
  const beyond = stacks.filter(({ answersFor }) => answersFor === "everywhere");
  for (const { id } of beyond) footprint.stack(id);
  return beyond.some(({ interfaces }) =>
    interfaces.some(({ addresses }) => addresses.some((each) => each.family === 6 && !isLinkLocal(each))),
  );
}

/** Whether packets of a version can be for a group at all: it owns such addresses, or stands where any packet may pass. */
export function isReachableOver(group: Group, family: Family, evaluation: Evaluation): boolean {
  if (group.segments.length > 0 || group.upstreams.length > 0) return true;
  if (rangesOverlap(group.addresses, [FAMILY_KEYS[family]])) return true;
  const legs = new Set(group.interfaces);
  return evaluation.network.stacks.some(
    (stack) =>
      stack.interfaces.some(({ id, speaks6 }) => family === 6 && speaks6 && legs.has(id)) ||
      isMeantToSpeak({ stack: stack.id, interfaces: group.interfaces }, family, evaluation),
  );
}

function legsOf(stack: Stack | undefined, interfaces: readonly Id[]): Stack["interfaces"] {
  return stack?.interfaces.filter(({ id }) => interfaces.includes(id)) ?? [];
}

// -- over which one it fails ---------------------------------------------------------------------------------------

/** One pair of ends in one world. */
type Pair = {
  readonly world: World;
  readonly source: Source;
  readonly destination: Destination;
  readonly evaluation: Evaluation;
};

/** Why an end has no address of a version though it is told to get one; undefined: it has one, or nobody told it. */
export function missingLease(
  family: Family,
  { world, source, destination, evaluation }: Pair,
): BindingFailure | undefined {
  const ends = partiesOf(source, destination);
  for (const leg of ends.flatMap(({ interfaces }) => interfaces)) evaluation.footprint.leases.add(leg);
  const bare = ends.filter((end) => isBareEnd(end, family, world));
  return world.failures.find(
    (failure) => isFailureOf(failure, family) && bare.some(({ interfaces }) => interfaces.includes(failure.interface)),
  );
}

function partiesOf(source: Source, { party }: Destination): readonly Party[] {
  return party === undefined ? [source] : [source, party];
}

/** What became of an address, a sentence fragment: "got no address: its pool has none left". */
export function tellLack({ holds, text }: BindingFailure): string {
  return `${holds === true ? "cannot use its address" : "got no address"}: ${text}`;
}

/** Whether an interface waits in vain for an address of a version. */
export function isFailureOf({ awaited }: BindingFailure, family: Family): boolean {
  return awaited === AWAITED[family];
}

/**
 * Why there is nothing over a version on which nobody could be asked: who was to get an address of it, and got none. Undefined where
 * one of both ends is not meant to have one. Unique local addresses are not meant for the internet (RFC 4193 section 4.1).
 */
export function lackOver(family: Family, pair: Pair): string | undefined {
  const { source, destination, evaluation } = pair;
  const written = writtenFamily(destination) ?? writtenFamily(source);
  if (written !== undefined) return undefined;
  if (!partiesOf(source, destination).every((end) => isMeantToSpeak(end, family, evaluation))) return undefined;
  const failure = missingLease(family, pair);
  if (failure === undefined) return undefined;
  const who = source.interfaces.includes(failure.interface) ? "" : `${deviceName(failure.interface)} `;
  return `${who}${tellLack(failure)}`;
}

/** Whether whoever asks has an address of a version that is good enough for the other end. */
export function isMeantFor(family: Family, { world, source, destination }: Omit<Pair, "evaluation">): boolean {
  const isInternet = destination.party === undefined && destination.address === undefined;
  if (family === 4 || !isInternet) return true;
  return addressesAt(source, world).some((address) => address.family === 6 && isPublic(address));
}

/** Whether an end has no address of a version. */
export function isBareEnd(end: Party, family: Family, world: World): boolean {
  return !addressesAt(end, world).some((address) => address.family === family);
}

function addressesAt({ stack, interfaces }: Party, { settled }: World): readonly Address[] {
  const legs = settledStack(settled, stack)?.interfaces.filter((leg) => interfaces.includes(leg.interface)) ?? [];
  return legs.flatMap(({ addresses }) => addresses.filter((address) => !isLinkLocal(address)));
}
