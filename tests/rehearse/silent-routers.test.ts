/**
 * A host whose preferred router loses its power: it goes on sending there until unreachability detection tells it, 30 s (the middle of
 * ReachableTime, which is drawn from 15 to 45 s: RFC 4861 section 6.3.2), DELAY_FIRST_PROBE_TIME of 5 s and three probes of
 * RETRANS_TIMER of 1 s after the last answer (sections 7.3.3 and 10).
 */
import { describe, expect, it } from "vitest";
import { demandsIn, replayed, requestOf } from "./stories.ts";

const FOUND_OUT_MS = 30_000 + 5000 + 3 * 1000;

/** `left` is preferred by both hosts, `right` stands by; nothing on the links learns slowly. */
const SITE = {
  topology: `dryrack: topology/1
devices:
  left: { is: router, ports: { desks: 1G, shops: 1G } }
  right: { is: router, ports: { desks: 1G, shops: 1G } }
  desks: { is: unmanaged-switch, ports: { p1..3: 1G } }
  shops: { is: unmanaged-switch, ports: { p1..3: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables:
  - [left:desks, desks:p1]
  - [right:desks, desks:p2]
  - [desk:nic, desks:p3]
  - [left:shops, shops:p1]
  - [right:shops, shops:p2]
  - [shop:nic, shops:p3]
`,
  intent: `dryrack: intent/1
devices:
  left: { interfaces: { desks: { port: desks, ipv6: "fd00:1::1/64" }, shops: { port: shops, ipv6: "fd00:9::1/64" } } }
  right: { interfaces: { desks: { port: desks, ipv6: "fd00:1::2/64" }, shops: { port: shops, ipv6: "fd00:9::2/64" } } }
  desk:
    legs: { nic: { ipv6: "fd00:1::9/64" } }
    routes: [{ to: "::/0", via: "fd00:1::1", metric: 1 }, { to: "::/0", via: "fd00:1::2", metric: 9 }]
  shop:
    legs: { nic: { ipv6: "fd00:9::9/64" } }
    routes: [{ to: "::/0", via: "fd00:9::1", metric: 1 }, { to: "::/0", via: "fd00:9::2", metric: 9 }]
    serves: { tcp/80: all }
`,
  assertions: `dryrack: assertions/1
assertions: [{ name: desk reaches shop, from: desk, to: shop, service: tcp/80, expect: connects }]
`,
};

const STORY = `  - { at: 1m, power-off: left }
  - { at: 1m1s, assert: desk reaches shop }
  - { at: 1m40s, assert: desk reaches shop }
  - { at: 3m, power-on: left }
  - { at: 3m1s, assert: desk reaches shop }
  - { at: 4m, power-off: right }
  - { at: 5m, assert: desk reaches shop }`;

describe("a host whose preferred router is silent", () => {
  const story = replayed(requestOf(SITE, STORY));

  it("is cut off until it gives that router up, and uses it at once when it answers again", () => {
    expect(demandsIn(story).map((line) => line.split(": ")[1])).toEqual(["failed", "passed", "passed", "passed"]);
    expect(story.outages.map(({ times }) => times)).toEqual([[{ fromMs: 60_000, toMs: 60_000 + FOUND_OUT_MS }]]);
  });

  it("is told when it gives it up, and when it uses it again", () => {
    const changes = story.moments.flatMap((moment) =>
      moment.changes.flatMap(({ what, part, text }) =>
        what === "neighbour" ? [`${moment.atMs / 1000} s: ${part} ${text}`] : [],
      ),
    );
    expect(changes).toEqual([
      "98 s: desk/nic gives up its router fd00:1::1",
      "98 s: shop/nic gives up its router fd00:9::1",
      "180 s: desk/nic uses its router fd00:1::1 again",
      "180 s: shop/nic uses its router fd00:9::1 again",
    ]);
  });

  it("breaks what must hold meanwhile where the gap is shorter, and keeps it where it is not", () => {
    const kept = (gap: string): string => `  - { meanwhile: desk reaches shop, gap: ${gap} }\n${STORY}`;
    const first = (gap: string) => demandsIn(replayed(requestOf(SITE, kept(gap))))[0];
    expect(first("37s")).toBe("meanwhile desk reaches shop: failed");
    expect(first("38s")).toBe("meanwhile desk reaches shop: passed");
  });
});
