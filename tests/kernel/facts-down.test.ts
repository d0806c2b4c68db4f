/**
 * Kernel fact 4, its last part: a leg that is administratively down keeps its addresses, and the device answers for them on its
 * other legs. A link that goes down later loses those of IPv6; a plan has only links that never were up.
 */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { judged } from "./judge.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

/** A router with one leg to a desk, and one to a shelf that is switched off. */
function halfDown(six: string): readonly string[] {
  return [
    `
devices:
  desk: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { left: 1G, right: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[desk:nic, edge:left], [edge:right, shelf:nic]]`,
    `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1${six === "" ? "" : ', ipv6: "fd31:1::9/64"'} } }${six === "" ? "" : ', routes: [{ to: "fd31:2::/64", via: "fd31:1::1" }]'} }
  edge:
    switching: { ports: { right: "off" } }
    interfaces:
      left: { port: left, ipv4: 10.31.1.1/24${six === "" ? "" : ', ipv6: "fd31:1::1/64"'} }
      right: { port: right, ipv4: 10.31.2.1/24${six} }
  shelf: { legs: { nic: { ipv4: 10.31.2.9/24, gateway: 10.31.2.1 } } }`,
  ];
}

describe.concurrent("fact 4: a leg that is administratively down", () => {
  it("keeps its IPv4 address, which the device answers for on another leg", async () => {
    const site = await judged(rack, ...halfDown(""));
    expect(await site.ask("desk", "ping", "10.31.2.1")).toBe("answered; edge sees 10.31.1.9 to 10.31.2.1");
    expect(await site.ask("desk", "tcp/22", "10.31.2.1")).toMatch(/^reset/);
  });

  it("leaves no route to what lies behind it", async () => {
    const site = await judged(rack, ...halfDown(""));
    expect(await site.ask("desk", "ping", "10.31.2.9")).toBe("refused 3/0 from 10.31.1.1");
  });

  it("has an IPv6 address, too, when it was given it while down", async () => {
    const site = await judged(rack, ...halfDown(', ipv6: "fd31:2::1/64"'));
    expect(await site.ask("desk", "ping6", "fd31:2::1")).toBe("answered; edge sees fd31:1::9 to fd31:2::1");
  });
});
