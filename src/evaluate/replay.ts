/**
 * Every answer of the prover is replayed: the witness of each of its classes is sent through the simulator in the
 * same run, and must have the fate that the class claims. A disagreement is a fault of the tool, never a verdict.
 *
 * A frame floods, so the simulator sees many ends of one witness: the claimed one must be among those of the packet
 * itself. A class that claims to be stopped is also wrong when its witness reaches the target anywhere.
 *
 * What needs other packets before it comes with several examples, since earlier packets may do more than begin the
 * connections that it rests on: the same one may take the port that a translator would keep, unless the packet itself was sent
 * before. The first one that has its fate is told; where none has, a connection is reset on a part of its way (`resetting.ts`), or
 * some time passes between the packets (`waiting.ts`), in so many tries as are stated here. Of what is stopped, a class of which none
 * has it is left out, unless one gets to the target, and told apart where more tries would be needed; of what gets there, it is a
 * disagreement, or nobody can tell where more tries would be needed.
 */
import { keyAddress, rangesContain } from "../address/index.ts";
import { isSameSpan } from "../diagnose/index.ts";
import {
  type Alternatives,
  type Condition,
  type Fate,
  type FateClass,
  type FateExample,
  type Id,
  type Network,
  NO_NOTES,
  type Notes,
} from "../network/index.ts";
import type { Proof, Target } from "../prove/index.ts";
import {
  type Answering,
  createSimulation,
  type Injection,
  type SimulationOptions,
  type StandIn,
} from "../simulate/index.ts";
import { type IpPacket, PROTOCOL_ICMP, PROTOCOL_ICMPV6 } from "../wire/index.ts";
import { type Aim, aimAt, reaches } from "./aim.ts";
import { holdersOf, isOwned } from "./holders.ts";
import { inAllOrders } from "./orders.ts";
import { formsOf } from "./quoted.ts";
import { resetting } from "./resetting.ts";
import { waiting } from "./waiting.ts";
import { packetOfWitness } from "./witness-frame.ts";
import { sendStage } from "./witness-stage.ts";
import type { World } from "./worlds.ts";

/** At most so many times examples with time between their packets are sent for one answer. */
const MOST_TIMED = 2_000;

/** A class whose witness met another fate in the simulator. */
export type Disagreement = {
  /** What the prover says. */
  readonly claimed: FateClass;
  /** Every fate that the simulator saw of it. */
  readonly seen: readonly Fate[];
};

/** What is proved of a single place where packets are sent. */
export type Alone = (at: Id) => Proof;

/** A proof whose examples were sent. */
export type Replayed = {
  /** Classes of which no example has the fate. */
  readonly disagreements: readonly Disagreement[];
  /** How many classes were looked at. */
  readonly replayed: number;
  /** The proof with the examples that were seen. */
  readonly proof: Proof;
  /** Classes of what is stopped that are not in it: they need other packets before them, and none was seen to end so. */
  readonly leftOut: readonly FateClass[];
  /** Those among them that more tries might have shown: their packets may well end so. */
  readonly untried: readonly FateClass[];
  /** Classes of what gets there that are not in it: none was seen to get there in as many tries as are made. */
  readonly unknown: readonly FateClass[];
};

/**
 * Sends the witness of every class and compares; `alone` is asked where a proof tells of another place only. Who listens decides
 * what becomes of connections that go before a witness: `notes` is told whom that was asked. After `mostTimed` tries with time
 * between packets the answer is undecided, if something was to get there of which none of them was seen to.
 */
export function replay(
  network: Network,
  world: World,
  proof: Proof,
  target: Target,
  alone: Alone = () => proof,
  notes: Pick<Notes, "listeners"> = NO_NOTES,
  mostTimed: number = MOST_TIMED,
): Replayed {
  const ground = { network, world, proof, target, alone, notes, aim: aimAt(world.settled, target) };
  const followed = new Map<FateClass, Followed>();
  for (const list of [proof.reached, proof.permitted, proof.stopped])
    for (const claimed of list) if (claimed.fate.end !== "unknown") followed.set(claimed, follow(ground, claimed));
  const tries = { left: mostTimed };
  for (const [claimed, earlier] of needingTime(proof, followed)) {
    const later = followInTime(ground, claimed, tries);
    followed.set(claimed, { ...later, gets: earlier.gets || later.gets });
  }
  const reached = seenOf(proof.reached, followed);
  const permitted = seenOf(proof.permitted, followed);
  const stopped = seenOf(proof.stopped, followed);
  const getting = [...twinless(reached), ...twinless(permitted)];
  const unknown = getting.filter((claimed) => followed.get(claimed)?.isCut === true);
  const unseen = [...getting, ...stopped.unseen];
  const leftOut = stopped.unseen.filter((claimed) => claimed.before.length > 0 && followed.get(claimed)?.gets !== true);
  const wrong = unseen.filter((claimed) => !leftOut.includes(claimed) && !unknown.includes(claimed));
  const { nearest, ...rest } = proof;
  const next = nearest && (followed.get(nearest)?.seen ?? (leftOut.includes(nearest) ? stopped.seen[0] : nearest));
  const seen = {
    ...rest,
    reached: withTwins(reached),
    permitted: withTwins(permitted),
    stopped: stopped.seen,
    ...undecidedFor(unknown, proof, mostTimed),
  };
  return {
    disagreements: wrong.map((claimed) => ({ claimed, seen: followed.get(claimed)?.fates ?? [] })),
    replayed: followed.size,
    proof: next === undefined ? seen : { ...seen, nearest: next },
    leftOut,
    untried: leftOut.filter((claimed) => followed.get(claimed)?.isCut === true),
    unknown,
  };
}

/** What is told of classes that no more tries were made for. */
export const UNTRIED: string = `taken from the proof, since to show it would take more than ${MOST_TIMED} tries`;

/** What nobody can tell is told, unless something else was undecided before. */
function undecidedFor([first]: readonly FateClass[], { undecided }: Proof, most: number): Pick<Proof, "undecided"> {
  if (first === undefined || undecided !== undefined) return {};
  const note = `packets that get there only after others are forgotten: more than ${most} ways to send them`;
  return { undecided: { note, origin: first.fate.origin } };
}

/** What was seen of a class. */
type Followed = {
  /** The class with the example that has its fate; absent: none has. */
  readonly seen?: FateClass;
  /** Every fate of its last example. */
  readonly fates: readonly Fate[];
  /** An example gets to the target, and nothing says that such packets do. */
  readonly gets: boolean;
  /** More tries would have been needed. */
  readonly isCut?: true;
};

/** How many times more something may be sent. */
type Tries = { left: number };

type Ground = {
  readonly network: Network;
  readonly world: World;
  readonly proof: Proof;
  readonly target: Target;
  readonly alone: Alone;
  readonly notes: Pick<Notes, "listeners">;
  readonly aim: Aim;
};

/** Classes that need earlier packets, and of which nothing was seen; what is told with others needs no example. */
function needingTime(
  proof: Proof,
  followed: ReadonlyMap<FateClass, Followed>,
): readonly (readonly [claimed: FateClass, earlier: Followed])[] {
  const [reached, permitted] = [seenOf(proof.reached, followed), seenOf(proof.permitted, followed)];
  const { unseen } = seenOf(proof.stopped, followed);
  return [...twinless(reached), ...twinless(permitted), ...unseen].flatMap((claimed) => {
    const earlier = followed.get(claimed);
    return claimed.before.length === 0 || earlier === undefined ? [] : [[claimed, earlier] as const];
  });
}

/** Sends the examples of a class, one after the other, until one has its fate. */
function follow(ground: Ground, { spare = [], ...claimed }: FateClass): Followed {
  return followEach(ground, claimed, inAllOrders([claimed, ...spare]));
}

/** The same where a connection is reset on a part of its way, then with time between the packets. */
function followInTime(ground: Ground, { spare = [], ...claimed }: FateClass, tries: Tries): Followed {
  // The stacks that the proof looked at: no others are on the way.
  const looked = new Set(ground.proof.looked);
  const stacks = ground.network.stacks.filter(({ id }) => looked.has(id));
  const inOrders = [...inAllOrders([claimed, ...spare])];
  const reset = followEach(ground, claimed, resetting(inOrders), tries);
  if (reset.seen !== undefined) return reset;
  const later = followEach(ground, claimed, waiting(stacks, inOrders), tries);
  return { ...later, gets: reset.gets || later.gets };
}

function followEach(
  ground: Ground,
  claimed: FateClass,
  examples: Iterable<FateExample>,
  tries: Tries = { left: Number.POSITIVE_INFINITY },
): Followed {
  let [fates, gets]: [readonly Fate[], boolean] = [[], false];
  for (const example of examples) {
    const one = { ...claimed, ...example };
    for (const habit of HABITS) {
      if (habit.answering !== undefined && one.before.length === 0) continue;
      if (habit.quotesNothing === true && !isIcmp(one)) continue;
      if (tries.left-- <= 0) return { fates, gets, isCut: true };
      // Where stations are known a frame goes straight to one; what only a flood shows is looked for in a flood.
      const injection = sendWitness(ground, one, habit);
      if (agrees(one, injection, ground.aim) || isOneOfCopies(ground, one, injection))
        return { seen: one, fates, gets };
      fates = fatesOf(injection);
      gets ||= reaches(injection, ground.aim) && !isTold(ground, one);
    }
  }
  return { fates, gets };
}

/** Frames of several places that come together are followed as those of the first one. */
function isOneOfCopies({ proof, alone }: Ground, one: FateClass, injection: Injection): boolean {
  return meetsItsEnd(one, injection) && (isShared(one, proof) || isShared(one, alone(one.sentAt)));
}

type SeenOf = { readonly seen: readonly FateClass[]; readonly unseen: readonly FateClass[] };

function seenOf(classes: readonly FateClass[], followed: ReadonlyMap<FateClass, Followed>): SeenOf {
  const isKnown = (each: FateClass): boolean => !followed.has(each) || followed.get(each)?.seen !== undefined;
  return {
    seen: classes.flatMap((each) => (isKnown(each) ? [followed.get(each)?.seen ?? each] : [])),
    unseen: classes.filter((each) => !isKnown(each)),
  };
}

/** What needs no earlier packets and has the same fate: what has no example is told with it. */
function twinOf({ fate, before }: FateClass, classes: readonly FateClass[]): FateClass | undefined {
  if (before.length === 0) return undefined;
  return classes.find((each) => each.before.length === 0 && each.fate.at === fate.at && sameEnd(each.fate, fate));
}

function twinless({ seen, unseen }: SeenOf): readonly FateClass[] {
  return unseen.filter((each) => twinOf(each, seen) === undefined);
}

function withTwins({ seen, unseen }: SeenOf): readonly FateClass[] {
  return seen.map((each) => {
    const others = unseen.filter((other) => twinOf(other, seen) === each).flatMap(({ packets }) => packets);
    return others.length === 0 ? each : { ...each, others: [...(each.others ?? []), ...others] };
  });
}

/**
 * What bridges know of stations: where each is, nothing at first, nothing at all; and who answers what comes before: all,
 * or whoever sends it says no word to the answer (a reset would end what it opened), or the witness is there first, even
 * before what a rule answers; and an error that is about none of these.
 */
const HABITS: readonly Habit[] = [
  { learned: true },
  {},
  { forgets: true },
  { learned: true, answering: "nobody" },
  { answering: "nobody" },
  { learned: true, answering: "once" },
  { answering: "once" },
  { answering: "once", ownersAnswer: true },
  { learned: true, answering: "late" },
  { answering: "late" },
  { learned: true, answering: "all", quotesNothing: true },
];

type Habit = Pick<SimulationOptions, "learned" | "forgets"> & {
  readonly answering?: Answering;
  /** Nobody stands in for an address that somebody has: its owner answers. */
  readonly ownersAnswer?: boolean;
  /** An error is about none of the packets before it, which are there for another reason: a tracker knows nothing of it. */
  readonly quotesNothing?: boolean;
};

/** Sends what comes before, then the witness itself, in one simulation. */
function sendWitness(
  { network, world, target, notes: { listeners } }: Ground,
  claimed: FateClass,
  habit: Habit,
): Injection {
  const simulation = createSimulation(network, world.settled, {
    picks: [...world.picks, ...claimed.picks],
    standIns: standInsFor(network, world, claimed, { target, habit }),
    learned: habit.learned === true,
    forgets: habit.forgets === true,
    ...(claimed.before.length === 0 ? {} : { notes: { ...NO_NOTES, listeners } }),
  });
  const { stacks } = holdersOf(world.settled);
  const forms: IpPacket[] = [];
  for (const earlier of claimed.before) {
    const { answering = "all" } = habit;
    simulation.wait(earlier.waits ?? 0);
    const { injection } = sendStage(earlier, { simulation, stacks, forms, answering });
    forms.push(...formsOf(packetOfWitness(earlier.witness), injection));
  }
  simulation.wait(claimed.waits ?? 0);
  return sendStage(claimed, { simulation, stacks, forms: habit.quotesNothing === true ? [] : forms }).injection;
}

function isIcmp({ witness }: FateClass): boolean {
  const protocol = new Map(witness.numbers).get("protocol");
  return protocol === BigInt(PROTOCOL_ICMP) || protocol === BigInt(PROTOCOL_ICMPV6);
}

type Replaying = { readonly target: Target; readonly habit: Habit };

/** Addresses that nobody owns yet, as sent or as translated, are taken to exist: the proof must outlive the next host. */
function standInsFor(
  network: Network,
  { settled }: World,
  claimed: FateClass,
  { target, habit }: Replaying,
): readonly StandIn[] {
  if (claimed.fate.end !== "on-segment") return [];
  const sent = claimed.witness.numbers.flatMap(([field, value]) => (field === "destination" ? [value] : []));
  // An answer may be turned back to whatever source the first packet bore.
  const first = claimed.before.flatMap(({ witness }) => witness.numbers);
  const asked = first.flatMap(([field, value]) => (field === "source" ? [value] : []));
  const holders = holdersOf(settled);
  const keys = new Set(
    [...sent, ...asked, ...newDestinations(network)].filter(
      (key) => rangesContain(target.addresses, key) && !(habit.ownersAnswer === true && isOwned(holders, key)),
    ),
  );
  if (keys.size === 0) return [];
  // Whoever dialled in has nobody in the session but the peer; to an upstream a new customer may come.
  const legs = network.stacks.flatMap(({ interfaces, answersFor }) =>
    interfaces.flatMap(({ id, session }) => (session === undefined || answersFor === "everywhere" ? [id] : [])),
  );
  return [...keys].flatMap((key) => legs.map((leg) => ({ interface: leg, address: keyAddress(key) })));
}

/** First addresses that translations write. */
function newDestinations(network: Network): readonly bigint[] {
  return network.tables.flatMap((table) =>
    table.kind !== "translate"
      ? []
      : table.rules.flatMap(({ action }) =>
          action.do === "rewrite" && typeof action.to !== "string" ? action.to.map(([low]) => low) : [],
        ),
  );
}

function fatesOf(injection: Injection): Fate[] {
  return injection.endings.filter((ending) => ending.descent === "sent").map((ending) => ending.fate);
}

function agrees(claimed: FateClass, injection: Injection, aim: Aim): boolean {
  const seen = fatesOf(injection);
  const reached = reaches(injection, aim);
  const { fate } = claimed;
  if (fate.end === "on-segment") return reached || isPut(injection, fate.at);
  if (fate.end === "delivered") return reached;
  return !reached && seen.some((each) => sameEnd(each, fate));
}

/** One copy of what is sent to all ends while another reaches the target, and a class of its own says so. */
function isShared(one: FateClass, { reached, permitted }: Proof): boolean {
  const plain = [...reached, ...permitted].filter(({ before }) => before.length === 0);
  return plain.some((other) => other.sentAt === one.sentAt && fits(one, other.packets));
}

/** Whether a class says that such packets get to the target. */
function isTold({ proof, alone }: Ground, one: FateClass): boolean {
  return [proof, alone(one.sentAt)].some(({ reached, permitted }) =>
    [...reached, ...permitted].some(({ packets, others = [] }) => fits(one, packets) || fits(one, others)),
  );
}

function fits({ witness }: FateClass, packets: Alternatives): boolean {
  const numbers = new Map(witness.numbers);
  const holds = (condition: Condition): boolean => {
    const value = "within" in condition ? numbers.get(condition.field) : undefined;
    return value === undefined || !("within" in condition) || rangesContain(condition.within, value);
  };
  return packets.some((match) => match.every(holds));
}

function meetsItsEnd({ fate }: FateClass, injection: Injection): boolean {
  return fatesOf(injection).some((each) => sameEnd(each, fate));
}

/** The packet was put on the link where an address that nobody has yet would live. */
function isPut({ segments }: Injection, at: Id): boolean {
  return segments.some((crossing) => crossing.descent === "sent" && crossing.point.at === at);
}

/** The same end for the same reason at the same line; places may differ in how finely the engines name them. */
function sameEnd(left: Fate, right: Fate): boolean {
  if (left.end !== right.end) return false;
  // Where in the circle the hop limit runs out depends on where it began.
  if (left.end === "looped") return true;
  if ("reason" in left && "reason" in right && left.reason !== right.reason) return false;
  return isSameSpan(left.origin.span, right.origin.span);
}
