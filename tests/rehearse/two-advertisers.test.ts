/**
 * Two routers that advertise alike on one link: which of them a host takes as its own is open where it hears both at one time (RFC 4861
 * section 6.3.6 leaves the choice among routers to the host), and is that which it heard first where one comes later (our rule, as at rest).
 */
import { describe, expect, it } from "vitest";
import { demandsIn, replayed, requestOf } from "./stories.ts";

/** `one` leads to the shop, `two` leads nowhere. */
const SITE = {
  topology: `dryrack: topology/1
devices:
  one: { is: router, ports: { hall: 1G, shop: 1G } }
  two: { is: router, ports: { hall: 1G } }
  hall: { is: unmanaged-switch, ports: { p1..3: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables:
  - [one:hall, hall:p1]
  - [two:hall, hall:p2]
  - [desk:nic, hall:p3]
  - [one:shop, shop:nic]
`,
  intent: `dryrack: intent/1
devices:
  one:
    interfaces: { hall: { port: hall, ipv6: "fd00:1::1/64" }, shop: { port: shop, ipv6: "fd00:9::1/64" } }
    advertise: { hall: {} }
  two: { interfaces: { hall: { port: hall, ipv6: "fd00:1::2/64" } }, advertise: { hall: {} } }
  desk: { legs: { nic: { ipv6: advertised } } }
  shop: { legs: { nic: { ipv6: "fd00:9::9/64", gateway: "fd00:9::1" } }, serves: { tcp/80: all } }
`,
  assertions: `dryrack: assertions/1
assertions: [{ name: desk reaches shop, from: desk, to: shop, service: tcp/80, expect: connects }]
`,
};

describe("a story with two advertisers that may be heard first", () => {
  it("is played for each, and it is told with which it breaks", () => {
    const story = replayed(requestOf(SITE, "  - { at: 1m, assert: desk reaches shop }"));
    expect(demandsIn(story)).toEqual(["assert desk reaches shop: failed"]);
    expect(story.demands[0]?.text).toMatch(/ when two advertises first$/);
    expect(story.assumptions.slice(0, 2)).toEqual([
      "one advertises first, not two",
      "that is so in the account; what is demanded was judged in all 2 outcomes",
    ]);
  });

  it("has the router in every outcome that came first, where the other comes later", () => {
    const later = (second: string): string => `begins: from-dark
story:
  - { at: 0s, power-off: ${second} }
  - { at: 0s, power-off: desk }
  - { at: 1s, power-on: desk }
  - { at: 10m, power-on: ${second} }
  - { at: 20m, assert: desk reaches shop }`;
    const [kept, broken] = [later("two"), later("one")].map((story) => replayed(requestOf(SITE, story)));
    expect(kept && demandsIn(kept)).toEqual(["assert desk reaches shop: passed"]);
    expect(broken && demandsIn(broken)).toEqual(["assert desk reaches shop: failed"]);
  });
});
