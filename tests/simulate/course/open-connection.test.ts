/**
 * A connection that is open, and is asked at moments of a course whether it goes on: from its last use on counts what tracking keeps it
 * (UDP that both ends have gone on with 120 s, kernel fact 25), however often it was used before. The emulated kernel says the same of
 * connections that are held open (`tests/kernel/machine-story-changes.test.ts`).
 */
import { describe, expect, it } from "vitest";
import { momentOf } from "../../../src/evaluate/index.ts";
import type { Network } from "../../../src/network/index.ts";
import { Course } from "../../../src/simulate/index.ts";
import { address } from "../../kernel/judge.ts";
import { networkOf } from "../../support/site.ts";

const OWNER = "whoever holds it";

function site(rule: string): Network {
  return networkOf(
    `
devices:
  gate: { is: router, ports: { near: 1G, far: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables: [[gate:near, desk:nic], [gate:far, shop:nic]]`,
    `
devices:
  gate:
    interfaces: { near: { port: near, ipv4: 10.1.0.1/24 }, far: { port: far, ipv4: 10.2.0.1/24 } }
    filter: { through: { otherwise: drop, rules: [{ name: answers, state: [established, related], action: accept }${rule}] } }
  desk: { legs: { nic: { ipv4: 10.1.0.9/24, gateway: 10.1.0.1 } } }
  shop: { legs: { nic: { ipv4: 10.2.0.9/24, gateway: 10.2.0.1 } } }`,
  );
}

describe("a connection that is open", () => {
  it.each([
    [119, 1],
    [121, 0],
  ])("and was used again and again goes on after %i s of quiet or not, as tracking keeps it", (quiet, goesOn) => {
    const [before, after] = [site(", { name: out, in: near, action: accept }"), site("")];
    const [, cable] = after.links;
    const course = new Course({ network: before, down: [], off: [], silent: [] });
    const request = {
      from: "desk/stack",
      destination: address("10.2.0.9"),
      service: { protocol: 17, port: 53 },
      sourcePort: 5000,
    };
    const used = (second: number): number => {
      while (course.next(second * 1000) !== undefined);
      const evaluation = momentOf(course, true);
      const [world] = evaluation.worlds().worlds;
      return world === undefined ? -1 : evaluation.goingOn(world, request, OWNER).length;
    };
    const evaluation = momentOf(course, true);
    for (const world of evaluation.worlds().worlds) evaluation.keepOpen(world, request, OWNER);
    course.become({ network: after, down: [], off: [], silent: [] });
    expect([10, 60, 150, 240].map(used)).toEqual([1, 1, 1, 1]);
    course.become({ network: after, down: cable === undefined ? [] : [cable.id], off: [], silent: [] });
    expect(used(240 + quiet)).toBe(0);
    course.become({ network: after, down: [], off: [], silent: [] });
    expect(used(240 + quiet)).toBe(goesOn);
  });
});
