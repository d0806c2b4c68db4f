/**
 * Hosts that are trusted to be alone at their cables, as a `blocked` sees them: who is not asked because of it, and the lines
 * that say so.
 */
import { sendersOf } from "../evaluate/index.ts";
import type { Group, Network } from "../network/index.ts";
import { eachOnce, type Support, tellVouched } from "../result/index.ts";
import type { End } from "./ends.ts";
import { type Source, sourcesOf } from "./exchange.ts";

/** What is taken of each place that is left out of a group: a sentence with the line that says it, by place. */
export function vouchedFor({ vouched }: Group): readonly Support[] {
  return eachOnce(
    vouched.map(({ at, origin }) => {
      const hosts = vouched.filter((each) => each.at === at).map(({ device }) => device);
      return { origin, text: tellVouched([...new Set(hosts)], at), ground: "assumed" };
    }),
  );
}

/** The sources of an end but those that nobody has to suspect. */
export function askedSources(end: End, network: Network): Source[] {
  return sourcesOf({ ...end, group: { ...end.group, begins: sendersOf(end.group, network) } }, network);
}
