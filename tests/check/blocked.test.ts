/**
 * `blocked` (semantics, section 1): no packet that the source begins, whatever it writes into it, from any place where its
 * frames can enter, to anything that belongs to the target.
 */
import { describe, expect, it } from "vitest";
import { onlyRule, rooms } from "./rooms.ts";
import { judge, siteFrom, statuses, type TestSite } from "./verdicts.ts";

const NOTHING = "{ otherwise: drop }";
/** Keeps the router itself out of a question. */
const CLOSED = { to: NOTHING, through: NOTHING };
const RED_TO_BLUE = "from: red, to: blue, expect: blocked";

describe("what the sender chooses", () => {
  it("is nothing that helps where the filter drops everything", () => {
    expect(judge(rooms(CLOSED), RED_TO_BLUE)[0]).toMatchObject({ status: "passed", decided: ["drop"] });
  });

  it.each([
    ["the source address", "source: 10.1.0.99"],
    ["the hardware address", "source-mac: 02:00:5e:00:53:07"],
    ["the source port", "source-port: 1024"],
  ])("includes %s", (_what, condition) => {
    const service = condition.startsWith("source-port") ? ", service: udp" : "";
    const through = onlyRule(`{ name: trusted, ${condition}${service}, action: accept }`);
    const [verdict] = judge(rooms({ ...CLOSED, through }), RED_TO_BLUE);
    expect(verdict).toMatchObject({ status: "failed", decided: expect.arrayContaining(["trusted"]) });
  });

  it("is shown: the packet, where it is sent, and the rule that let it through", () => {
    const through = onlyRule("{ name: trusted, source: 10.1.0.99, service: tcp/80, action: accept }");
    const [verdict] = judge(rooms({ ...CLOSED, through }), RED_TO_BLUE);
    expect(verdict?.packet).toMatch(/^tcp\/80 from 10\.1\.0\.99 to 10\.2\.0\.\d+ at r:p1$/);
    expect(verdict?.why[0]).toBe("accepted by `trusted`");
  });

  it("includes tags: a port that carries a second network leads into it", () => {
    const ports = "p1: { untagged: red }, p2: { untagged: blue }, p3: { untagged: red, tagged: [blue] }";
    const [verdict] = judge(rooms({ ...CLOSED, ports }), RED_TO_BLUE);
    expect(verdict).toMatchObject({ status: "failed", packet: expect.stringMatching(/ at r:p3 tagged 20$/) });
  });

  it("includes one-way datagrams that nobody could answer", () => {
    const through = "{ otherwise: drop, rules: [{ name: syslog, in: red, service: udp/514, action: accept }] }";
    const site = rooms({ ...CLOSED, through, b: "serves: { tcp/80: all }" });
    expect(judge(site, RED_TO_BLUE)[0]).toMatchObject({
      status: "failed",
      decided: expect.arrayContaining(["syslog"]),
    });
  });
});

describe("a source of one link alone", () => {
  const rack = `devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  gate: { is: router, ports: { wan: 1G, lan: 1G } }
  till: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, gate:wan], [gate:lan, till:nic]]
`;
  const intent = `networks: { work: { ipv6: "2001:db8:20::/64" } }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:1::/64" } } }
  gate:
    interfaces: { wan: { port: wan, ipv6: advertised }, work: { port: lan, network: work, host: 1 } }
    filter:
      to: { otherwise: drop, rules: [{ name: near, source: "fe80::/10", action: accept }] }
      through: { otherwise: drop, rules: [{ name: far, source: "fe80::/10", action: accept }] }
  till: { legs: { nic: { network: work, host: 20 } } }
`;

  it("is forwarded by no router, and gets from the internet to no host, whatever a rule accepts (RFC 4291 section 2.5.6)", () => {
    expect(judge(siteFrom(rack, intent), "from: internet, to: till, expect: blocked")[0]?.status).toBe("passed");
  });

  it("gets to the router on the link of the uplink, and it is said that nobody further off can send it", () => {
    const [told] = judge(siteFrom(rack, intent), "from: internet, to: gate, expect: blocked");
    expect(told?.packet).toMatch(/ from fe80::1 to .* at gate:wan$/);
    expect(told?.verdict.help).toMatch(
      /^only somebody on the link at gate:wan itself, .* no router forwards a packet from fe80::1 \(RFC 4291 section 2\.5\)/,
    );
  });
});

describe("connections", () => {
  it("of which the source sent no packet first are none of its own", () => {
    const through = onlyRule("{ name: back, in: blue, out: red, action: accept }");
    expect(statuses(rooms({ to: NOTHING, through }), RED_TO_BLUE)).toEqual(["passed"]);
  });

  it("that the source begins itself carry its later packets", () => {
    // A packet in the middle of a connection passes once the first packet has made an entry.
    const rules =
      "[{ name: known, state: established, action: accept }, { name: pings, in: red, service: udp/7, action: accept }]";
    const through = `{ otherwise: drop, rules: ${rules} }`;
    expect(statuses(rooms({ to: NOTHING, through }), RED_TO_BLUE)).toEqual(["failed"]);
  });
});

describe("from a network", () => {
  const ports = (p3: string) => `p1: { untagged: red }, p2: { untagged: blue }, p3: ${p3}`;

  it("is from its unused ports, too", () => {
    const through = onlyRule("{ name: laptop, in: red, source: 10.1.0.10, action: accept }");
    const site = rooms({ to: NOTHING, through });
    const [verdict] = judge(site, `from: 10.1.0.10, to: blue, expect: blocked`);
    expect(verdict?.status).toBe("failed");
    const spare = rooms({ ...CLOSED, ports: ports("{ untagged: red, tagged: [blue] }") });
    expect(judge(spare, RED_TO_BLUE)[0]?.packet).toMatch(/ at r:p3 /);
  });

  it("is not from ports that are off", () => {
    expect(statuses(rooms({ ...CLOSED, ports: ports('"off"') }), RED_TO_BLUE)).toEqual(["passed"]);
  });

  it("is not from a port that leads to another managed device", () => {
    const trunk = {
      rack: "  s: { is: switch, ports: { p1..4: 1G } }",
      cables: "  - [r:p3, s:p1]",
      ports: ports("{ tagged: [red, blue], admit: tagged }"),
      intent:
        '  s: { switching: { unlisted: "off", ports: { p1: { tagged: [red, blue], admit: tagged }, p2: { untagged: red } } } }',
    };
    expect(statuses(rooms({ ...CLOSED, ...trunk }), RED_TO_BLUE)).toEqual(["passed"]);
  });

  it("is from behind an unmanaged switch, which passes tags on", () => {
    const shared = {
      rack: "  u: { is: unmanaged-switch, ports: { p1..4: 1G } }",
      cables: "  - [r:p3, u:p1]",
      ports: ports("{ untagged: red, tagged: [blue] }"),
    };
    expect(statuses(rooms({ ...CLOSED, ...shared }), RED_TO_BLUE)).toEqual(["failed"]);
  });

  it("is from the air", () => {
    const air = (network: string) => ({
      rack: "  ap: { is: access-point, ports: { up: 1G }, radios: [band5] }",
      cables: "  - [r:p3, ap:up]",
      ports: ports("{ tagged: [red, blue], admit: tagged }"),
      intent: `  ap: { ssids: { Room: { radio: band5, network: ${network} } }, switching: { ports: { up: { tagged: [red, blue], admit: tagged } } } }`,
    });
    const [verdict] = judge(rooms({ ...CLOSED, ...air("blue") }), "from: blue, to: red, expect: blocked");
    expect(verdict?.status).toBe("passed");
    const through = onlyRule("{ name: from the air, in: blue, action: accept }");
    const open = rooms({
      to: NOTHING,
      through,
      ...air("blue"),
      legsB: "nic: { network: blue, host: 10, gateway: 10.2.0.1 }",
    });
    expect(judge(open, "from: blue, to: red, expect: blocked")[0]?.status).toBe("failed");
  });
});

describe("to a network", () => {
  it("is to addresses that nobody owns", () => {
    const through = onlyRule("{ name: next host, dest: 10.2.0.77, action: accept }");
    const [verdict] = judge(rooms({ to: NOTHING, through }), RED_TO_BLUE);
    expect(verdict).toMatchObject({ status: "failed", decided: expect.arrayContaining(["next host"]) });
    expect(verdict?.headline).toContain("to 10.2.0.77 is put on the wire");
  });

  it("is to the router's own address there, which no `through` rule stops", () => {
    const [verdict] = judge(rooms({ through: NOTHING }), RED_TO_BLUE);
    expect(verdict?.headline).toMatch(/^a packet from red gets to blue: .* to 10\.2\.0\.1 reaches r$/);
    const to = "{ otherwise: accept, rules: [{ name: shut, dest: [r/blue, 10.2.0.255], action: drop }] }";
    expect(statuses(rooms({ through: NOTHING, to }), RED_TO_BLUE)).toEqual(["passed"]);
  });

  it("is to link-local addresses", () => {
    const networks = '  green: { vlan: 30, ipv4: 10.3.0.0/24, ipv6: "fd00:3::/64" }';
    const rules =
      '[{ name: four, family: ipv4, action: drop }, { name: six, dest: "fd00:3::/64", action: drop }, { name: groups, dest: "ff00::/8", action: drop }]';
    const site = rooms({
      networks,
      router: "",
      interfaces: ", green: { network: green, port: p4, host: 1 }",
      to: `{ otherwise: accept, rules: ${rules} }`,
    });
    const [verdict] = judge(site, "from: green, to: r/green, expect: blocked");
    expect(verdict?.headline).toMatch(/to fe80::[0-9a-f:]+ reaches r$/);
  });

  const twoLegs = (model: string) => ({
    rack: "  c: { is: host, ports: { one: 1G, two: 1G } }",
    cables: "  - [r:p3, c:one]\n  - [r:p4, c:two]",
    ports: "p1: { untagged: red }, p2: { untagged: blue }, p3: { untagged: red }, p4: { untagged: blue }",
    intent: `  c: { legs: { one: { network: red, host: 20 }, two: { network: blue, host: 20 } }, host-model: ${model} }`,
  });

  it("is to the address a host has there, on whichever leg the packet arrives", () => {
    const [verdict] = judge(rooms({ ...CLOSED, ...twoLegs("weak") }), RED_TO_BLUE);
    expect(verdict?.headline).toMatch(/to 10\.2\.0\.20 reaches c$/);
    expect(statuses(rooms({ ...CLOSED, ...twoLegs("strong") }), RED_TO_BLUE)).toEqual(["passed"]);
  });

  it("of a host that answers on each leg is mended by a strong one, where nothing else lets it through", () => {
    const helped = (site: TestSite, asked = RED_TO_BLUE): string | undefined => judge(site, asked)[0]?.verdict.help;
    const STRONG = "write `host-model: strong` for c: it then answers for an address only on the leg that has it";
    expect(helped(rooms({ ...CLOSED, ...twoLegs("weak") }))).toBe(STRONG);
    expect(helped(rooms({ ...CLOSED, ...twoLegs("weak") }), "from: a, to: c/two, expect: blocked")).toBe(STRONG);
    // All of its addresses are meant, one of which is on the sender's own link.
    expect(helped(rooms({ ...CLOSED, ...twoLegs("weak") }), "from: a, to: c, expect: blocked")).not.toBe(STRONG);
    // The way by the router stays.
    expect(helped(rooms({ ...CLOSED, through: "{ otherwise: accept }", ...twoLegs("weak") }))).not.toBe(STRONG);
  });

  it("is, to a host, to all its legs; a leg is named after the host", () => {
    const site = rooms({ ...CLOSED, ...twoLegs("strong") });
    expect(
      statuses(
        site,
        "from: a, to: c, expect: blocked",
        "from: a, to: c/one, expect: blocked",
        "from: a, to: c/two, expect: blocked",
      ),
    ).toEqual(["failed", "failed", "passed"]);
  });
});

describe("a pass says what blocks", () => {
  it.each([
    [
      "a rule",
      { to: NOTHING, through: "{ otherwise: drop, rules: [{ name: keep apart, out: blue, action: drop }] }" },
      "dropped by `keep apart`",
    ],
    ["the end of a list", CLOSED, "dropped by the end of the `through` list of r"],
  ])("%s", (_what, changes, told) => {
    const [verdict] = judge(rooms(changes), RED_TO_BLUE);
    expect(verdict).toMatchObject({ status: "passed" });
    expect(verdict?.headline).toBe(`no packet gets from red to blue; what gets furthest: ${told}`);
  });

  it("no route", () => {
    const [verdict] = judge(rooms(), "from: red, to: 10.9.0.5, expect: blocked");
    expect(verdict).toMatchObject({
      status: "passed",
      headline: expect.stringContaining("r knows no way to this address"),
    });
  });

  it("no link", () => {
    const site = rooms({ ...CLOSED, interfaces: ", far: { port: p4, ipv4: 10.4.0.1/24 }" });
    const [verdict] = judge(site, "from: red, to: 10.4.0.9, service: tcp/80, expect: blocked");
    expect(verdict?.status).toBe("passed");
  });

  it("nobody there", () => {
    const routes = "    routes: [{ to: 10.9.0.0/16, via: 10.2.0.99 }]";
    const [verdict] = judge(rooms({ router: routes }), "from: red, to: 10.9.0.5, expect: blocked");
    expect(verdict?.headline).toContain("nobody answers for 10.2.0.99 on the link of r");
  });

  it("and lists every line that it rests on", () => {
    const [verdict] = judge(rooms(CLOSED), "from: red, to: [blue, r], expect: blocked");
    const lines = verdict?.restsOn.map(({ text }) => text) ?? [];
    expect(lines).toContain("dropped by the end of the `through` list of r");
    expect(lines).toContain("dropped by the end of the `to` list of r");
    expect(lines).toContain("r drops a packet that claims to come from its own address");
    expect(new Set(lines).size).toBeGreaterThan(3);
  });
});

describe("a device with itself", () => {
  const site = rooms({
    ...CLOSED,
    rack: "  c: { is: host, ports: { nic: 1G } }",
    cables: "  - [r:p4, c:nic]",
    ports: "p1: { untagged: red }, p3: { untagged: red }, p2: { untagged: blue }, p4: { untagged: blue }",
    intent: "  c: { legs: { nic: { network: blue, host: 11, gateway: 10.2.0.1 } } }",
  });

  it("is left out of several: each is asked about the others", () => {
    // By icmp/destination-unreachable about its own packets a host would reach itself, which nobody means.
    const [told, joined] = judge(
      site,
      "from: [a, b], to: [a, b], expect: blocked",
      "from: [b, c], to: [b, c], expect: blocked",
    );
    expect(told).toMatchObject({ status: "passed" });
    expect(told?.cells.map(({ from, to }) => `${from} ${to}`)).toEqual(["a b", "b a"]);
    expect(joined).toMatchObject({ status: "failed", headline: expect.stringMatching(/^a packet from b gets to c: /) });
  });

  it("is nothing to ask about alone, as with `connects`", () => {
    const told = judge(site, "from: a, to: a, expect: blocked", "from: a, to: a, expect: connects");
    expect(told.map(({ status }) => status)).toEqual(["vacuous", "vacuous"]);
    expect(told[0]?.headline).toBe("nothing is asked: both ends are the same device");
  });

  it("is not what a network with itself is, which is everyone in it with everyone", () => {
    expect(statuses(site, "from: blue, to: blue, expect: blocked")).toEqual(["failed"]);
  });
});
