/** A stack speaks to itself by loopback addresses (RFC 1122 section 3.2.1.3 g), and all stations answer who asks all of them. */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { judged } from "./judge.ts";
import { echo, packet, udp } from "./packets.ts";
import { row } from "./row.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

describe.concurrent("a loopback address", () => {
  it("is the stack itself, whatever the rest of 127/8 says", async () => {
    const site = await judged(rack, ...row());
    expect(await site.ask("desk", "ping", "127.0.0.1")).toBe("answered; desk sees 127.0.0.1 to 127.0.0.1");
    expect(await site.ask("desk", "tcp/80", "127.0.0.1")).toMatch(/^answered; desk sees/);
    expect(await site.ask("desk", "udp/53", "127.8.9.1")).toBe("answered; desk sees 127.0.0.1 to 127.8.9.1:53");
    expect(await site.ask("desk", "ping6", "::1")).toBe("answered; desk sees ::1 to ::1");
    expect(await site.ask("desk", "udp/53", "::1")).toMatch(/^answered; desk sees/);
  });

  it("of a router refuses what nothing listens to", async () => {
    const site = await judged(rack, ...row());
    expect(await site.ask("edge", "tcp/80", "127.0.0.1")).toBe("reset; edge sees 127.0.0.1 to 127.0.0.1:80");
    expect(await site.ask("edge", "udp/53", "::1")).toMatch(/^refused 1\/4 from ::1; edge sees/);
  });

  it("obeys rules for what comes in and goes out", async () => {
    const rules = "{ otherwise: accept, rules: [{ name: shut, service: tcp/80, action: drop }] }";
    const site = await judged(rack, ...row({ desk: `filter: { to: ${rules} }` }));
    expect(await site.ask("desk", "tcp/80", "127.0.0.1")).toBe("silent");
    expect(await site.ask("desk", "udp/53", "127.0.0.1")).toMatch(/^answered/);
  });

  it.each([
    ["127.0.0.1", "10.31.1.9"],
    ["::1", "fd31:1::9"],
  ])("%s is nobody's on a wire", async (source, to) => {
    const site = await judged(rack, ...row());
    expect(await site.send("shelf", packet(source, to, udp(5000, 53)))).toBe("nothing arrives");
  });
});

describe.concurrent("an echo request to a group", () => {
  it("is answered by a station from an address of its own", async () => {
    const site = await judged(rack, ...row());
    expect(await site.send("desk", packet("fd31:1::9", "ff02::2", echo(6)))).toBe(
      "desk gets ICMP 129/0 fd31:1::1 to fd31:1::9; edge gets ICMP 128/0 fd31:1::9 to ff02::2",
    );
  });
});
