/**
 * What became of packets, gathered while they walk: pieces that ended at the same place by the same line are one class.
 */
import type { Ranges } from "../address/index.ts";
import type { Fate, Id, Pick } from "../network/index.ts";
import { PROTOCOL } from "./fields.ts";
import { type Flow, productsOf } from "./flow.ts";
import { kindsOf } from "./kinds.ts";
import type { Sent, Stranger, Use } from "./passage.ts";
import { type Trail, wordOf } from "./trail.ts";

/** A set of packets with its end. */
export type Ended = {
  /** As they stood when they ended. */
  readonly flow: Flow;
  /** How they were sent. */
  readonly sent: Sent;
  /** Their way. */
  readonly trail: Trail;
  /** How many stacks they passed. */
  readonly depth: number;
  /** Connections they rest on. */
  readonly uses: Use | undefined;
  /** Stacks on the way that tracked them and knew no connection that they belong to. */
  readonly strangers: Stranger | undefined;
  /** They are errors that quote a packet of the connection they rest on. */
  readonly quotes: true | undefined;
};

/** Everything that ended alike. */
export type Class = {
  /** How they ended. */
  readonly fate: Fate;
  /** Options that had to be taken. */
  readonly picks: readonly Pick[];
  /** They need no packets before them. */
  readonly isPlain: boolean;
  /** Pieces that can be shown: all that need no packets before them; of others a few, the plainest first, then the first found. */
  readonly pieces: Ended[];
  /** Packets of all pieces as they were sent. */
  readonly packets: (readonly Ranges[])[];
  /** Packets of another class that end alike, need others before them, and have no example. */
  readonly others: (readonly Ranges[])[];
};

const TCP = 6n;
/** Pieces of a class that rest on equally many connections and are kept to be shown. */
const MOST_SHOWN = 8;
/** Pieces that rest on this many connections, or on more, are alike: chains grow with the square of a tangled network. */
const MOST_COUNTED = 4;
const PLAIN = "plain ";
const FORGED = "forged ";

/** Classes in the order in which they were first found. */
export class Classes {
  /** Some of them need no packets before them. */
  hasPlain = false;
  readonly #byKey = new Map<string, Class>();

  /** Adds a piece. */
  add(fate: Fate, ended: Ended, fields: number): void {
    const { picks } = ended.trail;
    // What needs earlier packets is a class of its own, so that the others are known to need none.
    const key = `${isPlain(ended) ? PLAIN : FORGED}${keyOf(fate, picks)}`;
    const known = this.#byKey.get(key);
    this.hasPlain ||= isPlain(ended);
    const found: Class = known ?? { fate, picks, isPlain: isPlain(ended), pieces: [], packets: [], others: [] };
    if (known === undefined) this.#byKey.set(key, found);
    for (const product of productsOf(ended.flow)) {
      for (const [place, flow] of kindsOf(product).entries()) {
        found.packets.push(flow.sets.slice(0, fields));
        const piece = flow === ended.flow ? ended : { ...ended, flow };
        // Of packets that differ in their kind alone the smallest is one of the first kind (`order.ts`).
        if (!found.isPlain) keepPlainest(found.pieces, piece);
        else if (place === 0) found.pieces.push(piece);
      }
    }
  }

  /** Where packets were sent that need no others before them, each place once. */
  plainPlaces(): readonly Id[] {
    const plain = this.all().filter((each) => each.isPlain);
    return [...new Set(plain.flatMap(({ pieces }) => pieces.map(({ sent }) => sent.at)))];
  }

  /** All classes. */
  all(): readonly Class[] {
    return [...this.#byKey.values()];
  }
}

/** Adds a piece at its place among a few. */
function keepPlainest(pieces: Ended[], ended: Ended): void {
  const before = pieces.findIndex((piece) => isPlainer(ended, piece));
  pieces.splice(before < 0 ? pieces.length : before, 0, ended);
  // What rests on more may have an example where what rests on less has none.
  const alike = pieces.filter((piece) => restsAlike(piece, ended));
  const last = alike.length > MOST_SHOWN ? alike.at(-1) : undefined;
  if (last !== undefined) pieces.splice(pieces.lastIndexOf(last), 1);
}

/** What others end like a class without earlier packets, of a class that needs some; undefined: there are none. */
export function plainTwin(classes: readonly Class[], { fate, picks }: Class): Class | undefined {
  const key = keyOf(fate, picks);
  return classes.find((each) => each.isPlain && keyOf(each.fate, each.picks) === key);
}

function keyOf(fate: Fate, picks: readonly Pick[]): string {
  const { file, start, end } = fate.origin.span;
  const reason = "reason" in fate ? fate.reason : "";
  const answer = fate.end === "refused" && fate.icmp !== undefined ? `${fate.icmp.type}/${fate.icmp.code}` : "";
  const taken = picks.map(wordOf).join(" ");
  return [fate.end, fate.at, reason, answer, file, start, end, taken].join("|");
}

/** Whether packets need no others before them. */
function isPlain({ uses, sent }: Ended): boolean {
  return uses === undefined && sent.met === undefined;
}

/** Quotes no other packet; then needs fewer earlier packets, then no open TCP connection, which a reset may end, then fewer tags. */
function isPlainer(a: Ended, b: Ended): boolean {
  if (a.quotes !== b.quotes) return a.quotes === undefined;
  const [usesA, usesB] = [countOf(a.uses, MOST_COUNTED), countOf(b.uses, MOST_COUNTED)];
  if (usesA !== usesB) return usesA < usesB;
  const [restsA, restsB] = [a.uses?.rests ?? 0, b.uses?.rests ?? 0];
  if (restsA !== restsB) return restsA < restsB;
  const [tcpA, tcpB] = [isTcp(a), isTcp(b)];
  if (usesA > 0 && tcpA !== tcpB) return tcpB;
  if (a.sent.tags.length !== b.sent.tags.length) return a.sent.tags.length < b.sent.tags.length;
  return false;
}

function restsAlike(a: Ended, b: Ended): boolean {
  if (a.quotes !== b.quotes || restsOnTcp(a) !== restsOnTcp(b)) return false;
  return countOf(a.uses, MOST_COUNTED) === countOf(b.uses, MOST_COUNTED);
}

/** Whether a piece rests on a TCP connection: a reset may end that on a part of its way. */
export function restsOnTcp({ uses }: Ended): boolean {
  for (let use = uses; use !== undefined; use = use.next) if (isTcp(use.entry)) return true;
  return false;
}

function isTcp({ flow }: { readonly flow: Flow }): boolean {
  return flow.sets[PROTOCOL]?.[0]?.[0] === TCP;
}

/** How many connections a packet rests on; counted no further than to `most`. */
export function countOf(uses: Use | undefined, most: number = Infinity): number {
  let count = 0;
  for (let use = uses; use !== undefined && count < most; use = use.next) count++;
  return count;
}
