/**
 * Which lines decided. For most endings that is the ending's own origin; where nobody answered for an address, the reason
 * lies elsewhere: the answer was lost, the station turned the question away, or the question never reached it. Then the
 * gap between the asker and the owner of the address is looked for (see `gap.ts`).
 */
import { addressKey } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Fate } from "../network/index.ts";
import { gapBetween } from "./gap.ts";
import { type AskedNote, type EndingNote, type Journal, type Journey, rankOf } from "./journal.ts";
import { ownersHeard } from "./owners.ts";
import type { Plan } from "./plan.ts";

/** The lines behind an ending, the primary one first. */
export function explain(plan: Plan, journal: Journal, { fate, asked }: EndingNote): readonly Origin[] {
  if (asked === undefined) return [fate.origin];
  const lost = asked.journey && lostQuestion(plan, journal, asked, asked.journey);
  if (lost === undefined) return [...missing(plan, asked), fate.origin];
  // Where an answer is lost between bridges, the ways of both sides tell more than the place where it ended.
  const apart = rankOf(lost) < 2 && !isLoss(lost) ? missing(plan, asked) : [];
  return [...apart, lost.origin, fate.origin];
}

/** The answer was lost on the way back, or an owner turned the question away, or it was lost in a loop or at an idle member. */
function lostQuestion(plan: Plan, journal: Journal, { address }: AskedNote, asked: Journey): Fate | undefined {
  const owners = new Set(ownersHeard(plan, address).map(({ stack }) => stack.id));
  const ends = journal.endings.filter(({ fate }) => fate.end !== "delivered");
  const answer = ends.find(({ journey, fate }) => journey.parent === asked && rankOf(fate) > 0);
  const question = ends.find(({ journey, fate }) => {
    return journey === asked && (isLoss(fate) || (rankOf(fate) >= 2 && owners.has(fate.at)));
  });
  return (answer ?? question)?.fate;
}

/** Whether a frame was lost in a loop or at an idle member, which is no mere edge of its flood. */
export function isLoss(fate: Fate): boolean {
  return fate.end === "dropped" && (fate.reason === "storm" || fate.reason === "member-idle");
}

/** Lines that keep the asker and the owners of the address apart; none where nobody owns it. */
function missing(plan: Plan, { leg, address }: AskedNote): readonly Origin[] {
  const asker = plan.interfaces.get(leg);
  const key = addressKey(address);
  const owners = (plan.owners.get(key) ?? []).flatMap((stack) => stack.own.get(key) ?? []);
  return asker === undefined ? [] : owners.flatMap((owner) => gapBetween(plan, asker, owner));
}
