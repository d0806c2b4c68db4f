/**
 * What entrances of one bridge share, held to each of them followed by itself: every touch, point and end, in the same
 * order, by the same way.
 */
import { describe, expect, it } from "vitest";
import { Atlas } from "../../src/prove/atlas.ts";
import type { LinkReach } from "../../src/prove/link.ts";
import { reachFromEntrances } from "../../src/prove/reach-from.ts";
import { stepsOf, type Trail } from "../../src/prove/trail.ts";
import { settle } from "../../src/settle/index.ts";
import { Sketch } from "./build.ts";
import { siteOf, stream } from "./sites.ts";

type Told = { readonly trail?: Trail; readonly part?: unknown };

function told({ trail, part: _part, ...rest }: Told): unknown {
  return { ...rest, path: trail === undefined ? "none" : stepsOf(trail), picks: trail?.picks };
}

function all({ touches, points, stops, looked }: LinkReach): unknown {
  return {
    touches: touches.map((touch) => ({ ...(told(touch) as object), leg: touch.leg.interface.id })),
    points: points.map(told),
    stops: stops.map(told),
    looked: [...looked].sort(),
  };
}

/** Each port by the shared way, twice (made, then used again), and by itself: an entrance named twice is not shared. */
function holds(sketch: Sketch): number {
  const network = sketch.network();
  const atlas = new Atlas(network, settle(network));
  for (const { id } of network.ports) {
    const alone = all(reachFromEntrances(atlas, [id, id]));
    expect([id, all(reachFromEntrances(atlas, [id]))]).toEqual([id, alone]);
    expect([id, all(reachFromEntrances(atlas, [id]))]).toEqual([id, alone]);
  }
  return network.ports.length;
}

/** Switches, cables, memberships, interfaces and hosts at random: rings, hubs and cables back to the same switch too. */
function tangle(seed: number): Sketch {
  const next = stream(seed);
  const vlans = () => [10, 20, 30].filter(() => next(2) === 0);
  const ports = ["a", "b", "c", "d", "e"];
  const port = () => ({
    ...(next(3) > 0 ? { untagged: 10 * (1 + next(3)) } : {}),
    tagged: next(2) === 0 ? vlans() : [],
    ...(next(5) === 0 ? { isolation: "i" } : {}),
    ...(next(4) === 0 ? { admit: next(2) === 0 ? ("tagged" as const) : ("untagged" as const) } : {}),
    filter: next(3) > 0,
  });
  const sketch = new Sketch();
  for (const id of ["s", "t", "u"]) {
    const isPlain = next(4) === 0;
    const own = isPlain || next(2) === 0 ? {} : { own: { tagged: vlans() } };
    sketch.switch(id, Object.fromEntries(ports.map((name) => [name, isPlain ? {} : port()])), {
      unmanaged: isPlain,
      ...own,
    });
    if ("own" in own) sketch.stack(id, "switch", { legs: { "m@10": "10.0.1.2/24" }, on: { "m@10": "own" } });
  }
  sketch.device("r", "router", ["x", "y"]).router("r", {
    legs: { "x@10": "10.0.1.1/24", "z@20": "10.0.2.1/24", y: "10.0.3.1/24" },
    on: { "x@10": "r:x", "z@20": "r:x" },
  });
  const free = ["s", "t", "u"].flatMap((id) => ports.map((name) => `${id}:${name}`)).concat("r:x", "r:y");
  const take = (): string => free.splice(next(free.length), 1)[0] ?? "";
  for (let cables = 3 + next(4); cables > 0; cables--) sketch.cable(take(), take());
  for (const name of ["h1", "h2", "h3"]) sketch.host(name, "10.0.1.9/24").cable(`${name}:nic`, take());
  return sketch;
}

describe("the reach of an entrance", () => {
  it("is the same shared as alone, on tangled networks", () => {
    let ports = 0;
    for (let seed = 1; seed <= 120; seed++) ports += holds(tangle(seed));
    expect(ports).toBeGreaterThan(2000);
  });

  it("is the same shared as alone, on small sites", () => {
    for (let seed = 1; seed <= 20; seed++) holds(siteOf(seed));
  });
});
