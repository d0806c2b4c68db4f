/**
 * The connections that one stack tracks, found by the tuple of a packet of either direction. A connection is found
 * only after it was confirmed; until then it belongs to its first packet alone.
 */
import { addressKey } from "../address/index.ts";
import type { Tracking } from "../network/index.ts";
import { type Connection, type Direction, type Tuple, tupleKey, usedForLong } from "../protocol/index.ts";

/** A connection and what translation has decided about it. */
export type Tracked = {
  /** As tracking knows it. */
  connection: Connection;
  /** Its first packet got through. */
  isConfirmed: boolean;
  /** Its first packet asked the table of source translation. */
  isSourceDecided: boolean;
  /** Likewise for destination translation. */
  isDestinationDecided: boolean;
  /** The source of `original` is rewritten. */
  isSourceRewritten: boolean;
  /** The destination of `original` is rewritten. */
  isDestinationRewritten: boolean;
};

/** A connection as seen by one packet. */
export type Found = {
  /** The connection. */
  readonly tracked: Tracked;
  /** The packet's direction in it. */
  readonly direction: Direction;
};

/** A connection that nothing was decided about. */
export function newTracked(connection: Connection): Tracked {
  return {
    connection,
    isConfirmed: false,
    isSourceDecided: false,
    isDestinationDecided: false,
    isSourceRewritten: false,
    isDestinationRewritten: false,
  };
}

/** All connections of a stack. */
export class ConnectionTable {
  readonly #byTuple = new Map<string, Found>();
  /** By what their first packets came from, the latest last. */
  readonly #bySource = new Map<string, readonly Tracked[]>();

  /** The connection that a packet with this tuple belongs to. */
  find(tuple: Tuple, nowMs: number): Found | undefined {
    const found = this.#byTuple.get(tupleKey(tuple));
    if (found === undefined || found.tracked.connection.untilMs >= nowMs) return found;
    this.#forget(found.tracked);
    return undefined;
  }

  /** Connections whose first packet came from the same end, the latest first. */
  fromSameEnd(tuple: Tuple, nowMs: number): readonly Tracked[] {
    const known = this.#bySource.get(sourceKey(tuple)) ?? [];
    return known.filter(({ connection }) => connection.untilMs >= nowMs).reverse();
  }

  /** Whether it has a connection of an IP protocol then. */
  holds(protocol: number, nowMs: number): boolean {
    const all = [...this.#byTuple.values()].map(({ tracked: { connection } }) => connection);
    return all.some(({ original, untilMs }) => original.protocol === protocol && untilMs >= nowMs);
  }

  /** Both ends have used all that it knows then for long. */
  useForLong(tracking: Tracking, nowMs: number): void {
    for (const { tracked } of this.#byTuple.values()) {
      if (tracked.connection.untilMs >= nowMs) tracked.connection = usedForLong(tracked.connection, tracking, nowMs);
    }
  }

  /** The same in a table of its own: what comes later is seen by one of both. */
  copy(): ConnectionTable {
    const copy = new ConnectionTable();
    const twins = new Map<Tracked, Tracked>();
    for (const [key, { tracked, direction }] of this.#byTuple) {
      const twin = twins.get(tracked) ?? { ...tracked };
      twins.set(tracked, twin);
      copy.#byTuple.set(key, { tracked: twin, direction });
    }
    for (const [key, known] of this.#bySource)
      copy.#bySource.set(
        key,
        known.flatMap((each) => twins.get(each) ?? []),
      );
    return copy;
  }

  /** Takes a connection in; false when an answer to it could be taken for another's. */
  confirm(tracked: Tracked, nowMs: number): boolean {
    const { original, reply } = tracked.connection;
    if (this.find(original, nowMs) !== undefined || this.find(reply, nowMs) !== undefined) return false;
    tracked.isConfirmed = true;
    this.#byTuple.set(tupleKey(original), { tracked, direction: "original" });
    this.#byTuple.set(tupleKey(reply), { tracked, direction: "reply" });
    const key = sourceKey(original);
    this.#bySource.set(key, [...(this.#bySource.get(key) ?? []), tracked]);
    return true;
  }

  #forget(tracked: Tracked): void {
    const { original, reply } = tracked.connection;
    this.#byTuple.delete(tupleKey(original));
    this.#byTuple.delete(tupleKey(reply));
    const key = sourceKey(original);
    this.#bySource.set(
      key,
      (this.#bySource.get(key) ?? []).filter((each) => each !== tracked),
    );
  }
}

function sourceKey({ protocol, source, sourcePort }: Tuple): string {
  return `${protocol} ${addressKey(source)} ${sourcePort}`;
}
