/**
 * What became of packets, gathered while they walk: pieces that ended at the same place by the same line are one class.
 */
import type { Ranges } from "../address/index.ts";
import type { Fate, Id, Pick } from "../network/index.ts";
import type { Flow } from "./flow.ts";
import type { Sent, Use } from "./passage.ts";
import type { Trail } from "./trail.ts";

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
  readonly uses?: Use;
  /** Some stack on the way tracked them, and knew no connection that they belong to. */
  readonly unknown?: true;
};

/** Everything that ended alike. */
export type Class = {
  /** How they ended. */
  readonly fate: Fate;
  /** Options that had to be taken. */
  readonly picks: readonly Pick[];
  /** The piece that is shown: the plainest, then the first found. */
  shown: Ended;
  /** Packets of all pieces as they were sent. */
  readonly packets: (readonly Ranges[])[];
};

const PLAIN = "plain ";
const FORGED = "forged ";

/** Classes in the order in which they were first found. */
export class Classes {
  readonly #byKey = new Map<string, Class>();

  /** Adds a piece. */
  add(fate: Fate, ended: Ended, fields: number): void {
    const { picks } = ended.trail;
    // What needs earlier packets is a class of its own, so that the others are known to need none.
    const key = `${ended.uses === undefined ? PLAIN : FORGED}${keyOf(fate, picks)}`;
    const known = this.#byKey.get(key);
    const packets = ended.flow.sets.slice(0, fields);
    if (known === undefined) {
      this.#byKey.set(key, { fate, picks, shown: ended, packets: [packets] });
      return;
    }
    known.packets.push(packets);
    if (isPlainer(ended, known.shown)) known.shown = ended;
  }

  /**
   * All classes. What ends like others without earlier packets is left out where a tracker on the way knows nothing of
   * them: it goes as those do.
   */
  all(): readonly Class[] {
    return [...this.#byKey].flatMap(([key, found]) => {
      const isLike = found.shown.unknown === true && found.shown.uses !== undefined;
      return isLike && this.#byKey.has(key.replace(FORGED, PLAIN)) ? [] : [found];
    });
  }
}

function keyOf(fate: Fate, picks: readonly Pick[]): string {
  const { file, start, end } = fate.origin.span;
  const reason = "reason" in fate ? fate.reason : "";
  const answer = fate.end === "refused" && fate.icmp !== undefined ? `${fate.icmp.type}/${fate.icmp.code}` : "";
  const taken = picks.map(({ choice, option }: { choice: Id; option: Id }) => `${choice}=${option}`).join(" ");
  return [fate.end, fate.at, reason, answer, file, start, end, taken].join("|");
}

/** Known to every tracker on the way, where it rests on earlier packets; then needs fewer of those, then fewer tags. */
function isPlainer(a: Ended, b: Ended): boolean {
  if (a.uses !== undefined && b.uses !== undefined && a.unknown !== b.unknown) return a.unknown === undefined;
  const [usesA, usesB] = [countOf(a.uses), countOf(b.uses)];
  if (usesA !== usesB) return usesA < usesB;
  if (a.sent.tags.length !== b.sent.tags.length) return a.sent.tags.length < b.sent.tags.length;
  return false;
}

/** How many connections a packet rests on. */
export function countOf(uses: Use | undefined): number {
  let count = 0;
  for (let use = uses; use !== undefined; use = use.next) count++;
  return count;
}
