/**
 * A site that is configured otherwise while it runs: its spanning tree is another one at once, as a kernel bridge that is given a
 * priority decides anew without waiting for a frame (from memory), and comes to rest where settling says.
 */
import { describe, expect, it } from "vitest";
import { settle } from "../../../src/settle/index.ts";
import { Course } from "../../../src/simulate/index.ts";
import { networkOf } from "../../support/site.ts";

const RACK = `dryrack: topology/1
devices:
  s1: { is: switch, ports: { p1..4: 1G } }
  s2: { is: switch, ports: { p1..4: 1G } }
cables:
  - [s1:p1, s2:p1]
  - [s1:p2, s2:p2]
`;

function site(first: string, second = "on") {
  const intent = `dryrack: intent/1
devices:
  s1: { switching: { spanning-tree: ${first} } }
  s2: { switching: { spanning-tree: ${second} } }
`;
  const network = networkOf(RACK, intent);
  return { network, down: [], off: [], silent: [] };
}

/** What ports of the tree do after another configuration, and which are blocked in the end. */
function retold(before: ReturnType<typeof site>, now: ReturnType<typeof site>) {
  const course = new Course(before);
  const moments = [course.become(now)];
  for (let next = course.next(200_000); next !== undefined; next = course.next(200_000)) moments.push(next);
  const phases = moments.flatMap(({ events }) =>
    events.flatMap(({ what, at, text, atMs }) => (what === "spanning-tree" ? [`${atMs / 1000} s: ${at} ${text}`] : [])),
  );
  const blocked = course.world.settled.blocked.map(({ port }) => port);
  expect(blocked).toEqual(settle(now.network).blocked.map(({ port }) => port));
  return { phases, blocked };
}

describe("a spanning tree that is told otherwise", () => {
  it("has its new root at once, and what that opens after twice the forward delay", () => {
    const { phases, blocked } = retold(site("{ priority: 32768 }", "{ priority: 28672 }"), site("{ priority: 4096 }"));
    expect(blocked).toEqual(["s2/switching/p2"]);
    // Two forward delays of 15 s (802.1D, from memory).
    expect(phases.filter((line) => line.includes("s1/switching/p2"))).toEqual([
      "0 s: s1/switching/p2 listens",
      "15 s: s1/switching/p2 learns",
      "30 s: s1/switching/p2 forwards",
    ]);
  });

  it("blocks by its new costs", () => {
    const low = "{ priority: 4096 }";
    const { blocked } = retold(site("on", low), site("{ costs: { p1: 100000 } }", low));
    expect(blocked).toEqual(["s1/switching/p1"]);
  });
});
