/**
 * Frames that say nothing new are left out: a course with them and one without are the same, event by event.
 */
import { describe, expect, it } from "vitest";
import { Course, type CourseMoment } from "../../../src/simulate/index.ts";
import { randomOf } from "../../kernel/random-kinds.ts";
import { randomLinks } from "../../kernel/random-links.ts";
import { networkOf } from "../../support/site.ts";

const HOUR_MS = 3_600_000;

/** Two hours of a site, a cable of it pulled in the first and put back in the second at uneven moments. */
function story(
  texts: readonly string[],
  everyFrame: boolean,
): { readonly moments: readonly CourseMoment[]; readonly frames: number } {
  const network = networkOf(...texts);
  const whole = { network, down: [], off: [], silent: [] };
  const tally = { events: 0 };
  const course = new Course(whole, { begins: "cold", everyFrame, tally });
  const [cable] = network.links.filter(({ kind, onDemand }) => kind === "cable" && !onDemand);
  const moments: CourseMoment[] = [];
  const runTo = (untilMs: number): void => {
    for (let moment = course.next(untilMs); moment !== undefined; moment = course.next(untilMs)) moments.push(moment);
  };
  runTo(0.43 * HOUR_MS + 17);
  if (cable !== undefined) moments.push(course.become({ ...whole, down: [cable.id] }));
  runTo(1.29 * HOUR_MS + 1);
  moments.push(course.become(whole));
  runTo(2 * HOUR_MS);
  return { moments, frames: tally.events };
}

describe("skipping periodic frames", () => {
  it.each([1, 2, 3, 4, 5, 6, 7, 8])("changes no event of a random link layer: seed %i", (seed) => {
    const { texts } = randomLinks(seed, 1);
    const [all, some] = [story(texts, true), story(texts, false)];
    expect(some.moments.flatMap(({ events }) => events)).toEqual(all.moments.flatMap(({ events }) => events));
    expect(some.moments.length).toBeGreaterThan(1);
    // Nothing was skipped where nothing is said.
    expect(some.frames).toBeLessThanOrEqual(all.frames);
  });

  it.each([1, 2, 3, 4])("changes no event of a random site that lends and advertises: seed %i", (seed) => {
    const { texts } = randomOf("leases", seed, 1);
    const [all, some] = [story(texts, true), story(texts, false)];
    expect(some.moments.flatMap(({ events }) => events)).toEqual(all.moments.flatMap(({ events }) => events));
  });

  it("leaves out nearly everything that a spanning tree says in an hour", () => {
    const texts = [
      "devices: { a: { is: switch, ports: { p1: 1G, p2: 1G } }, b: { is: switch, ports: { p1: 1G, p2: 1G } } }\ncables: [[a:p1, b:p1], [a:p2, b:p2]]",
      "networks: { n: { vlan: 10 } }\ndevices: { a: { switching: {} }, b: { switching: {} } }",
    ];
    expect(story(texts, true).frames / story(texts, false).frames).toBeGreaterThan(10);
  });
});
