/**
 * Private addresses beyond an upstream: routes to them are not told between providers (RFC 1918 section 3), so nobody answers there but
 * in the provider's own network. That such packets leave is what a kernel does, and `blocked` counts them.
 */
import { describe, expect, it } from "vitest";
import { traceExchanges } from "../../src/check/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import { type Rooms, rooms } from "./rooms.ts";
import { judge, statuses, type TestSite } from "./verdicts.ts";

/** The rooms behind a provider whose network has private addresses, and one of IPv6. */
function home(changes: Rooms = {}): TestSite {
  return rooms({
    rack: "  carrier: { is: upstream, ports: { drop: 1G } }",
    cables: "  - [carrier:drop, r:p4]",
    interfaces: ', wan: { port: p4, ipv4: lease, ipv6: "2001:db8:9::2/64", gateway: "2001:db8:9::1" }',
    intent:
      '  carrier: { hands-out: { drop: { ipv4: 100.64.7.0/24, router: 100.64.7.1, hosts: 100-110, ipv6: "2001:db8:9::/64" } } }',
    router: `    reverse-path: strict
    translate: { source: [{ name: hide, out: wan, to: external-address }] }`,
    ...changes,
  });
}

const asked = (to: string, expected = "connects"): string =>
  `from: a, to: ${to}, service: tcp/443, expect: ${expected}`;

describe("an exchange with a private address that was written", () => {
  it.each([
    ["10.200.0.1", "Private-Use"],
    ["172.31.0.1", "Private-Use"],
    ["192.168.1.1", "Private-Use"],
    ["100.64.8.1", "Shared Address Space"],
    ["198.18.0.1", "Benchmarking"],
  ])("does not connect beyond the provider: %s", (address, block) => {
    const [connects, arrives] = judge(home(), asked(address), asked(address, "arrives"));
    expect([connects, arrives]).toMatchObject(["connects", "arrives"].map(() => ({ status: "failed" })));
    expect(connects?.headline).toBe(
      `a to ${address} on tcp/443: it leaves by carrier, and nobody on the internet has ${address} (${block}, RFC 6890)`,
    );
    expect(connects?.decided[0]).toBe(address);
    expect(connects?.verdict.help).toContain("write the address that was meant");
  });

  it("does not over IPv6 either, nor for a prefix, nor in a set", () => {
    const six = home({ router: "    reverse-path: strict" });
    const own = 'from: r, to: "fd00::1", service: tcp/443, expect: connects';
    expect(judge(six, own)).toMatchObject([
      { status: "failed", headline: expect.stringContaining("(Unique-Local, RFC 6890)") },
    ]);
    const set = home({ top: "sets: { office: [10.200.0.0/24] }" });
    expect(statuses(set, asked("10.200.0.0/24"), asked("office"))).toEqual(["failed", "failed"]);
  });

  it("shows the way as far as it leaves, and no answer", () => {
    const [verdict] = judge(home(), asked("10.200.0.1"));
    expect(verdict?.path.map(({ device }) => device)).not.toContain("carrier");
    expect(verdict?.path.map(({ text }) => text)).not.toContain("arrives");
  });

  it("connects where the provider hands it out as a resolver, or a route that is not the default one leads there", () => {
    const resolver = home({
      intent:
        "  carrier: { hands-out: { drop: { ipv4: 100.64.7.0/24, router: 100.64.7.1, hosts: 100-110, resolvers: [10.0.0.53] } } }",
    });
    expect(statuses(resolver, asked("10.0.0.53"), asked("10.0.0.54"))).toEqual(["passed", "failed"]);
    const routed = home({
      router: `    reverse-path: strict
    routes: [{ to: 10.200.0.0/16, via: 100.64.7.1 }]
    translate: { source: [{ name: hide, out: wan, to: external-address }] }`,
    });
    expect(statuses(routed, asked("10.200.0.1"), asked("10.201.0.1"))).toEqual(["passed", "failed"]);
  });

  it("connects to the provider's own box, to public addresses, and to those for documentation", () => {
    const fine = ["100.64.7.1", "8.8.8.8", "203.0.113.7", "internet"].map((to) => asked(to));
    expect(statuses(home(), ...fine)).toEqual(fine.map(() => "passed"));
  });

  it("is as it was where the address is one of the site, or the packet does not leave", () => {
    expect(statuses(home(), asked("10.2.0.10"))).toEqual(["passed"]);
    const [nobody] = judge(home(), asked("10.2.0.77"));
    expect(nobody?.headline).toContain("nobody answers for 10.2.0.77");
  });

  it("is still not blocked: the packet leaves", () => {
    const blocked = ["10.200.0.1", "internet"].map((to) => `from: a, to: ${to}, expect: blocked`);
    expect(statuses(home(), ...blocked)).toEqual(["failed", "failed"]);
  });

  it("fails in a trace, too, in the same words", () => {
    const evaluation = new Evaluation(home().network);
    const service = { protocol: 6, ports: [[443n, 443n]] as const };
    const [traced] = traceExchanges({ evaluation, from: "a", to: "10.200.0.1", service }).traced;
    expect(traced).toMatchObject({
      works: false,
      sentence: "it leaves by carrier, and nobody on the internet has 10.200.0.1 (Private-Use, RFC 6890)",
    });
    expect(traceExchanges({ evaluation, from: "a", to: "8.8.8.8", service }).traced[0]?.works).toBe(true);
  });
});
