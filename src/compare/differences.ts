/**
 * From a set of packets to what a reader is told: who, whom, on what, with a packet of the set that is asked about again
 * on both sides, so that the witness is one of the difference and both deciding lines are known.
 */
import {
  FAMILY_KEYS,
  formatAddressSet,
  formatRanges,
  intersectRanges,
  isEmptyRanges,
  PUBLIC_KEYS,
  type Ranges,
  rangesOf,
  subtractRanges,
  unionRanges,
} from "../address/index.ts";
import {
  type AskedPackets,
  askedOf,
  type Condition,
  deviceOf,
  type FateClass,
  type Group,
  type PathStep,
  type Witness,
} from "../network/index.ts";
import { type Box, matchOf, SOURCE, tellServices } from "../prove/index.ts";
import { type Difference, deviceName, nameAt, packetOf, tellPath } from "../result/index.ts";
import { type Cover, coverOf } from "./cover.ts";
import { decisionsFor, type OtherFate, type Side } from "./decisions.ts";
import { forwardAt } from "./forwards.ts";
import type { TouchedLines } from "./lines.ts";
import { listenerDecisions, tellListener } from "./listening.ts";
import { tellLiving } from "./live-on.ts";
import { COMPARED } from "./origin.ts";
import { countsAt, isPlain, proofsOf, targetsOf } from "./reach.ts";
import { type CompareRequest, type Pair, type PairEnd, SIDES, type State, type TurnedSet } from "./states.ts";
import { type BothSides, steadyAddresses } from "./vacated.ts";
import { type AddressNames, familiesIn, isDual, tellAddresses } from "./words.ts";

type Context = CompareRequest & {
  readonly touched: TouchedLines;
  readonly addresses: BothSides;
};

/** All differences in one set of packets. */
export function tellDifferences(found: TurnedSet, context: Context): readonly Difference[] {
  const own = ownSources(found.pair, SIDES[found.change].here, context.addresses);
  const { honest, forged } = split(found.boxes, own);
  const covers = coverOf(honest);
  const others = covers.length > 0 ? [] : coverOf(forged);
  return [
    ...covers.flatMap((cover) => tell(found, cover, [], context)),
    ...others.flatMap((cover) => tell(found, cover, ["only with a source address that is not the sender's"], context)),
  ];
}

/**
 * Addresses that senders of an end have: its own, link-local ones, and none at all; those that nobody alone has are no sender's, and one of the
 * device that is sent to is its own.
 */
function ownSources({ from, to }: Pair, side: Side["side"], names: BothSides): Ranges {
  const [sender, target, { shared }] = [from[side], to[side], names[side]];
  const addressesOf = (group: Group): Ranges =>
    group.kind === "internet" ? PUBLIC_KEYS : withLent(group, names[side]).addresses;
  const others = target?.kind === "host" || target?.kind === "device" ? addressesOf(target) : [];
  return unionRanges(subtractRanges(sender ? addressesOf(sender) : [], unionRanges(shared, others)), EVERYBODYS);
}

/** A device with the addresses that it was lent, but link-local ones; others as they are. */
function withLent(group: Group, { owners }: AddressNames): Group {
  if (group.kind !== "host" && group.kind !== "device") return group;
  const lent = [...owners].flatMap(([key, owner]) => (owner === group.id ? [key] : []));
  return { ...group, addresses: unionRanges(group.addresses, subtractRanges(rangesOf(lent), EVERYBODYS)) };
}

/** Link-local addresses, and none at all: every sender of a network has them, besides those of its own. */
const EVERYBODYS = everybodysAddresses();

function everybodysAddresses(): Ranges {
  const [four, six] = [FAMILY_KEYS[4][0], FAMILY_KEYS[6][0]];
  const linkLocal = six + (0xfe80n << 112n);
  const unspecified = unionRanges([[four, four]], [[six, six]]);
  return unionRanges(unspecified, [[linkLocal, linkLocal + (1n << 118n) - 1n]]);
}

function split(
  boxes: readonly Box[],
  own: Ranges,
): { readonly honest: readonly Box[]; readonly forged: readonly Box[] } {
  const withSources = (cut: (all: Ranges) => Ranges) =>
    boxes.flatMap(({ numbers, names }): Box[] => {
      const sources = cut(numbers[SOURCE] ?? []);
      return sources.length === 0 ? [] : [{ numbers: numbers.with(SOURCE, sources), names }];
    });
  return {
    honest: withSources((all) => intersectRanges(all, own)),
    forged: withSources((all) => subtractRanges(all, own)),
  };
}

function tell(found: TurnedSet, cover: Cover, notes: readonly string[], context: Context): readonly Difference[] {
  const { change, kind, pair } = found;
  const { here, there } = SIDES[change];
  const [on, off] = [context[here], context[there]];
  const [from, to] = [pair.from[here], pair.to[here]];
  if (from === undefined || to === undefined) return [];
  const asked = cover.boxes.map(({ numbers }) => askedOf(matchOf(numbers, COMPARED)));
  const passingFrom = (start: Group): FateClass | undefined => {
    const reached = proofsOf(on.evaluation, start, to, asked)
      .flatMap((proof) => proof.reached)
      .filter((found) => countsAt(found, [start, to], on.evaluation.network));
    // What is merged with others for want of an example has none of its kind.
    return reached.find((found) => isPlain(found) === (kind === "plain")) ?? reached[0];
  };
  const passing = passingFrom(from);
  if (passing === undefined) return [];
  const vouched = pair.from[there]?.vouched.filter(({ at }) => at === passing.sentAt) ?? [];
  const isAskedThere = vouched.length === 0 && found.listener === undefined;
  const other = isAskedThere ? fateOn(off, passing, pair.from[there], pair.to[there]) : undefined;
  const passes = { on: sideOf(on, here), found: passing };
  const stops = { on: sideOf(off, there), vouched, ...(other === undefined ? {} : other) };
  const packet = packetOf(passing);
  const words = wordsOf(cover, pair, here, context.addresses);
  const isClosed = change === "newly-forbidden" && other !== undefined;
  const living = isClosed ? tellLiving(passes, { ...other, on: stops.on }) : undefined;
  return [
    {
      id: `${change}#${pair.from.id}#${pair.to.id}`,
      change,
      ...words,
      kind,
      notes: [
        ...notesOf(found, isOnlyTagged(passing, from, passingFrom)),
        ...notes,
        ...tellLed(passing, on, context.addresses[here]),
        ...(found.listener === undefined ? [] : [tellListener(found.listener, change, off)]),
        ...(living === undefined ? [] : [living]),
      ],
      decidedBy:
        found.listener === undefined
          ? decisionsFor({ passes, stops }, context.touched)
          : listenerDecisions(
              passing,
              found.listener,
              { on: { side: here, state: on }, off: { side: there, state: off } },
              context.touched,
            ),
      witness: packet,
      path: tellPath(passing.path, on.names),
    },
  ];
}

function sideOf({ evaluation: { network }, names }: State, side: Side["side"]): Side {
  return { side, network, names };
}

/**
 * What became of the same packet on the other side: of the one that enters where this one does, in a frame with the same tag, it
 * is told whether it stops or gets elsewhere, else what stops such packets wherever they enter, or on their way to another end;
 * undefined: one of the ends does not exist there.
 */
function fateOn(
  state: State,
  passing: FateClass,
  from: Group | undefined,
  to: Group | undefined,
): OtherFate | undefined {
  if (from === undefined || to === undefined) return undefined;
  const { witness, sentAt } = passing;
  // The station may have to be another one there, as the tags may.
  const match = askedOf(
    witness.numbers.flatMap(([field, value]): Condition[] =>
      field === "sourceHardware" ? [] : [{ field, within: [[value, value]], origin: COMPARED }],
    ),
  );
  const entrances = from.entrances.filter(({ at }) => at === sentAt);
  const there: Group = entrances.length === 0 ? from : { ...from, entrances, begins: [] };
  const sameTag = (found: FateClass): boolean => tagOf(found.witness) === tagOf(witness);
  const meant = { asked: [match], isMeant: sameTag, passing };
  return (
    stoppedAt(state, [there, to], meant) ??
    gotElsewhere(state, [there, to], meant) ??
    // What gets to one host only is stopped nowhere on its way to another place.
    (to.kind === "host" ? undefined : stoppedAt(state, [from, to], { ...meant, isMeant: () => true })) ??
    stoppedBefore(state, [there, to], meant)
  );
}

/** Where it was on its way to another end: what cannot get to this one at all is looked at by no proof of it. */
function stoppedBefore(state: State, [from, to]: Ends, meant: Meant): OtherFate | undefined {
  for (const other of targetsOf(state.evaluation.network)) {
    const found = other.id === to.id ? undefined : stoppedAt(state, [from, other], meant);
    if (found !== undefined) return found;
  }
  return undefined;
}

function tagOf({ numbers }: Witness): bigint {
  return new Map(numbers).get("vlan") ?? 0n;
}

type Ends = readonly [from: Group, to: Group];
type Meant = {
  readonly asked: AskedPackets;
  readonly isMeant: (found: FateClass) => boolean;
  /** The packet where it gets through. */
  readonly passing: FateClass;
};

/**
 * The one that stays longest on the way of the packet that gets through, of equals the one that goes least far beyond it, then the nearest:
 * whom else a frame is sent to is no matter of the change.
 */
function stoppedAt({ evaluation }: State, [from, to]: Ends, { asked, isMeant, passing }: Meant): OtherFate | undefined {
  for (const { nearest, stopped } of proofsOf(evaluation, from, to, asked)) {
    const meant = [...(nearest === undefined ? [] : [nearest]), ...stopped].filter(isMeant);
    const ways = meant.map((found) => ({ found, shared: sharedSteps(found, passing) }));
    const [first] = ways.toSorted((a, b) => b.shared - a.shared || a.found.path.length - b.found.path.length);
    if (first !== undefined) return { found: first.found };
  }
  return undefined;
}

function sharedSteps({ path }: FateClass, { path: other }: FateClass): number {
  const isSame = ({ at, did, detail }: PathStep, step?: PathStep) =>
    step !== undefined && at === step.at && did === step.did && detail === step.detail;
  const parts = path.findIndex((step, index) => !isSame(step, other[index]));
  return parts < 0 ? path.length : parts;
}

/** Another end that it gets to. */
function gotElsewhere({ evaluation }: State, [from, to]: Ends, { asked, isMeant }: Meant): OtherFate | undefined {
  const { network } = evaluation;
  for (const other of targetsOf(network)) {
    if (other.id === from.id || other.id === to.id) continue;
    const reached = proofsOf(evaluation, from, other, asked).flatMap((proof) => proof.reached);
    const found = reached.find((each) => isPlain(each) && isMeant(each) && countsAt(each, [from, other], network));
    if (found !== undefined) return { found, elsewhere: other.id };
  }
  return undefined;
}

// -- in words --------------------------------------------------------------------------------------------------------

type Words = Pick<Difference, "from" | "to" | "services">;

/** What is said of whoever takes a lease in a network, beside its name. */
const CLIENT = "whoever takes a lease";

function wordsOf(
  { sources, destinations, services }: Cover,
  { from: { isClient = false, ...from }, to }: Pair,
  here: Side["side"],
  names: BothSides,
): Words {
  const [sender, target] = [from[here], to[here]];
  if (sender === undefined || target === undefined) throw new Error("packets without ends");
  const own = subtractRanges(sources, EVERYBODYS);
  const families = familiesIn(destinations);
  const speakBoth = [sender, target].every((end) => isDual(withLent(end, names[here])));
  const only = speakBoth && families.length === 1 ? families[0] : undefined;
  const beside = (end: PairEnd): AddressNames => ({
    ...names[here],
    spare: unionRanges(names[here].spare, ownOnBoth(end, names)),
  });
  const nobodys = to.isHome ? subtractRanges(target.addresses, steadyAddresses(names)) : [];
  const around = beside(from);
  return {
    from: [
      {
        name: from.id,
        part: isClient ? CLIENT : tellAddresses(isEmptyRanges(own) ? sources : own, asOne(sender), beside(to)),
      },
    ],
    to: [
      {
        name: to.id,
        part: tellAddresses(destinations, target, { ...around, spare: unionRanges(around.spare, nobodys) }, only),
      },
    ],
    services: tellServices(services, families.includes(6), families.includes(4)),
  };
}

/** A device that sends, told as a host: of one version of IP all its addresses are the whole of it. */
function asOne(sender: Group): Group {
  return sender.kind === "device" ? { ...sender, kind: "host" } : sender;
}

/** Addresses of a host: that it is not among those whom it reaches, nor they it, needs no words. */
function ownOnBoth({ base, head }: PairEnd, { base: before, head: after }: BothSides): Ranges {
  const own = (group: Group | undefined, known: AddressNames): Ranges =>
    group?.kind === "host" ? withLent(group, known).addresses : [];
  return unionRanges(own(base, before), own(head, after));
}

/** Where forwards on its way lead the packet that is shown: what it is sent to may be any address. */
function tellLed({ path }: FateClass, { evaluation, names }: State, { owners }: AddressNames): readonly string[] {
  return path.flatMap((step) => {
    const action = forwardAt(step, evaluation.network)?.action;
    if (action?.do !== "rewrite" || typeof action.to === "string") return [];
    const { to, ports } = action;
    const [key] = to[0] ?? [];
    const whom = (key === undefined ? undefined : owners.get(key)) ?? formatAddressSet(to).join(", ");
    const port = ports === undefined ? "" : `, port ${formatRanges(ports)}`;
    return [
      `${nameAt(step.origin, names) ?? deviceName(deviceOf(step.at))} leads the packet that is shown to ${whom}${port}`,
    ];
  });
}

/** Places where a station is plugged in that are asked one by one for a frame without a tag; beyond them nothing is claimed. */
const PLACES_ASKED = 8;

/** Whether such packets get through with a tag alone: where a station is plugged in is shown before others, whatever tags it takes. */
function isOnlyTagged(shown: FateClass, from: Group, passingFrom: (start: Group) => FateClass | undefined): boolean {
  let start = from;
  let found: FateClass | undefined = shown;
  for (let asked = 0; asked < PLACES_ASKED; asked++) {
    if (found === undefined) return true;
    if (packetOf(found).tag === undefined) return false;
    const { sentAt } = found;
    const entrances = start.entrances.filter(({ at }) => at !== sentAt);
    // Where no place is left at all its hosts would be asked instead.
    if (entrances.length === 0) return true;
    start = { ...start, entrances };
    found = passingFrom(start);
  }
  return false;
}

function notesOf({ pair, change }: TurnedSet, isTagged: boolean): readonly string[] {
  const { there } = SIDES[change];
  const missing = [pair.from, pair.to].filter((end) => end[there] === undefined).map(({ id }) => id);
  const word = change === "newly-allowed" ? "is new" : "is gone";
  return [
    ...[...new Set(missing)].map((id) => `${id} ${word}`),
    ...(isTagged ? ["only in frames with a tag that the sender chooses"] : []),
  ];
}
