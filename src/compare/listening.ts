/**
 * Packets that get to a device on both sides, and that something on it takes on one side only: a service that it listens for no
 * more, or at another of its addresses. Of no account are echo and errors, which every stack takes, and who says nothing.
 */
import { addressKey, intersectRanges, type Ranges, rangesContain, rangesOf, subtractRanges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import { directoryOf, type Evaluation } from "../evaluate/index.ts";
import {
  type Alternatives,
  type Condition,
  deviceOf,
  type FateClass,
  type Id,
  lastName,
  listeningOf,
  type Match,
  type Network,
  type Service,
  type Settled,
} from "../network/index.ts";
import { boxesWithout } from "../prove/index.ts";
import { type Change, type Decision, deviceName } from "../result/index.ts";
import { type Found, MOST_PIECES } from "./between.ts";
import type { TouchedLines } from "./lines.ts";
import { COMPARED } from "./origin.ts";
import { deviceEnd, devicesOnBoth, endsOf } from "./pairs.ts";
import { beginnersOf, reachOn } from "./reach.ts";
import { type CompareRequest, SIDES, type State, type TurnedSet } from "./states.ts";

/** What gets from one end to another on both sides. */
export type BothReaches = Pick<Found, "pair" | "base" | "head">;

/** A device on both sides, and the packets that it takes there, as they are sent. */
type Listener = { readonly [side in "base" | "head"]: { readonly device: Id; readonly takes: Alternatives } };

/** Packets of each pair that a device takes on one side only. */
export function listenedSets(found: readonly BothReaches[], request: CompareRequest): readonly TurnedSet[] {
  return changedListeners(request).flatMap((listener) => {
    const reaches = reachesOf(listener, found, request);
    return (["newly-allowed", "newly-forbidden"] as const).flatMap((change) =>
      reaches.flatMap((each) => takenOn(change, each, listener)),
    );
  });
}

/** A host is no end of those compared: what is put on its network counts as there. */
function reachesOf(
  { base: { device: old }, head: { device: now } }: Listener,
  found: readonly BothReaches[],
  request: CompareRequest,
): readonly BothReaches[] {
  const to = deviceEnd([old, now], "host", request);
  if (to === undefined) return found;
  return endsOf(request, beginnersOf).map((from) => {
    const pair = { from, to };
    return { pair, base: reachOn("base", pair, request.base), head: reachOn("head", pair, request.head) };
  });
}

function takenOn(change: Change, { pair, base, head }: BothReaches, listener: Listener): readonly TurnedSet[] {
  const { here, there } = SIDES[change];
  const undecided = base.undecided ?? head.undecided;
  if (undecided !== undefined) return [];
  const at = { base: base.delivered.get(listener.base.device), head: head.delivered.get(listener.head.device) };
  const both = productOf(at[here] ?? [], at[there] ?? []);
  const boxes = boxesWithout(productOf(both, listener[here].takes), listener[there].takes, MOST_PIECES);
  const set = { pair, change, kind: "plain", listener: listener[here].device } as const;
  if (boxes === undefined) return [{ ...set, boxes: [], undecided: `more than ${MOST_PIECES} pieces of a difference` }];
  return boxes.length === 0 ? [] : [{ ...set, boxes }];
}

/** What fits both. */
function productOf(some: Alternatives, others: Alternatives): Alternatives {
  return some.flatMap((match) => others.map((other): Match => [...match, ...other]));
}

// -- what a device takes ---------------------------------------------------------------------------------------------

/** Devices on both sides, or replaced, that take something else than before. */
function changedListeners(request: CompareRequest): readonly Listener[] {
  return devicesOnBoth(request).flatMap(([old, now]) => {
    const [before, after] = [takenBy(old, request.base.evaluation), takenBy(now, request.head.evaluation)];
    if (wordsOf(before) === wordsOf(after)) return [];
    return [{ base: { device: old, takes: before }, head: { device: now, takes: after } }];
  });
}

function wordsOf(matches: Alternatives): string {
  return JSON.stringify(
    matches.map((match) => match.map(({ origin: _, ...condition }) => condition)),
    (_, value: unknown) => (typeof value === "bigint" ? `${value}` : value),
  );
}

/** Limited broadcast: RFC 919 section 7. */
const BROADCAST = addressKey({ family: 4, value: 0xffff_ffffn });
/** Protocols of packets that every stack takes by itself: ICMP and ICMPv6. */
const BY_ITSELF: Ranges = [
  [1n, 1n],
  [58n, 58n],
];
const OTHERS: Condition = {
  field: "protocol",
  within: subtractRanges([[0n, 255n]], BY_ITSELF),
  origin: COMPARED,
};

function takenBy(device: Id, evaluation: Evaluation): Alternatives {
  const { network } = evaluation;
  const stack = directoryOf(network).stackAt.get(device);
  if (stack === undefined) return [];
  const services = network.services.filter((service) => service.stack === stack.id);
  return evaluation.worlds().worlds.flatMap(({ settled }) => {
    const own = addressesAt(settled, (_, at) => at === stack.id);
    return services.flatMap((service) =>
      listeningOf(service).flatMap(({ when, boundTo, answers }) => {
        if (!answers) return [];
        const bound = boundTo === "all" ? own : addressesAt(settled, (leg) => boundTo.includes(leg));
        const heard = boundTo === "all" ? [...bound, BROADCAST] : bound;
        if (heard.length === 0) return [];
        const direct = when.map((match) => [...match, OTHERS, within("destination", rangesOf(heard))]);
        return [...direct, ...when.flatMap((match) => ledTo(rangesOf(bound), match, network))];
      }),
    );
  });
}

function addressesAt(settled: Settled, isMeant: (leg: Id, stack: Id) => boolean): readonly bigint[] {
  return settled.stacks.flatMap(({ stack, interfaces }) =>
    interfaces.flatMap((leg) => (isMeant(leg.interface, stack) ? leg.addresses.map(addressKey) : [])),
  );
}

function within(field: "destination" | "destinationPort", ranges: Ranges): Condition {
  return { field, within: ranges, origin: COMPARED };
}

/** What forwards lead to some addresses so that it fits when it comes there, as it is sent. */
function ledTo(bound: Ranges, match: Match, { tables }: Network): Alternatives {
  const rules = tables.flatMap((table) =>
    table.kind === "translate" && lastName(table.id) === "dest" ? table.rules : [],
  );
  return rules.flatMap(({ when, action }): Alternatives => {
    if (action.do !== "rewrite" || typeof action.to === "string") return [];
    if (intersectRanges(action.to, bound).length === 0) return [];
    const { ports } = action;
    const isPort = (condition: Condition): boolean => condition.field === "destinationPort";
    const isMet = match.every(
      (condition) =>
        ports === undefined ||
        !isPort(condition) ||
        !("within" in condition) ||
        intersectRanges(condition.within, ports).length > 0,
    );
    const left = ports === undefined ? match : match.filter((condition) => !isPort(condition));
    if (!isMet) return [];
    // By which interface a packet came, what gets to the device tells already.
    return when.map((each) => [...each.filter((condition) => "within" in condition), ...left, OTHERS]);
  });
}

// -- in words --------------------------------------------------------------------------------------------------------

/** A sentence on what is special about packets that a device takes on one side only. */
export function tellListener(device: Id, change: Change, there: State): string {
  const name = deviceName(device);
  if (change === "newly-forbidden") return `it still gets to ${name}, where nothing listens for it`;
  const any = there.evaluation.network.services.some(
    (service) => isAssumed(service) && deviceOf(service.stack) === device,
  );
  return any ? `${name} is taken to listen for it` : `it got to ${name} before, where nothing listened for it`;
}

function isAssumed(service: Service): boolean {
  return service.kind === "listen" && service.assumed;
}

/** The lines that say what a device listens for, on both sides; changed ones first. */
export function listenerDecisions(
  { witness }: FateClass,
  device: Id,
  { on, off }: { readonly [side in "on" | "off"]: { readonly side: Decision["side"]; readonly state: State } },
  touched: TouchedLines,
): readonly Decision[] {
  const numbers = new Map<string, bigint>(witness.numbers);
  const isFor = (match: Match): boolean =>
    match.every((condition) => {
      const value = numbers.get(condition.field);
      return value === undefined || !("within" in condition) || rangesContain(condition.within, value);
    });
  const [takes, misses] = [on.state, off.state].map((state) => servicesAt(device, state));
  const meant = takes?.find((service) => listeningOf(service).some(({ when }) => when.some(isFor)));
  const other = misses?.find(({ id }) => id === meant?.id);
  const isBound = other !== undefined && listeningOf(other).some(({ when }) => when.some(isFor));
  const lineOf = ({ side, state }: typeof on, lines: readonly Origin[], text: string): readonly Decision[] => {
    const place = directoryOf(state.evaluation.network).devices.get(device)?.origin;
    const all = [...lines, ...(place === undefined ? [] : [place])];
    const origin = all.find((line) => touched.concerns(line)) ?? all[0];
    return origin === undefined ? [] : [{ side, origin, text, changed: touched.concerns(origin) }];
  };
  const written = ({ state }: typeof on, service: Service | undefined): readonly Origin[] => [
    ...(service === undefined || !isBound ? [] : listenLines(service, device, state)),
    ...(service === undefined ? [] : wordsFor(service, isFor)),
    ...(service === undefined ? servesLine(device, state) : [service.origin]),
  ];
  const name = deviceName(device);
  const told = [
    ...lineOf(on, written(on, meant), `${name} listens for it`),
    ...lineOf(off, written(off, other), `nothing on ${name} listens for it`),
  ];
  return told.toSorted((a, b) => Number(b.changed) - Number(a.changed));
}

function servicesAt(device: Id, { evaluation: { network } }: State): readonly Service[] {
  return network.services.filter(({ stack }) => deviceOf(stack) === device);
}

/** The words of a service that such a packet fits. */
function wordsFor(service: Service, isFor: (match: Match) => boolean): readonly Origin[] {
  return listeningOf(service).flatMap(({ when }) => when.filter(isFor).flatMap((match) => match[0]?.origin ?? []));
}

function servesLine(device: Id, { site }: State): readonly Origin[] {
  const serves = site.devices.find(({ name }) => name === deviceName(device))?.serves;
  return serves === undefined ? [] : [serves.origin];
}

/** Where it is written on which interfaces a service listens: the list as a whole. */
function listenLines({ kind, origin }: Service, device: Id, { site }: State): readonly Origin[] {
  const { admin, resolver, serves } = site.devices.find(({ name }) => name === deviceName(device)) ?? {};
  if (kind === "resolve") return resolver === undefined ? [] : [resolver.listen.origin];
  const bound = [...(admin === undefined ? [] : [admin]), ...(serves?.value ?? [])];
  return bound.filter((each) => each.origin === origin).map(({ listen }) => listen.origin);
}
