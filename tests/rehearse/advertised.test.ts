/**
 * What a host knows by advertisements lasts as long as its lifetimes say, whatever becomes of its link or of its router: a default router
 * 1800 s and a prefix 30 days where nobody says otherwise (RFC 4861 section 6.2.1), each part by itself (sections 6.3.4 and 6.3.5, RFC
 * 4862 section 5.5.4). Whoever has no power forgets.
 */
import { describe, expect, it } from "vitest";
import { type Replayed, replay } from "../../src/rehearse/index.ts";
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
  intent: `dryrack: intent/1
networks: { crew: { ipv6: { delegated: edge/wan, subnet: 1 } } }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  edge:
    interfaces: { wan: { port: wan, ipv6: delegated }, crew: { network: crew, port: lan, host: 1 } }
    advertise: { crew: { resolvers: [edge/crew] } }
    resolver: { listen: [crew], forward: ["2001:db8:7100::1"] }
  desk: { legs: { nic: { network: crew, ipv6: advertised } } }
`,
  assertions: `dryrack: assertions/1
assertions:
  - { name: inside, from: desk, to: edge/crew, service: udp/53, expect: connects }
  - { name: out, from: desk, to: internet, service: tcp/443, expect: connects, family: ipv6 }
`,
};

const linesOf = (...steps: readonly string[]): string => steps.map((step) => `  - ${step}`).join("\n");
const played = (...steps: readonly string[]): Replayed => replayed(requestOf(SITE, linesOf(...steps)));

/** Changes of what the desk knows by advertisements, "30m: loses the router". Addresses of EUI-64 and of the link are told by a word. */
function known({ moments }: Replayed, device = "desk"): readonly string[] {
  return moments.flatMap(({ atMs, changes }) =>
    changes.flatMap((change) => {
      if (change.what !== "advertisement" || change.device !== device) return [];
      const text = change.text.replace(/fe80:\S+/g, "R").replace(/[0-9a-f:]+:[0-9a-f]+ff:fe[0-9a-f:]+/g, "A");
      return [`${tellTime(atMs)}: ${text}`];
    }),
  );
}

describe("what a host knows by advertisements", () => {
  it("outlasts its link", () => {
    const story = played(
      "{ at: 1m, unplug: edge:lan }",
      "{ at: 2m, plug: [edge:lan, desk:nic] }",
      "{ at: 3m, wait: 1s }",
    );
    expect(known(story)).toEqual([]);
  });

  it("outlasts a router without power, each part for its own lifetime", () => {
    const story = played("{ at: 1m, power-off: edge }", "{ at: 3h, assert: [out] }");
    const off = ["{ at: 1m, power-off: desk }", "{ at: 2m, unplug: edge:lan }", "{ at: 3m, power-on: desk }"];
    const alone = played(...off, "{ at: 3h, assert: [out] }");
    // The last advertisement came up to 10 min before; router and resolvers last 30 min.
    const [first, ...others] = known(story);
    expect(others).toEqual([]);
    expect(first).toMatch(/^2\dm\d*s?: loses the router R and the resolver 3fff:1:0:1::1$/);
    expect(story.demands[0]?.verdict?.headline).toContain("desk cannot use its address: its link is down");
    expect(alone.demands[0]?.verdict?.headline).toContain("desk got no address: its link is down");
  });

  it("is forgotten without power, and learned again", () => {
    const story = played("{ at: 1m, restart: desk, takes: 1m }", "{ at: 3m, wait: 1s }");
    const what = "A, the router R and the resolver 3fff:1:0:1::1";
    expect(known(story).map((line) => line.replace(/^\S+ /, ""))).toEqual([`forgets ${what}`, `learns ${what}`]);
  });

  it("is lost where its leg is told to speak IPv4 alone", () => {
    const written = "{ at: 1m, change: [{ set: desk.legs.nic, to: { ipv4: 10.1.1.9/24 } }] }";
    expect(known(played(written))).toEqual(["1m: loses A, the router R and the resolver 3fff:1:0:1::1"]);
  });
});

describe("a network that is cut anew from a delegated prefix", () => {
  const renumber = "{ at: 1m, change: [{ set: crew.ipv6.subnet, to: 2 }] }";

  it("has its router withdraw the old one at once, which its hosts deprecate and keep for two hours (RFC 7084 L-13, RFC 4862 section 5.5.3 e)", () => {
    const story = played(renumber, "{ at: 30m, assert: [inside, out] }", "{ at: 3h, assert: [inside, out] }");
    const old = /3fff:1:0:1:[0-9a-f:]+ff:fe[0-9a-f:]+/;
    const told = story.moments.flatMap(({ atMs, changes }) =>
      changes.flatMap(({ device, text }) => (device === "desk" && old.test(text) ? [[tellTime(atMs), text]] : [])),
    );
    expect(
      told.map(([at, text]) => `${at}: ${text?.replace(old, "OLD").replace(/3fff:1:0:2:\S+ff:fe[0-9a-f:]+/, "NEW")}`),
    ).toEqual(["1m: learns NEW, the resolver 3fff:1:0:2::1 and that OLD is deprecated", "2h1m: loses OLD"]);
    expect(demandsIn(story).map((line) => line.split(": ")[1])).toEqual(["passed", "passed", "passed", "passed"]);
  });

  it("is told by nobody where its router has no power meanwhile: what hosts know lasts as before", () => {
    const story = played(
      "{ at: 30s, power-off: edge }",
      renumber,
      "{ at: 2m, power-on: edge }",
      "{ at: 3h, wait: 1s }",
    );
    expect(known(story).filter((line) => /loses A|deprecated/.test(line))).toEqual([]);
  });
});

describe("a delegated prefix whose uplink is pulled", () => {
  const looks = ["{ at: 2m, assert: [inside, out] }", "{ at: 1h, assert: [inside, out] }"];
  const inside = (story: Replayed) => demandsIn(story).filter((line) => line.includes("inside"));

  it.each(["unplug: edge:wan", "power-off: carrier", "port-off: edge:wan"])(
    "stays with the router, which goes on advertising it and is no default router (%s; RFC 8415 section 18.2.5, RFC 7084 G-5)",
    (gone) => {
      const story = played(`{ at: 1m, ${gone} }`, ...looks);
      expect(known(story)).toEqual(["1m: loses the router R"]);
      expect(inside(story)).toEqual(["assert inside: passed", "assert inside: passed"]);
      expect(demandsIn(story).filter((line) => line === "assert out: failed")).toHaveLength(2);
    },
  );

  it("is told by no warning that nobody delegates it", () => {
    const story = requestOf(SITE, linesOf("{ at: 1m, unplug: edge:wan }"));
    expect(replay(story).diagnostics.map(({ code }) => code)).not.toContain("not-delegated");
  });

  it("is gone once the router starts anew, and its hosts keep what they made of it", () => {
    const story = played("{ at: 1m, unplug: edge:wan }", "{ at: 90s, restart: edge, takes: 10s }", ...looks);
    expect(inside(story)).toEqual(["assert inside: failed", "assert inside: failed"]);
    expect(known(story).filter((line) => line.includes("A"))).toEqual([]);
  });
});

describe("a site that has been up for long", () => {
  it("has heard its advertisements, though a spanning tree held the first ones back", () => {
    const topology = `dryrack: topology/1
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  edge: { is: router, ports: { wan: 1G, lan: 1G } }
  core: { is: switch, ports: { p1..4: 1G } }
  desk: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, edge:wan], [edge:lan, core:p1], [core:p2, desk:nic]]
`;
    const intent = `dryrack: intent/1
networks: { crew: { vlan: 10, ipv6: { delegated: edge/wan, subnet: 1 } } }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  edge:
    interfaces: { wan: { port: wan, ipv6: delegated }, crew: { network: crew, port: lan, host: 1 } }
    advertise: { crew: {} }
  core: { switching: { ports: { p1..2: { untagged: crew } } } }
  desk: { legs: { nic: { network: crew, ipv6: advertised } } }
`;
    const assertions = `dryrack: assertions/1
assertions:
  - { name: out, from: desk, to: "2001:4860::1", service: tcp/443, expect: connects }
`;
    const story = "  - { at: 1s, assert: [out] }\n";
    expect(demandsIn(replayed(requestOf({ topology, intent, assertions }, story)))).toEqual(["assert out: passed"]);
  });
});
