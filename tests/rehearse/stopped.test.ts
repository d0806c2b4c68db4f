/** What fails because a server was stopped is decided by the step that stopped it, not by a line beside which it would stand. */
import { describe, expect, it } from "vitest";
import { type Replayed, type ReplayRequest, replay } from "../../src/rehearse/index.ts";
import { NO_INK, renderTimeline, renderTimelineMarkdown } from "../../src/report/index.ts";
import { requestOf, type Texts } from "./stories.ts";

const MILL: Texts = {
  topology: `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  weir: { is: router, ports: { wan: 1G, l1: 1G, up: 1G } }
  barn: { is: router, ports: { up: 1G, l1: 1G } }
  loom: { is: host, ports: { nic: 1G } }
  cart: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, weir:wan], [weir:l1, loom:nic], [weir:up, barn:up], [barn:l1, cart:nic]]
`,
  intent: `dryrack: intent/1
networks:
  floor: { ipv4: 10.44.1.0/24 }
  link: { ipv4: 10.44.2.0/24 }
  yard: { ipv4: 10.44.3.0/24 }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110, lease: 1h } } }
  weir:
    interfaces:
      wan: { port: wan, ipv4: lease }
      floor: { network: floor, port: l1, host: 1 }
      link: { network: link, port: up, host: 1 }
    admin: { services: [tcp/22], listen: [floor] }
    dhcp: { floor: { hosts: 100-199, lease: 10m }, yard: { hosts: 100-199, lease: 10m, router: 10.44.3.1 } }
    resolver: { listen: [floor], forward: [198.51.100.53] }
    routes: [{ to: yard, via: barn/link }]
    translate: { source: [{ name: hide, family: ipv4, out: wan, to: external-address }] }
  barn:
    interfaces:
      link: { network: link, port: up, host: 2, gateway: 10.44.2.1 }
      yard: { network: yard, port: l1, host: 1 }
    relay: { yard: { to: [10.44.2.1] } }
  loom: { legs: { nic: lease } }
  cart: { legs: { nic: lease } }
`,
  assertions: `dryrack: assertions/1
assertions:
  - { name: the loom asks for names, from: loom, to: weir/floor, service: [udp/53, tcp/53], expect: connects }
  - { name: the loom has names, from: loom, expect: resolves }
  - { name: the loom has a lease, lease: { client: loom } }
  - { name: the cart has a lease, lease: { client: cart } }
`,
};

/** Of each assertion that is asked: its status and the text that its verdict was decided by first. */
function decided(request: ReplayRequest, { demands }: Replayed): readonly string[] {
  return demands.map(({ name, status, verdict }) => {
    const { by, span } = verdict?.decidedBy[0]?.origin ?? { by: "nothing", span: { file: 0, start: 0, end: 0 } };
    const text = request.plan.sources[span.file]?.text.slice(span.start, span.end);
    return `${name}: ${status}: ${by} ${text}`;
  });
}

function decidedIn(story: string): readonly string[] {
  const request = requestOf(MILL, story);
  return decided(request, replay(request));
}

describe("a server that a story stops", () => {
  it("as a resolver is found at the step, whether it is asked or looked up with", () => {
    const story = `  - { at: 10s, server-off: { resolver: weir } }
  - { at: 20s, assert: [the loom asks for names, the loom has names] }`;
    expect(decidedIn(story)).toEqual([
      "the loom asks for names: failed: written { resolver: weir }",
      "the loom has names: failed: written { resolver: weir }",
    ]);
  });

  it("is told once, as the cause", () => {
    const request = requestOf(
      MILL,
      "  - { at: 10s, server-off: { resolver: weir } }\n  - { at: 20s, assert: the loom asks for names }",
    );
    const timeline = { ...replay(request), version: "0", sources: request.plan.sources };
    const [terminal, markdown] = [renderTimeline(timeline, NO_INK), renderTimelineMarkdown(timeline)];
    for (const text of [terminal, markdown]) expect(text).toContain("the resolver on weir stops");
    for (const text of [terminal, markdown]) expect(text).not.toContain("decided by");
  });

  it("is found at the last step that stopped it", () => {
    const story = `  - { at: 10s, server-off: { resolver: weir } }
  - { at: 20s, server-on: { resolver: weir } }
  - { at: 30s, server-off: { resolver: weir/floor } }
  - { at: 40s, assert: the loom asks for names }`;
    expect(decidedIn(story)).toEqual(["the loom asks for names: failed: written { resolver: weir/floor }"]);
  });

  it("as a DHCP server is found there by whom it leaves without a lease, by way of a relay, too", () => {
    const story = `  - { at: 10s, server-off: { dhcp: weir } }
  - { at: 1h, assert: [the loom has a lease, the cart has a lease] }`;
    expect(decidedIn(story)).toEqual([
      "the loom has a lease: failed: written { dhcp: weir }",
      "the cart has a lease: failed: written { dhcp: weir }",
    ]);
    // Who has an address asks for more time without the relay (RFC 2131 section 4.4.5).
    const relay = `  - { at: 10s, unplug: cart:nic }
  - { at: 1h, server-off: { relay: barn } }
  - { at: 2h, plug: [cart:nic, barn:l1] }
  - { at: 3h, assert: the cart has a lease }`;
    expect(decidedIn(relay)).toEqual(["the cart has a lease: failed: written { relay: barn }"]);
  });

  it("is not blamed where the plan lacks another service", () => {
    const asked = "{ name: x, from: loom, to: weir/floor, service: tcp/8443, expect: connects }";
    const story = `  - { at: 10s, server-off: { resolver: weir } }\n  - { at: 20s, assert: ${asked} }`;
    expect(decidedIn(story)).toEqual([`x: vacuous: written ${asked}`]);
  });
});
