/**
 * What a list lacks, by name: a port's list is described without knowing whose frames will miss what in it.
 */
import type { Origin } from "../diagnose/index.ts";
import type { Id, Network } from "../network/index.ts";
import type { ProbeResult } from "../simulate/index.ts";

const NAMELESS = "the network ";

/** A line that lacks some network, with the name of the one that was missed there. */
export function lackOf(origin: Origin, missed: Id): Origin {
  if (origin.by !== "absent" || !origin.wanted.startsWith(NAMELESS)) return origin;
  return { ...origin, wanted: `\`${missed}\` ${origin.wanted.slice(NAMELESS.length)}` };
}

/** The network that an exchange was in when it ended: that of the interface by which it was last sent; undefined: of none. */
export function networkOfEnd({ fate, path, answerPath }: ProbeResult, { stacks }: Network): Id | undefined {
  const steps = fate.end === "delivered" ? answerPath : path;
  const sent = steps.findLast(({ did }) => did === "route")?.detail?.split(" ")[0];
  return stacks.flatMap(({ interfaces }) => interfaces).find(({ id }) => id === sent)?.network;
}
