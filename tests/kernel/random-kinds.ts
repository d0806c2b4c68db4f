/** Which kind of random site a seed is: mostly packets, every fourth one leases. */
import { randomLeases } from "./random/leases.ts";
import { type RandomSite, randomSite } from "./random-site.ts";

/** What a run is made of. */
export type RandomKind = "all" | "packets" | "leases";

/** The site of a seed in a run; of a site that lends, half of the questions are leases. */
export function randomOf(kind: RandomKind, seed: number, count: number): RandomSite {
  switch (kind) {
    case "leases":
      return randomLeases(seed, Math.ceil(count / 2));
    case "packets":
      return randomSite(seed, count);
    case "all":
      return randomOf(seed % 4 === 0 ? "leases" : "packets", seed, count);
    default:
      throw new Error(`no kind of sites: \`${kind}\``);
  }
}
