/**
 * Examples that wait between packets. A packet begins a connection at every stack on its way, and the one that it is sent for
 * may be at one of them while another one is in the way elsewhere: it takes the port that a translator is to give, or has
 * answers that are to be somebody else's. Connections are forgotten when idle, and each packet of theirs keeps them alive from
 * the first stack to where it ends. So whoever sends one again with a small hop limit keeps its connection alive
 * at the first stacks, and has it forgotten behind them.
 */
import type { EarlierPacket, FateExample, Stack, Tracking, Witness } from "../network/index.ts";
import { lifetimeSeconds } from "../protocol/index.ts";
import { PROTOCOL_UDP } from "../wire/index.ts";

/** Packets that keep a connection alive: more are not sent. */
const MOST_KEPT_ALIVE = 12;
/** Stacks on the way of a packet that is sent again. */
const MOST_HOPS = 6;
/** So much sooner than a connection is forgotten it is kept alive, and so much later is it sure to be forgotten. */
const MARGIN_SECONDS = 5;

/**
 * Each example with one wait, at each place, in which one of the packets before it is kept alive by copies that get less far.
 * `stacks`: those whose connections may be in the way.
 */
export function* waiting(stacks: readonly Stack[], examples: Iterable<FateExample>): Generator<FateExample> {
  for (const example of examples) {
    const { before, witness } = example;
    for (const rhythm of rhythmsOf(stacks, witness)) {
      for (let place = before.length; place > 0; place--) yield* waitingAt(example, place, rhythm);
    }
  }
}

/** How often a connection is kept alive, and for how long. */
type Rhythm = { readonly everySeconds: number; readonly times: number };

function* waitingAt(example: FateExample, place: number, { everySeconds, times }: Rhythm): Generator<FateExample> {
  const { before } = example;
  const [earlier, later] = [before.slice(0, place), before.slice(place)];
  for (const kept of earlier.toReversed()) {
    for (let hops = 1n; hops <= MOST_HOPS; hops++) {
      const again: EarlierPacket = { ...kept, witness: withHopLimit(kept.witness, hops), waits: everySeconds };
      const copies = Array.from({ length: times }, () => again);
      const [next, ...others] = later;
      if (next === undefined) yield { ...example, before: [...earlier, ...copies], waits: everySeconds };
      else yield { ...example, before: [...earlier, ...copies, { ...next, waits: everySeconds }, ...others] };
    }
  }
}

function withHopLimit({ numbers, ...frame }: Witness, hops: bigint): Witness {
  const others = numbers.filter(([field]) => field !== "hopLimit");
  return { ...frame, numbers: [...others, ["hopLimit", hops]] };
}

/** Rhythms in which connections without an answer are forgotten, and then those with one. */
function rhythmsOf(stacks: readonly Stack[], { numbers }: Witness): readonly Rhythm[] {
  if (stacks.length === 0) return [];
  const protocol = Number(new Map(numbers).get("protocol") ?? PROTOCOL_UDP);
  const lifetimes = stacks.map(({ tracking }) => lifetimesOf(tracking, protocol));
  const everySeconds = Math.min(...lifetimes.map(([unanswered]) => unanswered)) - MARGIN_SECONDS;
  const until = [0, 1].map((kind) => Math.max(...lifetimes.map((each) => each[kind] ?? 0)) + MARGIN_SECONDS);
  const times = until.map((seconds) => Math.ceil(seconds / everySeconds) - 1);
  return [...new Set(times)].flatMap((each) =>
    everySeconds > 0 && each > 0 && each <= MOST_KEPT_ALIVE ? [{ everySeconds, times: each }] : [],
  );
}

/** Idle lifetimes in seconds of a connection that has no answer, and of one that has. */
function lifetimesOf(tracking: Tracking, protocol: number): readonly [number, number] {
  return [lifetimeSeconds(protocol, "open", false, tracking), lifetimeSeconds(protocol, "open", true, tracking)];
}
