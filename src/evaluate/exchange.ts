/**
 * What is told of one exchange, and who looks on while it is made: plain records.
 */
import type { Id, Notes, Pick } from "../network/index.ts";
import type { Evidence } from "../result/index.ts";
import type { CaptureSink, ProbeRequest, ProbeResult, Tally } from "../simulate/index.ts";
import type { IpPacket } from "../wire/index.ts";

/** One run of an exchange with the picks it was made under. */
export type Outcome = {
  /** How it went. */
  readonly result: ProbeResult;
  /** Picks at rest and on the way. */
  readonly picks: readonly Pick[];
  /** What devices on the way remember that is so no more. Default: nothing. */
  readonly stale?: readonly Evidence[];
  /** Who lets a connection go on that was open before, where a filter stops a new one. Absent: none goes on, none was open, or no filter is what stops it. */
  readonly goesOn?: Evidence;
};

/** All outcomes of one exchange; `limit` is set when some were left out. */
export type Exchange = {
  /** In the order of the options. */
  readonly outcomes: readonly Outcome[];
  /** Why some were left out. */
  readonly limit?: string;
};

/** A connection that was open and goes on, whatever becomes of a new one. */
export type GoingOn = {
  /** Its first packet. */
  readonly request: IpPacket;
  /** The stack that it gets to. */
  readonly to: Id;
  /** Who keeps it, at the line that lets it by. */
  readonly kept: Evidence;
  /** Picks at rest and on the way. */
  readonly picks: readonly Pick[];
};

/** Who looks on. */
export type Watching = {
  /** Gets the frames. */
  readonly capture?: CaptureSink;
  /** Counts events. */
  readonly tally?: Tally;
  /** Is told what is looked at. */
  readonly notes?: Notes;
};

/** One text for equal requests: the same exchange (a host asking for its gateway, say) is asked by many assertions. */
export function keyOf(request: ProbeRequest): string {
  const known = keys.get(request);
  if (known !== undefined) return known;
  const key = JSON.stringify(request, (_, value: unknown) => (typeof value === "bigint" ? `${value}n` : value));
  keys.set(request, key);
  return key;
}

const keys = new WeakMap<ProbeRequest, string>();
