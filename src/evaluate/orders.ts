/**
 * Examples of a class as they may be sent: as told, and in other ways where what comes before, or what others have sent, changes what a
 * translator does.
 */
import type { FateExample, Id } from "../network/index.ts";
import { choiceId } from "../settle/index.ts";

/**
 * Examples as told, then those of what is translated: where another port is drawn, and with the packet itself among those before
 * it, at each place. What a translator gives it then is its own when one comes that would take that, so a sender can try
 * first, and again when another stack is open.
 */
export function* inAllOrders(examples: readonly FateExample[]): Generator<FateExample> {
  yield* examples;
  for (const example of examples) {
    const { before, sentAt, witness, path } = example;
    const translators = new Set(path.flatMap(({ did, at }) => (did === "translate" ? [at] : [])));
    if (translators.size === 0) continue;
    for (const at of translators) yield* withAnotherPort(example, at);
    for (const place of before.keys())
      yield { ...example, before: [...before.slice(0, place), { sentAt, witness }, ...before.slice(place)] };
  }
}

/** What comes round to a translator is another connection where that had to draw another port the first time. */
function* withAnotherPort(example: FateExample, at: Id): Generator<FateExample> {
  const choice = choiceId("source-port", at);
  const port = new Map(example.witness.numbers).get("sourcePort");
  if (port === undefined || example.picks.some((pick) => pick.choice === choice)) return;
  for (const option of [port + 1n, port - 1n])
    yield { ...example, picks: [...example.picks, { choice, option: `${option}` }] };
}
