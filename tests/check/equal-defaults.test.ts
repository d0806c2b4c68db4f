/**
 * Two default routes of one rank: which one is taken is told of where a verdict was led by it, what the plan is warned of is what the
 * simulator does, and what the warning advises prefers the one and keeps the other.
 */
import { describe, expect, it } from "vitest";
import { resolvedOf } from "../support/site.ts";
import { judge, siteFrom } from "./verdicts.ts";

const RACK = `dryrack: topology/1
devices:
  fibre: { is: upstream, ports: { drop: 1G } }
  mobile: { is: upstream, ports: { mast: 100M } }
  edge: { is: router, ports: { wan1: 1G, wan2: 1G, lan: 1G } }
  till: { is: host, ports: { nic: 1G } }
cables:
  - [fibre:drop, edge:wan1]
  - [mobile:mast, edge:wan2]
  - [edge:lan, till:nic]
`;
const FIBRE = "fibre: { port: wan1, ipv4: lease }";
const MOBILE = "mobile: { port: wan2, ipv4: lease }";

function shop(uplinks: readonly string[], more = ""): string {
  return `dryrack: intent/1
networks: { shop: { ipv4: 10.1.0.0/24 } }
devices:
  fibre: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.9, hosts: 100-109 } } }
  mobile: { hands-out: { mast: { ipv4: 192.0.2.0/24, hosts: 50-59 } } }
  edge:
    interfaces: { shop: { network: shop, port: lan, host: 1 }, ${uplinks.join(", ")} }
    translate: { source: [{ name: out, family: ipv4, out: [fibre, mobile], to: external-address }] }
${more}
  till: { legs: { nic: { network: shop, host: 9, gateway: edge/shop } } }
`;
}

const OUT = "from: till, to: internet, service: tcp/443, expect: connects";
const HOME = "from: till, to: edge/shop, service: icmp/echo-request, expect: connects";

/** Warnings, each with the text of its places and its help. */
function warnings(intent: string): readonly string[] {
  const { diagnostics, textAt } = resolvedOf(RACK, intent);
  return diagnostics.map(({ code, message, labels, help }) =>
    [`${code}: ${message}`, ...labels.map(({ span, text }) => `${textAt(span)} (${text})`), help].join(" | "),
  );
}

/** What it rests on that something goes out by one uplink, and by which it goes. */
function taken(intent: string, asked = OUT): { readonly assumed: readonly string[]; readonly by: readonly string[] } {
  const site = siteFrom(RACK, intent);
  const [told] = judge(site, asked);
  expect(told?.status).toBe("passed");
  const assumed = (told?.assumptions ?? []).filter((each) => each.includes("default routes"));
  const slow = judge(site, `${asked}, bandwidth: at least 1G`)[0]?.status === "failed";
  return { assumed, by: [slow ? "mobile" : "fibre"] };
}

describe("two leases that each name a router", () => {
  it.each([
    ["fibre", "mobile", "192.0.2.1", [FIBRE, MOBILE]],
    ["mobile", "fibre", "203.0.113.9", [MOBILE, FIBRE]],
  ])("lead out by %s where its line comes first", (first, second, router, uplinks) => {
    const intent = shop(uplinks);
    expect(warnings(intent)).toEqual([
      `equal-defaults: \`edge\` has two default routes of one rank, by \`${first}\` and by \`${second}\` | lease () | lease (taken here, since its line comes first) | write \`gateway: none\` at \`${second}\` and \`routes: [{ to: default, via: ${router}, metric: 100 }]\` at \`edge\`, so that \`${first}\` goes first`,
    ]);
    expect(taken(intent)).toEqual({
      assumed: [`edge sends by ${first}, not by ${second}, what only its default routes fit: both rank the same`],
      by: [first],
    });
  });

  it("do not matter to what stays inside", () => {
    expect(taken(shop([FIBRE, MOBILE]), HOME).assumed).toEqual([]);
  });

  it.each([
    ["fibre", [MOBILE.replace(" }", ", gateway: none }"), FIBRE], "192.0.2.1"],
    ["mobile", [FIBRE.replace(" }", ", gateway: none }"), MOBILE], "203.0.113.9"],
  ])(
    "rank as is written where one is a route with a metric: %s goes first, and the other one after it",
    (by, uplinks, router) => {
      const intent = shop(uplinks, `    routes: [{ to: default, via: ${router}, metric: 100 }]`);
      expect(warnings(intent)).toEqual([]);
      expect(taken(intent)).toEqual({ assumed: [], by: [by] });
      expect(judge(siteFrom(RACK, intent), `${OUT}, survives: { one-of: [cables] }`)).toMatchObject([
        { status: "passed" },
      ]);
    },
  );
});

describe("a written default route beside a lease", () => {
  const stated = "mobile: { port: wan2, ipv4: 192.0.2.50/24, gateway: 192.0.2.1 }";

  it("goes first, wherever its line is", () => {
    const intent = shop([FIBRE, stated]);
    expect(warnings(intent)).toEqual([
      "equal-defaults: `edge` has two default routes of one rank, by `mobile` and by `fibre` | lease () | 192.0.2.1 (taken here, since what is written goes first) | write `gateway: none` at `fibre` and `routes: [{ to: default, via: 203.0.113.9, metric: 100 }]` at `edge`, so that `mobile` goes first",
    ]);
    expect(taken(intent).by).toEqual(["mobile"]);
  });

  it("ranks with another written one, whose metric is all that is to be said", () => {
    const [told] = warnings(
      shop(["fibre: { port: wan1, ipv4: 203.0.113.50/24 }", stated], "    routes: [{ to: default, via: 203.0.113.9 }]"),
    );
    expect(told).toMatch(/^equal-defaults: .*by `mobile` and by `fibre` .* give it a `metric`, such as 100, so that/);
  });
});

it.each([
  ["of one uplink", shop([FIBRE, "mobile: { port: wan2, ipv4: 192.0.2.50/24 }"])],
  [
    "that are of other ranks",
    shop(
      [FIBRE, "mobile: { port: wan2, ipv4: 192.0.2.50/24 }"],
      "    routes: [{ to: default, via: 192.0.2.1, metric: 1 }]",
    ),
  ],
  [
    "that are hops of one",
    shop(
      ["fibre: { port: wan1, ipv4: 203.0.113.50/24 }", "mobile: { port: wan2, ipv4: 192.0.2.50/24 }"],
      "    routes: [{ to: default, via: [192.0.2.1, 203.0.113.9] }]",
    ),
  ],
  ["of a lease that nobody gives", shop([FIBRE, MOBILE]).replace(", hosts: 50-59", ", hosts: none")],
])("says nothing of default routes %s", (_, intent) => {
  expect(warnings(intent).filter((each) => each.startsWith("equal-defaults"))).toEqual([]);
});

it("advises against `gateway: none` where IPv6 would go with it, if the other one has none", () => {
  const both = "mobile: { port: wan2, ipv4: lease, ipv6: advertised }";
  expect(warnings(shop([FIBRE, both]))[0]).toMatch(/`gateway: none` at `fibre` and .* so that `mobile` goes first$/);
  const all = warnings(shop([FIBRE.replace(" }", ", ipv6: advertised }"), both]))[0];
  expect(all).toMatch(/at `mobile` and .* so that `fibre` goes first; `none` leaves out its IPv6 router, too$/);
});

it("leaves out a route by a leased uplink whose cable is pulled, with a warning", () => {
  const uplinks = [MOBILE.replace(" }", ", gateway: none }"), FIBRE];
  const intent = shop(uplinks, "    routes: [{ to: default, via: 192.0.2.1, metric: 100 }]");
  const { site, diagnostics } = resolvedOf(RACK.replace("  - [mobile:mast, edge:wan2]\n", ""), intent);
  expect(site).toBeDefined();
  expect(diagnostics.filter(({ code }) => code === "gateway-off-link")).toMatchObject([
    { severity: "warning", notes: ["no lease comes to `mobile`, so the route is left out"] },
  ]);
});
