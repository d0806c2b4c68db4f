/**
 * The value of `bandwidth`: `at least` and a rate.
 */
import { parseRate, RATE } from "./leaf-numbers.ts";
import { shorten } from "./node.ts";
import { isProblem, leaf, type Problem, type Shape } from "./shape.ts";
import type { Located } from "./values.ts";

const LEAD = "at least ";

/** The least rate, in Mbit/s. */
export const bandwidth: Shape<Located<number>> = leaf<number>({
  says: "`at least` and a rate, such as `at least 1G`",
  parse: (text) => (text.startsWith(LEAD) ? parseRate(text.slice(LEAD.length)) : withoutLead(text)),
  schema: { type: "string", pattern: RATE.source.replace("^", `^${LEAD}`) },
});

function withoutLead(text: string): Problem {
  const rate = text.split(" ").at(-1) ?? "";
  const message = `\`${shorten(text)}\` does not begin with \`at least\``;
  const help = isProblem(parseRate(rate)) ? undefined : `write \`${LEAD}${rate}\``;
  return { refuse: "bad-rate", message, notes: ["how fast something is at most nobody can promise"], help };
}
