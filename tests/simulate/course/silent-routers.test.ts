/**
 * A host gives a router up that does not answer, 38 s after its last answer: the middle of ReachableTime, which is drawn from 0.5 to
 * 1.5 times REACHABLE_TIME of 30 s (RFC 4861 section 6.3.2), DELAY_FIRST_PROBE_TIME of 5 s and three probes of RETRANS_TIMER of 1 s
 * (sections 7.3.3 and 10). At rest it has done so.
 */
import { describe, expect, it } from "vitest";
import type { Settled } from "../../../src/network/index.ts";
import { settle } from "../../../src/settle/index.ts";
import { Course, type CourseOptions, withRouters } from "../../../src/simulate/index.ts";
import { networkOf } from "../../support/site.ts";
import { differencesAt } from "./settling.ts";

const GIVING_UP_MS = 38_000;

const RACK = `dryrack: topology/1
devices:
  near: { is: router, ports: { desk: 1G } }
  side: { is: router, ports: { desk: 1G } }
  hall: { is: unmanaged-switch, ports: { p1..3: 1G } }
  desk: { is: host, ports: { nic: 1G } }
cables: [[near:desk, hall:p1], [side:desk, hall:p2], [desk:nic, hall:p3]]
`;

/** `desk` prefers the router at this address; `near` is fd00:1::1, `side` is fd00:1::2. */
function site(preferred: string) {
  return siteWith(preferred, "fd00:1::2");
}

/** `desk` has default routes by these, the preferred first. */
function siteWith(...routers: readonly string[]) {
  const routes = routers.map((via, index) => `{ to: "::/0", via: "${via}", metric: ${index + 1} }`);
  return networkOf(
    RACK,
    `dryrack: intent/1
devices:
  near: { interfaces: { desk: { port: desk, ipv6: "fd00:1::1/64" } } }
  side: { interfaces: { desk: { port: desk, ipv6: "fd00:1::2/64" } } }
  desk:
    legs: { nic: { ipv6: "fd00:1::9/64" } }
    routes: [${routes.join(", ")}]
`,
  );
}

const NOBODY = "fd00:1::77";
const NEAR = "fd00:1::1";

/** What holds of a site from some time on. */
type Step = readonly [atMs: number, off: readonly string[], network?: ReturnType<typeof site>];

/** A course with what is off at given times; where the routes of `desk` that leave its link lead by, from when on. */
function waysOf(preferred: string, steps: readonly Step[], options?: CourseOptions) {
  return waysIn(site(preferred), steps, options);
}

function waysIn(first: ReturnType<typeof site>, steps: readonly Step[], options?: CourseOptions) {
  const whole = { network: first, down: [], off: [], silent: [] };
  const course = new Course(whole, options);
  const ways = [[0, wayIn(course.world.settled)]];
  const look = (): void => {
    const way = wayIn(course.world.settled);
    if (way !== ways.at(-1)?.[1]) ways.push([course.nowMs, way]);
  };
  for (const [atMs, off, network = whole.network] of [...steps, [200_000, undefined] as const]) {
    while (course.next(atMs) !== undefined) look();
    if (off !== undefined) course.become({ ...whole, off, network });
    look();
  }
  return { ways, settled: course.world.settled };
}

function wayIn({ stacks }: Settled): string {
  const hops = stacks.flatMap(({ routes }) =>
    routes.flatMap(({ action }) => (action.do === "forward" ? action.hops : [])),
  );
  const hop = hops.find(({ egress, via }) => egress === "desk/nic" && via !== undefined)?.via;
  return hop === undefined ? "none" : `::${(hop & 0xffffn).toString(16)}`;
}

describe("a host over time, whose preferred router does not answer", () => {
  it("has given it up where everything has been up for long, as at rest", () => {
    const { ways, settled } = waysOf(NOBODY, []);
    const network = site(NOBODY);
    expect(ways).toEqual([[0, "::2"]]);
    const atRest = withRouters(network, settle(network));
    expect(atRest.givenUp).toHaveLength(1);
    expect(settled.givenUp).toEqual(atRest.givenUp);
  });

  it("sends to it from the cold until it has found out", () => {
    expect(waysOf(NOBODY, [], { begins: "cold" }).ways).toEqual([
      [0, "::77"],
      [GIVING_UP_MS, "::2"],
    ]);
  });

  it("finds out after it fell silent, and uses it at once when it answers", () => {
    const steps = [
      [10_000, ["near"]],
      [100_000, []],
    ] as const;
    expect(waysOf(NEAR, steps).ways).toEqual([
      [0, "::1"],
      [10_000 + GIVING_UP_MS, "::2"],
      [100_000, "::1"],
    ]);
  });

  it("does not add up times of silence", () => {
    const steps = [
      [10_000, ["near"]],
      [40_000, []],
      [50_000, ["near"]],
    ] as const;
    expect(waysOf(NEAR, steps).ways).toEqual([
      [0, "::1"],
      [50_000 + GIVING_UP_MS, "::2"],
    ]);
  });

  it("has forgotten that when it had no power", () => {
    const steps = [
      [10_000, ["near"]],
      [60_000, ["near", "desk"]],
      [70_000, ["near"]],
    ] as const;
    expect(waysOf(NEAR, steps).ways).toEqual([
      [0, "::1"],
      [10_000 + GIVING_UP_MS, "::2"],
      [60_000, "none"],
      [70_000, "::1"],
      [70_000 + GIVING_UP_MS, "::2"],
    ]);
  });

  it("never gives up what it does not try", () => {
    const { choices } = withRouters(site(NOBODY), settle(site(NOBODY)));
    const picks = choices.map(({ id }) => ({ choice: id, option: "not-tried" }));
    expect(picks).toHaveLength(1);
    expect(waysOf(NOBODY, [], { picks }).ways).toEqual([[0, "::77"]]);
  });
});

// RFC 4861 section 7.3.3: an entry is deleted after the last probe, and next-hop determination prefers who is reachable (6.3.6).
describe("a second way of a host whose router is silent", () => {
  const [one, two] = [siteWith(NEAR), siteWith(NEAR, "fd00:1::2")];

  it("is taken at once where it comes when the host has long found out", () => {
    const steps: readonly Step[] = [
      [10_000, ["near"]],
      [100_000, ["near"], two],
    ];
    expect(waysIn(one, steps).ways).toEqual([
      [0, "::1"],
      [100_000, "::2"],
    ]);
  });

  it("waits for the rest of the time where it comes before that", () => {
    const steps: readonly Step[] = [
      [10_000, ["near"]],
      [30_000, ["near"], two],
    ];
    expect(waysIn(one, steps).ways).toEqual([
      [0, "::1"],
      [10_000 + GIVING_UP_MS, "::2"],
    ]);
  });

  it("is tried before the third where it is silent, too, and nobody needed it before", () => {
    // Nothing is sent to the second until the first is given up: then DELAY_FIRST_PROBE_TIME and three probes.
    const three = siteWith(NEAR, NOBODY, "fd00:1::2");
    expect(waysIn(three, [[100_000, ["near"]]]).ways).toEqual([
      [0, "::1"],
      [100_000 + GIVING_UP_MS, "::77"],
      [100_000 + GIVING_UP_MS + 8000, "::2"],
    ]);
  });
});

describe("what is told of a silent router that stands by", () => {
  const three = siteWith(NEAR, NOBODY, "fd00:1::2");
  const whole = { network: three, down: [], off: [], silent: [] };

  function toldIn(course: Course, untilMs: number): readonly string[] {
    const told: string[] = [];
    for (let moment = course.next(untilMs); moment !== undefined; moment = course.next(untilMs))
      for (const { what, atMs, text } of moment.events) if (what === "neighbour") told.push(`${atMs} ${text}`);
    return told;
  }

  // No probes are sent where no traffic is (RFC 4861 section 7.3.3): nobody notices before the host needs it.
  it("is nothing until its host needs it, and then that it is given up", () => {
    const course = new Course(whole);
    expect(toldIn(course, 100_000)).toEqual([]);
    course.become({ ...whole, off: ["near"] });
    expect(toldIn(course, 200_000)).toEqual([
      `${100_000 + GIVING_UP_MS} gives up its router fd00:1::1`,
      `${100_000 + GIVING_UP_MS + 8000} gives up its router fd00:1::77`,
    ]);
  });

  it("is nothing from the cold either", () => {
    expect(toldIn(new Course(whole, { begins: "cold" }), 100_000)).toEqual([]);
  });
});

describe("law of settling where a router may be silent", () => {
  // Each cable fails once, and so does a device.
  it.each([0, 1, 2, 3])("holds from the beginning, after a failure and after its mending: seed %i", (seed) => {
    expect([NOBODY, NEAR].flatMap((preferred) => differencesAt(seed, site(preferred)))).toEqual([]);
  });
});
