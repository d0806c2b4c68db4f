/** Who answers for the first address of an IPv6 prefix (RFC 4291 section 2.6.1), what, and from which address. */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { judged } from "./judge.ts";
import { echo, packet, tcp, udp } from "./packets.ts";
import { row } from "./row.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

const SERVES = "admin: { services: [tcp/80, udp/53] }";

/** An edge that is in further prefixes: one of two addresses, one whose first address is its own, one of a single address. */
const ODD_EDGE = row({ edge: SERVES }).map((text) =>
  text.replace(`"fd31:2::1/64"`, `["fd31:2::1/64", "fd31:2:1::1/127", "fd31:2:2::/64", "fd31:2:3::5/128"]`),
);

describe.concurrent("subnet-router anycast", () => {
  it.each(["fd31:1::", "fd31:2::"])("a router answers echo to %s, from an address of its own", async (to) => {
    const site = await judged(rack, ...row());
    expect(await site.send("desk", packet("fd31:1::9", to, echo(6)))).toBe(
      `desk gets ICMP 129/0 fd31:1::1 to fd31:1::9; edge gets ICMP 128/0 fd31:1::9 to ${to}`,
    );
  });

  it("its programs hear datagrams there and can answer from there", async () => {
    const site = await judged(rack, ...row({ edge: SERVES }));
    expect(await site.ask("desk", "udp/53", "fd31:2::")).toBe("answered; edge sees fd31:1::9 to fd31:2:::53");
    expect(await site.ask("shelf", "udp/53", "fd31:2::")).toBe("answered; edge sees fd31:2::9 to fd31:2:::53");
    expect(await site.ask("shelf", "udp/54", "fd31:2::")).toMatch(/^refused 1\/4 from fd31:2::; edge sees/);
  });

  it("no connection comes about, and nothing is refused", async () => {
    const site = await judged(rack, ...row({ edge: SERVES }));
    expect(await site.ask("desk", "tcp/80", "fd31:2::")).toBe("silent; edge sees fd31:1::9 to fd31:2:::80");
    expect(await site.ask("shelf", "tcp/80", "fd31:2::")).toBe("silent; edge sees fd31:2::9 to fd31:2:::80");
    expect(await site.send("desk", packet("fd31:1::9", "fd31:2::", tcp(4000, 81, 0x10)))).not.toContain("desk gets");
  });

  it("input rules decide, forwarding rules have no say", async () => {
    const shut = await judged(
      rack,
      ...row({
        edge: `${SERVES}, filter: { to: { otherwise: accept, rules: [{ name: shut, service: udp, action: drop }] } }`,
      }),
    );
    expect(await shut.ask("desk", "udp/53", "fd31:2::")).toBe("silent");
    const open = await judged(
      rack,
      ...row({ edge: `${SERVES}, filter: { to: { otherwise: accept }, through: { otherwise: drop } }` }),
    );
    expect(await open.ask("desk", "udp/53", "fd31:2::")).toMatch(/^answered; edge sees/);
  });

  it("a prefix of two addresses or one has none, and an own address is an ordinary one", async () => {
    const site = await judged(rack, ...ODD_EDGE);
    expect(await site.ask("desk", "udp/53", "fd31:2:1::")).toBe("refused 1/3 from fd31:1::1");
    expect(await site.ask("desk", "udp/53", "fd31:2:3::")).toBe("refused 1/0 from fd31:1::1");
    expect(await site.ask("desk", "tcp/80", "fd31:2:2::")).toMatch(/^answered; edge sees/);
  });

  it("a box that does not forward has none", async () => {
    const site = await judged(rack, ...row({ edge: "forwarding: off" }));
    expect(await site.ask("desk", "udp/53", "fd31:1::")).toBe("refused 1/3 from fd31:1::9");
  });

  it("as a source it fails reverse-path checks, which is seen without them", async () => {
    const forged = packet("fd31:1::", "fd31:2::9", udp(5000, 53));
    const loose = await judged(rack, ...row({ edge: "reverse-path: loose" }));
    expect(await loose.send("desk", forged)).toBe("nothing arrives");
    const none = await judged(rack, ...row());
    expect(await none.send("desk", forged)).toContain("shelf gets UDP 5000>53 fd31:1:: to fd31:2::9");
  });

  it("a router speaks to its own from the same interface", async () => {
    const site = await judged(rack, ...row({ edge: SERVES }));
    expect(await site.ask("edge", "udp/53", "fd31:2::")).toBe("answered; edge sees fd31:2::1 to fd31:2:::53");
  });
});
