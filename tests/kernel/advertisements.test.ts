/**
 * Router advertisements: what hosts on a real kernel make of those that radvd sends, and of ours in the simulator (kernel
 * fact 51). Each title is what both did.
 */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { type Judged, judged } from "./judge.ts";

const { describe, it } = needsNamespaces("nft", "python3", "radvd");
const rack = new Rack();
afterAll(() => rack.stop());

/** A desk on a switch with two routers, `edge` with a shelf behind it and `rim`; each is told its part. */
function office(told: {
  readonly edge?: string;
  readonly rim?: string;
  readonly desk?: string;
  readonly shut?: string;
  readonly kind?: "host" | "router";
}): Promise<Judged> {
  return judged(
    rack,
    `
devices:
  desk: { is: ${told.kind ?? "host"}, ports: { nic: 1G } }
  core: { is: switch, ports: { p1..3: 1G } }
  edge: { is: router, ports: { lan: 1G, far: 1G } }
  rim: { is: router, ports: { lan: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[desk:nic, core:p1], [edge:lan, core:p2], [rim:lan, core:p3], [edge:far, shelf:nic]]`,
    `
devices:
  desk: { ${told.kind === "router" ? "interfaces" : "legs"}: { nic: { ${told.kind === "router" ? "port: nic, " : ""}${told.desk ?? "ipv6: advertised"}, mac: "02:00:00:00:00:09" } }, ${told.shut ?? ""} }
  edge:
    interfaces: { lan: { port: lan, ipv6: "fd31:1::1/64", mac: "02:00:00:00:00:01" }, far: { port: far, ipv6: "fd31:1:2::1/64" } }
    ${told.edge ?? "advertise: { lan: {} }"}
  rim: { interfaces: { lan: { port: lan, ipv6: "fd31:3::1/64", mac: "02:00:00:00:00:02" } }, ${told.rim ?? ""} }
  shelf: { legs: { nic: { ipv6: "fd31:1:2::9/64", gateway: "fd31:1:2::1" } } }`,
  );
}

/** What the desk makes of the prefixes of its hardware address, and the routers' link-local addresses. */
const OF_EDGE = "fd31:1::ff:fe00:9/64";
const OF_RIM = "fd31:3::ff:fe00:9/64";
const FIRST_WAY = "router fe80::ff:fe00:1";
const SECOND_WAY = "router fe80::ff:fe00:2";

describe.concurrent("a host that waits for advertisements", () => {
  it("makes an address of the prefix and a default route by the router", async () => {
    const site = await office({});
    expect(site.advertised("desk/nic")).toBe(`${OF_EDGE}; ${FIRST_WAY}`);
    expect(await site.ask("desk", "ping6", "fd31:1:2::9")).toMatch(/^answered; shelf sees fd31:1:/);
    expect(await site.ask("shelf", "ping6", "fd31:1::1")).toMatch(/^answered/);
  });

  it("makes no default route by a router of no time", async () => {
    const site = await office({ edge: "advertise: { lan: { router-lifetime: 0s } }" });
    expect(site.advertised("desk/nic")).toBe(OF_EDGE);
    expect(await site.ask("desk", "ping6", "fd31:1::1")).toMatch(/^answered/);
    await site.ask("desk", "ping6", "fd31:1:2::9");
  });

  it("hears two routers: both prefixes, both default routes, the preferred one is used (fact 51)", async () => {
    for (const [edge, rim] of [
      ["high", "low"],
      ["medium", "high"],
    ]) {
      const site = await office({
        edge: `advertise: { lan: { preference: ${edge} } }`,
        rim: `advertise: { lan: { preference: ${rim} } }`,
      });
      expect(site.advertised("desk/nic")).toBe(`${OF_EDGE}; ${OF_RIM}; ${FIRST_WAY}; ${SECOND_WAY}`);
      const asked = await site.ask("desk", "ping6", "fd31:1:2::9");
      expect(asked).toMatch(edge === "high" ? /^answered; shelf sees / : /^silent$/);
    }
  });

  it("takes no default route where its gateway is written", async () => {
    const site = await office({ desk: 'ipv6: [advertised, "fd31:1::77/64"], gateway: "fd31:1::1"' });
    expect(site.advertised("desk/nic")).toBe(OF_EDGE);
    expect(await site.ask("desk", "ping6", "fd31:1:2::9")).toMatch(/^answered/);
  });

  it("that forwards takes no default route (fact 51)", async () => {
    const site = await office({ kind: "router" });
    expect(site.advertised("desk/nic")).toBe(OF_EDGE);
    await site.ask("desk", "ping6", "fd31:1:2::9");
  });

  it("hears nothing of a router whose filter keeps it in, nor where its own keeps it out", async () => {
    const shut = "filter: { from: { otherwise: drop } }";
    const inward = await office({ edge: `advertise: { lan: {} }\n    ${shut}` });
    expect(inward.advertised("desk/nic")).toBe("nothing");
    const deaf = await office({ shut: "filter: { to: { otherwise: drop } }" });
    expect(deaf.advertised("desk/nic")).toBe("nothing");
  });

  it("learns routers and links without an address of its own, too", async () => {
    const bare = await office({
      edge: "advertise: { lan: { autonomous: no } }",
      desk: 'ipv6: [advertised, "fd31:8::9/64"]',
    });
    expect(bare.advertised("desk/nic")).toBe(FIRST_WAY);
    // The prefix is on the link, so nobody is asked to hand on.
    expect(await bare.ask("desk", "ping6", "fd31:1::77")).toMatch(/^refused 1\/3 from fd31:8::9/);
    await bare.ask("desk", "ping6", "fd31:1:2::9");
    const wide = await office({
      edge: 'advertise: { lan: { prefixes: ["fd31:1::/56"] } }',
      desk: 'ipv6: [advertised, "fd31:8::9/64"]',
    });
    expect(wide.advertised("desk/nic")).toBe(FIRST_WAY);
    expect(await wide.ask("desk", "ping6", "fd31:1:0:7::77")).toMatch(/^refused 1\/3 from fd31:8::9/);
  });

  it("makes addresses of prefixes of 64 bits alone, and of those off the link no neighbours", async () => {
    const odd = await office({ edge: 'advertise: { lan: { prefixes: ["fd31:1::/56", "fd31:9::/64"] } }' });
    expect(odd.advertised("desk/nic")).toBe(`fd31:9::ff:fe00:9/64; ${FIRST_WAY}`);
    const off = await office({ edge: "advertise: { lan: { on-link: no } }" });
    expect(off.advertised("desk/nic")).toBe(`fd31:1::ff:fe00:9/128; ${FIRST_WAY}`);
    expect(await off.ask("desk", "ping6", "fd31:1::1")).toMatch(/^answered/);
  });
});
