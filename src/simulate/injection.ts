/**
 * What is told of a frame or packet that was sent by hand, read from the journal.
 */
import type { Id } from "../network/index.ts";
import { furthest, type Journal, stepsOf } from "./journal.ts";
import type { Ending, Injection, SegmentCrossing, StackArrival } from "./results.ts";
import type { World } from "./world.ts";

/** Everything in the journal. */
export function injectionOf({ journal, picks }: World): Injection {
  return {
    endings: journal.endings.map(
      ({ journey, fate, trail, packet }): Ending => ({
        descent: journey.descent,
        fate,
        path: stepsOf(trail),
        ...(packet === undefined ? {} : { packet }),
      }),
    ),
    arrivals: arrivalsOf(journal),
    segments: journal.crossings.map(
      ({ journey, point, packet, trail }): SegmentCrossing => ({
        descent: journey.descent,
        point,
        packet,
        path: stepsOf(trail),
      }),
    ),
    picksUsed: picks.used,
  };
}

function arrivalsOf(journal: Journal): StackArrival[] {
  return journal.arrivals.flatMap(({ journey, stack, ingress, packet, trail }) => {
    const ending = endingAt(journal, stack, packet) ?? furthest(journal, journey);
    if (ending === undefined) return [];
    const { fate } = ending;
    const came = ingress === undefined ? {} : { ingress };
    return [{ descent: journey.descent, stack, packet, fate, path: stepsOf(trail), ...came }];
  });
}

function endingAt(journal: Journal, stack: Id, packet: StackArrival["packet"]): Journal["endings"][number] | undefined {
  return journal.endings.find((ending) => ending.packet === packet && ending.fate.at === stack);
}
