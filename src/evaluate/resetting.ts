/**
 * Examples in which a connection is reset on a part of its way. Every stack on the way of a TCP connection's first packet keeps
 * it, and a reset ends it at each stack that it comes to (RFC 9293 section 3.5.3; that trackers forget it at once where nothing was
 * answered is seen of a kernel, `tests/kernel/facts-state.test.ts`). One with a small hop limit comes to the first stacks
 * alone: behind them the connection goes on, and they know nothing of what belongs to it.
 */
import type { EarlierPacket, FateExample, Witness } from "../network/index.ts";
import { PROTOCOL_TCP, TCP_RST } from "../wire/index.ts";

/** Stacks that a reset comes to. */
const MOST_HOPS = 6;

/** Each example with one more packet: a reset of one of the connections that were begun before it. */
export function* resetting(examples: Iterable<FateExample>): Generator<FateExample> {
  for (const example of examples) {
    for (const [place, begun] of example.before.entries()) {
      if (!isTcp(begun.witness)) continue;
      for (let hops = 1n; hops <= MOST_HOPS; hops++)
        yield { ...example, before: example.before.toSpliced(place + 1, 0, resetOf(begun, hops)) };
    }
  }
}

function isTcp({ numbers }: Witness): boolean {
  return new Map(numbers).get("protocol") === BigInt(PROTOCOL_TCP);
}

function resetOf({ sentAt, witness }: EarlierPacket, hops: bigint): EarlierPacket {
  const others = witness.numbers.filter(([field]) => field !== "hopLimit" && field !== "tcpFlags");
  const numbers: Witness["numbers"] = [...others, ["tcpFlags", BigInt(TCP_RST)], ["hopLimit", hops]];
  return { sentAt, witness: { ...witness, numbers } };
}
