/**
 * A small cover of a set of packets: who sends to whom on what, the rest of each packet left out. Products that differ in
 * one of the three alone are joined until none do.
 */
import { type Ranges, rangesEqual, unionRanges } from "../address/index.ts";
import {
  type Box,
  DESTINATION,
  type ServiceSet,
  SOURCE,
  sameServices,
  servicesOf,
  unionServices,
} from "../prove/index.ts";

/** Packets by who, whom and what. */
export type Cover = {
  /** Address keys of senders. */
  readonly sources: Ranges;
  /** Address keys of destinations. */
  readonly destinations: Ranges;
  /** What is asked for. */
  readonly services: ServiceSet;
  /** The packets themselves. */
  readonly boxes: readonly Box[];
};

/** The cover of disjoint boxes. */
export function coverOf(boxes: readonly Box[]): readonly Cover[] {
  let covers = boxes.map(single);
  for (;;) {
    const fewer = joinedBy(joinedBy(joinedBy(covers, joinServices), joinDestinations), joinSources);
    if (fewer.length === covers.length) return fewer;
    covers = fewer;
  }
}

function single(box: Box): Cover {
  return {
    sources: box.numbers[SOURCE] ?? [],
    destinations: box.numbers[DESTINATION] ?? [],
    services: servicesOf(box),
    boxes: [box],
  };
}

type Join = (a: Cover, b: Cover) => Pick<Cover, "sources" | "destinations" | "services"> | undefined;

const joinServices: Join = (a, b) =>
  rangesEqual(a.sources, b.sources) && rangesEqual(a.destinations, b.destinations)
    ? { ...a, services: unionServices(a.services, b.services) }
    : undefined;

const joinDestinations: Join = (a, b) =>
  rangesEqual(a.sources, b.sources) && sameServices(a.services, b.services)
    ? { ...a, destinations: unionRanges(a.destinations, b.destinations) }
    : undefined;

const joinSources: Join = (a, b) =>
  rangesEqual(a.destinations, b.destinations) && sameServices(a.services, b.services)
    ? { ...a, sources: unionRanges(a.sources, b.sources) }
    : undefined;

/** Each is joined to the first before it that it goes with. */
function joinedBy(covers: readonly Cover[], join: Join): Cover[] {
  const kept: Cover[] = [];
  for (const cover of covers) {
    const at = kept.findIndex((each) => join(each, cover) !== undefined);
    const into = kept[at];
    const joined = into && join(into, cover);
    if (into === undefined || joined === undefined) kept.push(cover);
    else
      kept[at] = {
        ...joined,
        boxes: [...into.boxes, ...cover.boxes],
      };
  }
  return kept;
}
