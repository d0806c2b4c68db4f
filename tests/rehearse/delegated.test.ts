/** A delegated prefix over time: who was answered has it until it is switched off, and whoever was not asks on. */
import { describe, expect, it } from "vitest";
import { tellTime } from "../../src/result/index.ts";
import { demandsIn, replayed, requestOf } from "./stories.ts";

const SITE = {
  topology: `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  edge: { is: router, ports: { wan: 1G, lan: 1G } }
  desk: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, edge:wan], [edge:lan, desk:nic]]
`,
  assertions: `dryrack: assertions/1
assertions:
  - { name: out, from: desk, to: "2001:4860::1", service: tcp/443, expect: connects }
`,
};

function intentOf(action: string): string {
  return `dryrack: intent/1
networks: { crew: { ipv6: { delegated: edge/wan, subnet: 1 } } }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  edge:
    saves: at-once
    interfaces: { wan: { port: wan, ipv6: delegated }, crew: { network: crew, port: lan, host: 1 } }
    advertise: { crew: {} }
    filter:
      to: { otherwise: accept, rules: [{ name: prefix, in: wan, service: udp/546, action: ${action} }] }
  desk: { legs: { nic: { network: crew, ipv6: advertised } } }
`;
}

const becomes = (action: string): string =>
  `{ at: 1m, change: [{ set: "edge.filter.to.rules[prefix].action", to: ${action} }] }`;
const demanded = (before: string, ...steps: readonly string[]): readonly string[] => {
  const story = ["{ at: 30s, assert: [out] }", ...steps].map((step) => `  - ${step}`).join("\n");
  return demandsIn(replayed(requestOf({ ...SITE, intent: intentOf(before) }, story)));
};

describe("a prefix", () => {
  it("comes when the rule does that lets its answer in", () => {
    expect(demanded("drop", becomes("accept"), "{ at: 30m, assert: [out] }")).toEqual([
      "assert out: failed",
      "assert out: passed",
    ]);
  });

  it("stays when that rule goes, until its router starts anew", () => {
    const restart = "{ at: 10m, restart: edge, takes: 1m }";
    const steps = [becomes("drop"), "{ at: 5m, assert: [out] }", restart, "{ at: 30m, assert: [out] }"];
    expect(demanded("accept", ...steps)).toEqual(["assert out: passed", "assert out: passed", "assert out: failed"]);
  });

  it("that never came does not come by the provider's going away; one that came stays meanwhile, but not over a restart", () => {
    const gone = "{ at: 1m, power-off: carrier }";
    const restart = "{ at: 5m, restart: edge, takes: 1m }";
    const later = "{ at: 30m, assert: [inside] }";
    expect(within("drop", gone, later)).toEqual(["assert inside: failed", "assert inside: failed"]);
    expect(within("accept", gone, later)).toEqual(["assert inside: passed", "assert inside: passed"]);
    expect(within("accept", gone, restart, later)).toEqual(["assert inside: passed", "assert inside: failed"]);
  });

  it("that nobody delegates any more leaves a network that is still meant to speak IPv6", () => {
    const assertions = `${SITE.assertions}  - { name: six, from: desk, to: internet, expect: connects, family: ipv6 }\n`;
    const story =
      "  - { at: 30s, assert: [six] }\n  - { at: 1m, unplug: edge:wan }\n  - { at: 5m, assert: [six] }\n" +
      "  - { at: 10m, restart: desk, takes: 1m }\n  - { at: 30m, assert: [six] }\n";
    const demands = demandsIn(replayed(requestOf({ ...SITE, assertions, intent: intentOf("accept") }, story)));
    expect(demands).toEqual(["assert six: passed", "assert six: failed", "assert six: failed"]);
  });

  it("that was refused is told with the rule and what to do, where addresses of it are written, too", () => {
    const [demand] = replayed(storyWithin("drop")).demands;
    expect(demand?.verdict?.headline).toContain("edge/wan got no prefix: the answer was dropped by edge");
    expect(demand?.verdict?.help).toContain("service: udp/546");
  });
});

/** What is told of the desk, with its time. */
function toldOf(...steps: readonly string[]): readonly string[] {
  const story = steps.map((step) => `  - ${step}`).join("\n");
  const { moments } = replayed(requestOf({ ...SITE, intent: intentOf("accept") }, story));
  return moments.flatMap(({ atMs, changes }) =>
    changes.flatMap(({ device, text }) => (device === "desk" ? [`${tellTime(atMs)} ${text}`] : [])),
  );
}

describe("a router of a customer whose uplink is lost (RFC 7084 G-5)", () => {
  const ROUTER = /the router fe80:\S+/;
  it("says at once that it is no default router, and keeps its prefix; with its uplink it is one again", () => {
    const [lost = "", again = "", ...more] = toldOf(
      "{ at: 1m, unplug: edge:wan }",
      "{ at: 5m, plug: [carrier:drop, edge:wan] }",
    );
    expect(lost.replace(ROUTER, "ROUTER")).toBe("1m loses ROUTER");
    expect(again.replace(ROUTER, "ROUTER")).toBe("5m learns ROUTER");
    expect(more).toEqual([]);
  });

  it("says it of a provider that has lost its power, too", () => {
    expect(toldOf("{ at: 1m, power-off: carrier }").map((text) => text.replace(ROUTER, "ROUTER"))).toEqual([
      "1m loses ROUTER",
    ]);
  });

  it("says it where its default route is a written one, too, and not before its last link out is lost", () => {
    const [second, cabled] = [
      "  other: { is: upstream, ports: { drop: 1G } }\n  edge:",
      "[other:drop, edge:wan2], [edge:lan",
    ];
    const topology = SITE.topology
      .replace("  edge:", second)
      .replace("wan: 1G,", "wan: 1G, wan2: 1G,")
      .replace("[edge:lan", cabled);
    const written = '{ ipv6: "2001:db8:7200::/64" }';
    const intent = intentOf("accept")
      .replace("  edge:", `  other: { hands-out: { drop: ${written} } }\n  edge:`)
      .replace(
        ", crew: {",
        ', wan2: { port: wan2, ipv6: "2001:db8:7200::2/64", gateway: "2001:db8:7200::1" }, crew: {',
      );
    const steps = [
      "{ at: 1m, unplug: edge:wan }",
      "{ at: 5m, unplug: edge:wan2 }",
      "{ at: 9m, plug: [other:drop, edge:wan2] }",
    ];
    const { moments } = replayed(
      requestOf({ ...SITE, topology, intent }, steps.map((step) => `  - ${step}`).join("\n")),
    );
    const told = moments.flatMap(({ atMs, changes }) =>
      changes.flatMap(({ device, text }) => (device === "desk" ? [`${tellTime(atMs)} ${text}`] : [])),
    );
    expect(told.map((text) => text.replace(ROUTER, "ROUTER"))).toEqual(["5m loses ROUTER", "9m learns ROUTER"]);
  });

  it("is none from its start on where it never had one", () => {
    const told = toldOf("{ at: 1m, unplug: edge:wan }", "{ at: 5m, restart: edge, takes: 1m }");
    expect(told.filter((text) => text.includes("learns"))).toEqual([]);
  });
});

/** A desk and a shelf with written addresses of the prefix, each in a network of its own. */
function storyWithin(action: string, ...steps: readonly string[]) {
  const topology = SITE.topology
    .replace("lan: 1G }", "lan: 1G, lan2: 1G }")
    .replace("cables:", "  shelf: { is: host, ports: { nic: 1G } }\ncables:")
    .replace("desk:nic]]", "desk:nic], [edge:lan2, shelf:nic]]");
  const intent = intentOf(action)
    .replace("subnet: 1 } }", "subnet: 1 } }, lab: { ipv6: { delegated: edge/wan, subnet: 2 } }")
    .replace("port: lan, host: 1 }", "port: lan, host: 1 }, lab: { network: lab, port: lan2, host: 1 }")
    .replace("    advertise: { crew: {} }\n", "")
    .replace("crew, ipv6: advertised", "crew, host: 7, gateway: edge/crew")
    .concat("  shelf: { legs: { nic: { network: lab, host: 7, gateway: edge/lab } } }\n");
  const assertions = SITE.assertions.replace("name: out", "name: inside").replace('"2001:4860::1"', "shelf");
  const story = ["{ at: 30s, assert: [inside] }", ...steps].map((step) => `  - ${step}`).join("\n");
  return requestOf({ topology, assertions, intent }, story);
}

function within(action: string, ...steps: readonly string[]): readonly string[] {
  return demandsIn(replayed(storyWithin(action, ...steps)));
}
