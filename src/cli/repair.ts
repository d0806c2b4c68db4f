/**
 * `check --repair`: repairs of a site. Its plan is read with every file of its assertions, whichever of them were asked
 * for, since a repair must not break what another file demands.
 */
import { Evaluation } from "../evaluate/index.ts";
import { demandedBy, planOf, repairsOf } from "../repair/index.ts";
import type { Mending, Verdict } from "../result/index.ts";
import { loadSite, type Shelf } from "./load-site.ts";
import { type SitePlace, siteMeant } from "./places.ts";

/** Looks for repairs of what does not hold at a site. @throws EnginesDisagree */
export function mendSite(place: SitePlace, broken: readonly Verdict[], shelf: Shelf): readonly Mending[] {
  const whole = siteMeant(place.folder);
  const { network, files, assertions } = loadSite("problem" in whole ? place : whole, shelf);
  const plan = network && planOf(shelf.sources, files, new Evaluation(network));
  const ids = new Set(broken.map(({ id }) => id));
  if (plan === undefined) return [...ids].map((id) => ({ id, repairs: [], tried: 0, limit: OTHERS }));
  return repairsOf({ plan, all: demandedBy(assertions), broken: ids });
}

const OTHERS = "other assertions of this site cannot be read, so that nobody knows what an edit would break";
