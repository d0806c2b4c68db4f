/**
 * Who stands in networks. What gets from network to network tells nothing of one of those who stand there: others may still
 * get by, and whoever plugs something in sends by whichever router he likes, whatever a host has in its routes. So each
 * device is an end of its own: what it reaches as itself, by its own routes, addresses and leases, and what reaches a host; and
 * so is whoever takes a lease in a network. What is told of networks already is not told of those in them again.
 */
import {
  addressKey,
  FAMILY_KEYS,
  intersectRanges,
  knownPrefix,
  prefixKeys,
  type Ranges,
  rangesEqual,
  rangesOf,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import { directoryOf, type Evaluation, Footprint, guestLinksOf } from "../evaluate/index.ts";
import type { Alternatives, Group } from "../network/index.ts";
import { type Box, boxesWithout, DESTINATION, SOURCE } from "../prove/index.ts";
import type { Change } from "../result/index.ts";
import { busyPairs, compared, type Found, MOST_PIECES, reachOf } from "./between.ts";
import { matchesOf } from "./origin.ts";
import { deviceEnd, devicesOnBoth, endsOf } from "./pairs.ts";
import { beginnersOf, type Reach, targetsOf } from "./reach.ts";
import {
  type CompareRequest,
  type MemberEnd,
  type Pair,
  type PairEnd,
  SIDES,
  type State,
  type TurnedSet,
} from "./states.ts";
import type { Touched } from "./untouched.ts";
import { steadyAddresses, withoutVacated } from "./vacated.ts";
import { addressNamesOf } from "./words.ts";

/** A pair of which one end is a member. */
type MemberPair = {
  readonly pair: Pair;
  /** The field in which the member's own address stands. */
  readonly own: "source" | "destination";
  /** Its addresses on both sides. */
  readonly keys: BothKeys;
};

type BothKeys = { readonly [side in "base" | "head"]: Ranges };

/** What is known of networks. */
type Networks = {
  /** What gets from each end to each other. */
  readonly between: readonly Found[];
  /** What of that is turned. */
  readonly told: readonly TurnedSet[];
  /** What changed. */
  readonly touched: Touched;
};

/** Packets that begin at a member, or get to a host, on one side only. @throws EnginesDisagree */
export function memberSets(request: CompareRequest, { between, told, touched }: Networks): readonly TurnedSet[] {
  if (touched.none) return [];
  const pairs = memberPairs(request, between, touched);
  const found = pairs.map((each) => ({ ...each, found: foundFor(each, request, touched) }));
  const plain = found.map((each) => ({ each, sets: compared(each.found, "plain") }));
  const isBusy = busyPairs([...told, ...plain.flatMap(({ sets }) => sets)]);
  const quiet = found.filter(({ pair }) => !isBusy(pair));
  const answers = quiet.map((each) => ({ each, sets: compared(each.found, "answers") }));
  const all = [...plain, ...answers];
  const [base, head] = [addressNamesOf(request.base.evaluation), addressNamesOf(request.head.evaluation)];
  const there = intersectRanges(ROUTED, steadyAddresses({ base, head }));
  const ownOf = (own: MemberPair["own"], known: readonly TurnedSet[]): readonly TurnedSet[] => {
    const meant = all.filter(({ each }) => each.own === own);
    const sets = meant.flatMap((one) => one.sets.flatMap((set) => asItself(set, one.each, { known, there })));
    return withoutVacated(
      sets,
      found.map((each) => each.found),
      request,
    );
  };
  const arriving = ownOf("destination", told);
  // Where nobody can tell of networks, it says nothing that neither can anybody of those in them.
  const open = between.some(({ undecided }) => undecided !== undefined) ? [] : found;
  return [
    // Of a network that reaches a host those who stand there need not be told of.
    ...ownOf("source", [...told, ...arriving]),
    ...arriving,
    ...open.flatMap(({ pair, found: { undecided } }): TurnedSet[] =>
      undecided === undefined ? [] : [{ pair, change: "newly-forbidden", kind: "plain", boxes: [], undecided }],
    ),
  ];
}

/** Whether a set is of one of those who stand in networks, and not of what is listened for there. */
export function isOfMember({ pair: { from, to }, listener }: TurnedSet): boolean {
  const isOne = ({ base, head }: PairEnd, kinds: readonly Group["kind"][]): boolean =>
    [base, head].some((group) => group !== undefined && kinds.includes(group.kind));
  return listener === undefined && (isOne(from, ["host", "device"]) || isOne(to, ["host"]));
}

/** What gets through whatever address the member has, where that is another one than before. */
function foundFor({ pair, own, keys }: MemberPair, request: CompareRequest, touched: Touched): Found {
  const found = reachOf(pair, request, touched);
  if (found.isSame || rangesEqual(keys.base, keys.head)) return found;
  const without = (all: Alternatives): Alternatives => all.map((match) => match.filter(({ field }) => field !== own));
  const whatever = (reach: Reach): Reach => ({
    ...reach,
    plain: without(reach.plain),
    answers: without(reach.answers),
  });
  return { ...found, base: whatever(found.base), head: whatever(found.head) };
}

/** What is told elsewhere, and addresses that somebody has on both sides. */
type Around = { readonly known: readonly TurnedSet[]; readonly there: Ranges };

/** The part of a set that the member sends, or is sent, itself, and that is told of no network. */
function asItself(set: TurnedSet, { pair, own, keys }: MemberPair, { known, there }: Around): readonly TurnedSet[] {
  if (set.undecided !== undefined) return [set];
  const { here } = SIDES[set.change];
  const [at, far] = own === "source" ? [SOURCE, DESTINATION] : [DESTINATION, SOURCE];
  // In a network where it stands itself who came or went is told of him.
  const meant = pair.to.isHome === true ? there : own === "source" ? ROUTED : EVERY;
  // Of itself it says nothing, nor who could have claimed the address that it has on the other side.
  const others = subtractRanges(meant, unionRanges(keys.base, keys.head));
  const real = set.boxes.flatMap((box) => withOnly(box, at, keys[here])).flatMap((box) => withOnly(box, far, others));
  const left = boxesWithout(matchesOf(real), matchesOf(toldBetween(pair, set.change, known)), MOST_PIECES) ?? real;
  return left.length === 0 ? [] : [{ ...set, boxes: left }];
}

function withOnly({ numbers, names }: Box, at: number, keys: Ranges): readonly Box[] {
  const left = intersectRanges(numbers[at] ?? [], keys);
  return left.length === 0 ? [] : [{ numbers: numbers.with(at, left), names }];
}

const EVERY: Ranges = [FAMILY_KEYS[4], FAMILY_KEYS[6]];

/** What is more than a matter of one link: no link-local addresses, no groups, no limited broadcast (RFC 919 section 7). */
const ROUTED: Ranges = (["224.0.0.0/4", "255.255.255.255/32", "fe80::/10", "ff00::/8"] as const).reduce<Ranges>(
  (left, text) => subtractRanges(left, [prefixKeys(knownPrefix(text))]),
  EVERY,
);

/** What is told between the other end and networks. */
function toldBetween({ from, to }: Pair, change: Change, told: readonly TurnedSet[]): readonly Box[] {
  const same = told.filter(
    ({ pair, change: which }) =>
      which === change &&
      (pair.from.id === from.id || pair.to.id === to.id || (to.isHome === true && pair.from.id === to.id)),
  );
  return same.flatMap(({ boxes }) => boxes);
}

// -- who they are ----------------------------------------------------------------------------------------------------

/** Pairs of a member and another end that the change can matter to. `between`: what gets from network to network. */
function memberPairs(request: CompareRequest, between: readonly Found[], touched: Touched): readonly MemberPair[] {
  const [targets, beginners] = [endsOf(request, targetsOf), endsOf(request, beginnersOf)];
  const managed = new Set(targetsOf(request.head.evaluation.network).map(({ id }) => id));
  const isQuiet = quietIn(request, targets, touched);
  // Of several that become one the first is it.
  const named = new Map(
    devicesOnBoth(request)
      .toReversed()
      .map(([old, now]) => [now, old]),
  );
  const devices = [...named].toReversed().flatMap(([now, old]): readonly MemberPair[] => {
    const names = [old, now] as const;
    const host = deviceEnd(names, "host", request);
    const device = managed.has(now) ? deviceEnd(names, "device", request) : undefined;
    const end = host ?? device;
    if (end === undefined) return [];
    const [keys, quiet] = [keysOf(end, request), isQuiet(end)];
    const arriving = host === undefined ? [] : beginners.filter((from) => !quiet || !isSameTo(from, host, between));
    return [
      ...(quiet ? [] : sentBy(end, targets, keys)),
      ...arriving.flatMap((from): MemberPair[] => {
        const others = withoutOwn(from, end);
        return others === undefined ? [] : [{ pair: { from: others, to: end }, own: "destination", keys }];
      }),
    ];
  });
  const clients = clientsOf(request).filter((end) => !isQuiet(end));
  const all = [...devices, ...clients.flatMap((end) => sentBy(end, targets, keysOf(end, request)))];
  return all.filter((each) => !isTrivial(each));
}

function sentBy(end: MemberEnd, targets: readonly PairEnd[], keys: BothKeys): readonly MemberPair[] {
  return targets
    .filter(({ head }) => head?.id !== end.head.id)
    .map((to) => ({ pair: { from: asSender(end), to: asMeantBy(end, to) }, own: "source", keys }));
}

/** Of a network where a member stands itself those who are there: whatever it sends is put on some wire of it. */
function asMeantBy(end: MemberEnd, to: PairEnd): PairEnd {
  if (!standsOnEither(end, to)) return to;
  const { base, head, ...named } = to;
  return {
    ...named,
    isHome: true,
    ...(base === undefined ? {} : { base: { ...base, segments: [] } }),
    ...(head === undefined ? {} : { head: { ...head, segments: [] } }),
  };
}

/** Whatever somebody else may send by its cable is told of the network. */
function asSender(end: MemberEnd): MemberEnd {
  return { ...end, base: { ...end.base, entrances: [] }, head: { ...end.head, entrances: [] } };
}

/** An end without the places where a host is plugged in itself; undefined: on one of the sides it has no others. */
function withoutOwn(end: PairEnd, host: MemberEnd): PairEnd | undefined {
  const others = (group: Group, { entrances: own }: Group): Group => ({
    ...group,
    entrances: group.entrances.filter(({ at }) => own.every((each) => each.at !== at)),
  });
  const { base, head, ...named } = end;
  const [before, after] = [base && others(base, host.base), head && others(head, host.head)];
  const isLeft = (group: Group | undefined, now: Group | undefined) =>
    !group?.entrances.length || now?.entrances.length;
  if (!isLeft(base, before) || !isLeft(head, after)) return undefined;
  return {
    ...named,
    ...(before === undefined ? {} : { base: before }),
    ...(after === undefined ? {} : { head: after }),
  };
}

/**
 * Whether the change matters to nothing that a member sends, whomever it is for: one question instead of one for each end. No
 * segment counts as arriving, so that every packet is followed as far as it gets.
 */
function quietIn(
  request: CompareRequest,
  targets: readonly PairEnd[],
  touched: Touched,
): (member: MemberEnd) => boolean {
  const meant = new Footprint();
  for (const { id } of targets.flatMap(({ base, head }) => [base ?? [], head ?? []].flat())) meant.groups.add(id);
  if (touched.changes.meet(meant)) return () => false;
  const { groups, stacks } = request.base.evaluation.network;
  const parties = stacks.map(({ id, interfaces }) => ({ stack: id, interfaces: interfaces.map((leg) => leg.id) }));
  return (member) => {
    const everybody: Group = {
      ...member.base,
      id: "~everybody",
      kind: "set",
      parties,
      addresses: EVERY,
      interfaces: parties.flatMap(({ interfaces }) => interfaces),
      segments: [],
      upstreams: groups.flatMap(({ upstreams }) => upstreams),
    };
    const found = reachOf({ from: asSender(member), to: bothSides(everybody) }, request, touched);
    return found.isSame && found.base.undecided === undefined;
  };
}

function bothSides(group: Group): MemberEnd {
  return { id: group.id, base: group, head: group };
}

/** Whether nothing matters to what gets from an end to those networks where a host stands: then it gets to the host as before. */
function isSameTo({ id }: PairEnd, host: MemberEnd, between: readonly Found[]): boolean {
  const here = between.filter(({ pair: { from, to } }) => from.id === id && standsOnEither(host, to));
  return here.length > 0 && here.every(({ isSame }) => isSame);
}

/** Networks whose leases somebody could take on both sides: whoever was just plugged in there, or joined by radio. */
function clientsOf(request: CompareRequest): readonly MemberEnd[] {
  return endsOf(request, ({ groups }) => groups.filter(({ kind }) => kind === "network")).flatMap((network) => {
    const [base, head] = [clientIn(network.base, request.base), clientIn(network.head, request.head)];
    return base === undefined || head === undefined ? [] : [{ id: network.id, base, head, isClient: true }];
  });
}

function clientIn(network: Group | undefined, { evaluation }: State): Group | undefined {
  const stack = directoryOf(evaluation.network).stackAt.get(network?.standIns[0] ?? "");
  if (network === undefined || stack === undefined) return undefined;
  const interfaces = stack.interfaces.map(({ id }) => id);
  const client = { ...network, id: stack.device, begins: [{ stack: stack.id, interfaces }], entrances: [], interfaces };
  return { ...client, kind: "host", vouched: [], addresses: addressesOf(client, evaluation) };
}

function keysOf({ base, head }: MemberEnd, request: CompareRequest): BothKeys {
  return { base: addressesOf(base, request.base.evaluation), head: addressesOf(head, request.head.evaluation) };
}

/** Addresses of an end's interfaces in whatever is left open, without link-local ones. */
function addressesOf(end: Group, evaluation: Evaluation): Ranges {
  const legs = new Set(end.interfaces);
  const { worlds } = evaluation.worlds(guestLinksOf(end, evaluation.network));
  const rests = worlds.flatMap(({ settled }) => settled.stacks.flatMap(({ interfaces }) => interfaces));
  return intersectRanges(
    rangesOf(rests.flatMap(({ interface: leg, addresses }) => (legs.has(leg) ? addresses.map(addressKey) : []))),
    ROUTED,
  );
}

/** That a member reaches those in a network where it stands itself, and that is new, or gone, says nothing. */
function isTrivial({ pair: { from, to }, own }: MemberPair): boolean {
  const [member, other] = own === "source" ? [from, to] : [to, from];
  return (other.base === undefined || other.head === undefined) && standsOnEither(member, other);
}

/** Whether a member stands in a network before the change or after it. */
function standsOnEither(member: PairEnd, network: PairEnd): boolean {
  if (member.isClient === true) return member.id === network.id;
  return (["base", "head"] as const).some(
    (side) =>
      network[side]?.kind === "network" &&
      member[side]?.interfaces.some((leg) => network[side]?.interfaces.includes(leg)) === true,
  );
}
