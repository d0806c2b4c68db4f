/**
 * What stays open, and what it is called: a choice is named after the part that it concerns, so that an engine that meets
 * the part finds the pick. Where nobody picks, the first option is taken.
 */
import { formatAddress } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Choice, Id, Pick, Route } from "../network/index.ts";

const ENDINGS: Record<Exclude<Choice["kind"], "lease-server">, string> = {
  "equal-path": "path",
  "bond-member": "member",
  "access-point": "access-point",
  "unmanaged-habit": "spanning-tree",
  advertiser: "advertiser",
  router: "router",
  "neighbour-owner": "neighbour",
  "source-port": "port",
};

/** Kinds of choices that are named after a part; settling finds most of them. */
export type SettledChoiceKind = keyof typeof ENDINGS;

/** Id of the choice of a kind about a part: the route, the bond, the wireless port, the bridge, the advertisers of a link, the router, the interface that asks, the stack that draws. */
export function choiceId(kind: SettledChoiceKind, about: Id): Id {
  return `${about}/${ENDINGS[kind]}`;
}

/** A choice about a part. */
export function makeChoice(kind: SettledChoiceKind, about: Id, options: readonly Id[], origin: Origin): Choice {
  return { id: choiceId(kind, about), origin, kind, options };
}

/** The option taken: the pick if it is one of the options, else the first; undefined without options. */
export function taken(choice: Choice, picks: readonly Pick[]): Id | undefined {
  const pick = picks.find((candidate) => candidate.choice === choice.id)?.option;
  return pick !== undefined && choice.options.includes(pick) ? pick : choice.options[0];
}

/** The choice between a route's hops, one option a hop in their order; undefined when it has at most one. */
export function equalPathChoice(route: Route): Choice | undefined {
  const { action } = route;
  if (action.do !== "forward" || action.hops.length < 2) return undefined;
  const options = action.hops.map(({ egress, via }) =>
    via === undefined ? egress : `${egress} via ${formatAddress({ family: route.family, value: via })}`,
  );
  return makeChoice("equal-path", route.id, options, route.origin);
}
