/** Kernel facts 13 to 15 and 18: what filter rules see, how they turn away, and what a local program is told. */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { judged } from "./judge.ts";
import { packet, tcp } from "./packets.ts";
import { row } from "./row.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

/** A filter with one list that has one rule and accepts all else. */
function one(list: "to" | "through" | "from", rule: string): string {
  return `filter: { ${list}: { otherwise: accept, rules: [{ name: the one, ${rule} }] } }`;
}

describe.concurrent("fact 13: what interfaces in rules mean", () => {
  it("the way out never matches on input, nor the way in on output", async () => {
    const input = await judged(rack, ...row({ edge: one("to", "out: left, action: drop") }));
    expect(await input.ask("desk", "ping", "10.31.1.1")).toMatch(/^answered/);
    const output = await judged(rack, ...row({ edge: one("from", "in: left, action: drop") }));
    expect(await output.ask("desk", "ping", "10.31.1.1")).toMatch(/^answered/);
  });

  it("traffic to own addresses enters by no leg of the device", async () => {
    const site = await judged(rack, ...row({ edge: one("to", "in: [left, right], action: drop") }));
    expect(await site.ask("edge", "ping", "10.31.2.1")).toMatch(/^answered/);
    expect(await site.ask("desk", "ping", "10.31.2.1")).toBe("silent");
  });

  it("and leaves by none", async () => {
    const site = await judged(rack, ...row({ edge: one("from", "out: [left, right], action: drop") }));
    expect(await site.ask("edge", "ping", "10.31.2.1")).toMatch(/^answered/);
    expect(await site.ask("desk", "ping", "10.31.2.1")).toBe("silent; edge sees 10.31.1.9 to 10.31.2.1");
  });

  it("the first match is final, what nothing matches meets the last word", async () => {
    const rules = `[{ name: a, dest: 10.31.2.9, service: tcp/80, action: accept },
      { name: b, service: tcp/80, action: drop }, { name: c, source: 10.31.1.0/24, service: [udp/53, icmp], action: accept },
      { name: d, source: 10.31.2.9, action: accept }]`;
    const site = await judged(rack, ...row({ edge: `filter: { through: { otherwise: reject, rules: ${rules} } }` }));
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:80");
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:53");
    expect(await site.ask("desk", "tcp/80", "fd31:2::9")).toBe("silent");
    expect(await site.ask("desk", "tcp/443", "10.31.2.9")).toBe("refused 3/3 from 10.31.1.1");
  });
});

const KINDS = [
  { how: "reject", v4: "3/3", v6: "1/4" },
  { how: "reject, with: port-unreachable", v4: "3/3", v6: "1/4" },
  { how: "reject, with: host-unreachable", v4: "3/1", v6: "1/3" },
  { how: "reject, with: network-unreachable", v4: "3/0", v6: "1/0" },
  { how: "reject, with: prohibited", v4: "3/13", v6: "1/1" },
];

describe.concurrent("fact 14: how a reject answers", () => {
  it.each(KINDS)("$how: $v4, in IPv6 $v6, for TCP too", async ({ how, v4, v6 }) => {
    const site = await judged(rack, ...row({ edge: one("through", `service: [tcp, udp], action: ${how}`) }));
    for (const service of ["tcp/80", "udp/53"]) {
      expect(await site.ask("desk", service, "10.31.2.9")).toBe(`refused ${v4} from 10.31.1.1`);
      expect(await site.ask("desk", service, "fd31:2::9")).toBe(`refused ${v6} from fd31:1::1`);
    }
  });

  it("a TCP reset comes from the target's address; other protocols get the ICMP error", async () => {
    const site = await judged(rack, ...row({ edge: one("through", "action: reject, with: tcp-reset") }));
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("reset");
    expect(await site.ask("desk", "tcp/80", "fd31:2::9")).toBe("reset");
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toBe("refused 3/3 from 10.31.1.1");
    expect(await site.ask("desk", "ping6", "fd31:2::9")).toBe("refused 1/4 from fd31:1::1");
    expect(await site.send("desk", packet("10.31.1.9", "10.31.2.9", tcp(5000, 80, 2)))).toBe(
      "desk gets TCP RST+ACK 80>5000 10.31.2.9 to 10.31.1.9",
    );
  });

  it("a reject on input answers with the address that was asked", async () => {
    const site = await judged(rack, ...row({ edge: one("to", "service: [tcp, udp, icmp], action: reject") }));
    expect(await site.ask("desk", "udp/53", "10.31.2.1")).toBe("refused 3/3 from 10.31.2.1");
    expect(await site.ask("desk", "tcp/22", "10.31.2.1")).toBe("refused 3/3 from 10.31.2.1");
    expect(await site.ask("desk", "ping", "10.31.2.1")).toBe("refused 3/3 from 10.31.2.1");
  });
});

describe.concurrent("fact 15: rules on what a device itself sends", () => {
  it("a drop is told to UDP and ICMP at once (EPERM), to TCP by silence", async () => {
    const site = await judged(rack, ...row({ desk: "filter: { from: { otherwise: drop } }" }));
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toBe("local error");
    expect(site.errno).toBe("EPERM");
    expect(await site.ask("desk", "ping", "10.31.2.9")).toBe("local error");
    expect(site.errno).toBe("EPERM");
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("silent");
  });

  it("a reject is told to TCP as the ICMP error, to UDP and ICMP as EPERM", async () => {
    const site = await judged(rack, ...row({ desk: one("from", "dest: 10.31.2.9, action: reject") }));
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("refused 3/3 from 10.31.1.9");
    expect(await site.ask("desk", "udp/53", "10.31.2.9")).toBe("local error");
    expect(site.errno).toBe("EPERM");
    expect(await site.ask("desk", "ping", "10.31.2.9")).toBe("local error");
  });

  it("a reset for everything eats itself: TCP sees silence", async () => {
    const site = await judged(rack, ...row({ desk: one("from", "action: reject, with: tcp-reset") }));
    expect(await site.ask("desk", "tcp/80", "10.31.2.9")).toBe("silent");
    const some = await judged(rack, ...row({ desk: one("from", "dest: 10.31.2.9, action: reject, with: tcp-reset") }));
    expect(await some.ask("desk", "tcp/80", "10.31.2.9")).toBe("reset");
  });

  it("a local neighbour failure comes back through the device's own input", async () => {
    const open = await judged(rack, ...row());
    expect(await open.ask("desk", "tcp/80", "10.31.1.77")).toBe("refused 3/1 from 10.31.1.9");
    const shut = await judged(rack, ...row({ desk: one("to", "source: 10.31.1.9, action: drop") }));
    expect(await shut.ask("desk", "tcp/80", "10.31.1.77")).toBe("silent");
    expect(await shut.ask("desk", "ping", "10.31.1.77")).toBe("silent");
  });
});

describe.concurrent("fact 18: neighbour discovery is untracked, and ARP is no IP", () => {
  it("all four states together do not accept it", async () => {
    const states = "state: [new, established, related, invalid]";
    const filter = `filter: { to: { otherwise: drop, rules: [{ name: all, ${states}, action: accept }] } }`;
    const site = await judged(rack, ...row({ shelf: filter }));
    expect(await site.ask("desk", "ping", "10.31.2.9")).toMatch(/^answered/);
    expect(await site.ask("desk", "ping6", "fd31:2::9")).toBe("refused 1/3 from fd31:1::1");
  });

  it.each(["state: untracked", "service: [icmp6/neighbour-solicitation, icmp6/neighbour-advertisement]"])(
    "an accept of its own does: %s",
    async (own) => {
      const rules = `[{ name: found, ${own}, action: accept }, { name: all, state: [new, established], action: accept }]`;
      const site = await judged(rack, ...row({ shelf: `filter: { to: { otherwise: drop, rules: ${rules} } }` }));
      expect(await site.ask("desk", "ping6", "fd31:2::9")).toMatch(/^answered/);
    },
  );

  it("a router that forwards asks from its link-local address, a sender from that of the waiting packet", async () => {
    const from = (source: string) =>
      row({
        shelf: `filter: { to: { otherwise: drop, rules: [
          { name: asked, source: "${source}", service: icmp6/neighbour-solicitation, action: accept },
          { name: told, service: [icmp6/neighbour-advertisement, icmp6/echo-request], action: accept }] } }`,
      });
    const linkLocal = await judged(rack, ...from("fe80::/10"));
    expect(await linkLocal.ask("desk", "ping6", "fd31:2::9")).toMatch(/^answered/);
    const other = await judged(rack, ...from("fd31:2::1"));
    expect(await other.ask("desk", "ping6", "fd31:2::9")).toBe("refused 1/3 from fd31:1::1");
    expect(await other.ask("edge", "ping6", "fd31:2::9")).toMatch(/^answered/);
  });

  it("rules that drop everything do not hide a device from ARP", async () => {
    const filter = "filter: { to: { otherwise: drop }, from: { otherwise: drop } }";
    const site = await judged(rack, ...row({ shelf: filter }));
    expect(await site.ask("desk", "ping", "10.31.2.9")).toBe("silent");
    expect(await site.ask("desk", "ping", "10.31.2.77")).toBe("refused 3/1 from 10.31.1.1");
  });
});
