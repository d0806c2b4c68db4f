/**
 * One step of a stack over a set of packets: a switch to the function of its kind.
 */
import type { Step } from "../network/index.ts";
import { need } from "./atlas.ts";
import { isOfAllKinds, kindsOf } from "./kinds.ts";
import { type Passage, withFlow } from "./passage.ts";
import {
  takeBroadcastSource,
  takeFilter,
  takeFit,
  takeHopLimit,
  takeNoTransit,
  takeOwnSource,
  takeRequire,
  takeReversePath,
} from "./step-checks.ts";
import { takeRoute } from "./step-route.ts";
import { takeDeliver, takeNeighbour, takeTransmit } from "./step-send.ts";
import { takeConfirm, takeTrack, takeTranslate } from "./step-track.ts";
import type { Walk } from "./walk.ts";

/** Whether a step does to packets of one kind what it does not do to others. */
function looksAtKinds({ ground }: Walk, step: Step): boolean {
  switch (step.op) {
    case "require":
      return ground.alternativesOf(step, step.that).tellsKinds;
    case "filter":
      return need(ground.atlas.filters, step.table, "filter").rules.tellsKinds;
    case "track":
    case "translate":
    case "confirm":
      return true;
    case "own-source":
    case "broadcast-source":
    case "reverse-path":
    case "route":
    case "no-transit":
    case "hop-limit":
    case "fit":
    case "neighbour":
    case "transmit":
    case "deliver":
      return false;
  }
}

/** Takes the next step of a passage; answers what goes on. */
export function takeStep(walk: Walk, passage: Passage): readonly Passage[] {
  const step = passage.steps[passage.next];
  if (step === undefined) throw new Error(`the steps of \`${passage.node.stack.id}\` end without an end`);
  if (isOfAllKinds(passage.flow) && looksAtKinds(walk, step))
    return kindsOf(passage.flow).map((flow) => withFlow(passage, flow));
  switch (step.op) {
    case "require":
      return takeRequire(walk, passage, step);
    case "own-source":
      return takeOwnSource(walk, passage, step);
    case "broadcast-source":
      return takeBroadcastSource(walk, passage, step);
    case "reverse-path":
      return takeReversePath(walk, passage, step);
    case "filter":
      return takeFilter(walk, passage, step);
    case "track":
      return takeTrack(walk, passage, step);
    case "translate":
      return takeTranslate(walk, passage, step);
    case "confirm":
      return takeConfirm(walk, passage, step);
    case "route":
      return takeRoute(walk, passage, step);
    case "no-transit":
      return takeNoTransit(walk, passage, step);
    case "hop-limit":
      return takeHopLimit(walk, passage, step);
    case "fit":
      return takeFit(walk, passage, step);
    case "neighbour":
      return takeNeighbour(walk, passage, step);
    case "transmit":
      return takeTransmit(walk, passage, step);
    case "deliver":
      return takeDeliver(walk, passage, step);
  }
}
