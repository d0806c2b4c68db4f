/**
 * Two upstreams are on one internet: what somebody sends at one of them to an address that the other one serves comes there, and back.
 * Private addresses do not cross (RFC 1918 section 3).
 */
import { describe, expect, it } from "vitest";
import { judge, siteFrom, statuses, type TestSite } from "./verdicts.ts";

const RACK = `
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  mobile: { is: upstream, ports: { mast: 1G } }
  gw: { is: router, ports: { wan: 1G, lan: 1G } }
  nas: { is: host, ports: { nic: 1G } }
  road: { is: host, ports: { nic: 1G } }
cables:
  - [carrier:drop, gw:wan]
  - [gw:lan, nas:nic]
  - [mobile:mast, road:nic]
`;

/** A store behind a router that forwards tcp/8443 to it, and somebody on the road. */
function site({
  mobile = "ipv4: 198.51.100.0/24, router: 198.51.100.1, hosts: 100-110",
  rack = RACK,
  spare = "",
  carrier = "",
  gateway = ", gateway: 203.0.113.1",
  guard = "{ otherwise: drop, rules: [{ name: answers, state: [established, related], action: accept }] }",
  more = "",
} = {}): TestSite {
  return siteFrom(
    rack,
    `
networks:
  home: { ipv4: 10.40.1.0/24 }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1 }${carrier} } }
  mobile: { hands-out: { mast: { ${mobile} } } }
  gw:
    interfaces:
      wan: { port: wan, ipv4: 203.0.113.50/24${gateway} }
      ${spare}
      home: { network: home, port: lan, host: 1 }
    filter:
      to: ${guard}
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: out, in: home, out: wan, action: accept }
          - { name: shelf, in: wan, dest: nas, service: tcp/443, action: accept }
    translate:
      source: [{ name: hide, family: ipv4, out: wan, to: external-address }]
      dest: [{ name: door, family: ipv4, in: wan, dest: gw/wan, service: tcp/8443, to: nas, to-port: 443 }]
    ${more}
  nas: { legs: { nic: { network: home, host: 9, gateway: 10.40.1.1 } }, serves: { tcp/443: [nic] } }
  road: { legs: { nic: lease } }
`,
  );
}

const DOOR = "to: gw/wan, service: tcp/8443, expect: connects";

/** The same, but for the one on the road: he is at another port of the same provider, which hands that out. */
function neighbours(next: string): TestSite {
  return site({
    rack: RACK.replace("ports: { drop: 1G }", "ports: { drop: 1G, next: 1G }").replace(
      "[mobile:mast, road:nic]",
      "[carrier:next, road:nic]",
    ),
    carrier: `, next: { ${next} }`,
  });
}

describe("two upstreams", () => {
  it("are on one internet: what is sent at one comes to the customers of the other, and the answer back", () => {
    const [first] = judge(site(), `from: road, ${DOOR}`);
    expect(first).toMatchObject({ status: "passed" });
    const told = first?.path?.map(({ device, text }) => `${device} ${text}`);
    expect(told).toContain("mobile crosses the internet from mobile to carrier");
    expect(told).toContain("carrier crosses the internet from carrier to mobile");
    expect(JSON.stringify(first?.path)).not.toContain("~");
  });

  it("are both the internet, wherever a packet from there is sent", () => {
    expect(statuses(site(), `from: internet, ${DOOR}`, `from: internet/public, ${DOOR}`)).toEqual(["passed", "passed"]);
  });

  it("are asked by anybody on the internet over a version of IP that one of them speaks", () => {
    const six = siteFrom(
      RACK,
      `
networks: { home: { ipv6: { delegated: gw/wan, subnet: 1 } } }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  mobile: { hands-out: { mast: { ipv4: 198.51.100.0/24 } } }
  gw:
    interfaces: { wan: { port: wan, ipv6: delegated }, home: { network: home, port: lan, host: 1 } }
    advertise: { home: {} }
  nas: { legs: { nic: { network: home, ipv6: advertised } }, serves: { tcp/443: [nic] } }
`,
    );
    expect(statuses(six, "from: internet, to: nas, service: tcp/443, expect: connects")).toEqual(["passed"]);
  });

  it("share what neither serves: a packet from there comes in where its destination is served, and so does the answer", () => {
    expect(statuses(site(), `from: 9.9.9.9, ${DOOR}`, `from: 198.51.100.100, ${DOOR}`)).toEqual(["passed", "passed"]);
  });

  it("let a forward be found from anywhere on the internet", () => {
    const blocked = "to: nas, service: tcp/8443, expect: blocked";
    const [road, mobile, carrier] = judge(
      site(),
      `from: road, ${blocked}`,
      `from: mobile, ${blocked}`,
      `from: carrier, ${blocked}`,
    );
    expect([road?.status, mobile?.status, carrier?.status]).toEqual(["failed", "failed", "failed"]);
    expect(road?.decided[0]).toBe("shelf");
    expect(JSON.stringify(road?.verdict.path)).not.toContain("~");
  });

  it("answer for everything else as one alone does, the one while the other one is down, too", () => {
    expect(
      statuses(
        site(),
        "from: nas, to: internet, service: tcp/443, expect: connects",
        "from: road, to: internet, service: tcp/443, expect: connects",
        "from: road, to: 9.9.9.9, service: tcp/443, expect: connects",
      ),
    ).toEqual(["passed", "passed", "passed"]);
    const [out, over] = judge(
      site(),
      "from: nas, to: internet, service: tcp/443, expect: connects, survives: { one-of: devices }",
      `from: road, ${DOOR}, survives: { one-of: devices }`,
    );
    const broken = (one: typeof out): readonly string[] =>
      one?.verdict.breaks?.flatMap(({ without }) => without).toSorted() ?? [];
    expect(broken(out)).toEqual(["carrier", "gw"]);
    expect(broken(over)).toEqual(["carrier", "mobile", "nas"]);
  });

  it("do not reach what the other one serves while that has no power, and say so", () => {
    const dark = RACK.replace("carrier: { is: upstream", "carrier: { is: upstream, powered-by: [nas:feed]").replace(
      "nas: { is: host, ports: { nic: 1G } }",
      "nas: { is: host, ports: { nic: 1G, feed: 1G } }",
    );
    const [first] = judge(site({ rack: dark }), `from: road, ${DOOR}`);
    expect(first?.status).toBe("failed");
    expect(first?.headline).toContain("the internet beyond mobile leads to an upstream that is down");
    expect(first?.headline).not.toContain("~");
  });

  it("send to a customer of one by that one: the other one's cables and power are not missed", () => {
    const both = site({
      rack: RACK.replace("ports: { mast: 1G }", "ports: { mast: 1G, room: 1G }")
        .replace("ports: { wan: 1G,", "ports: { wan: 1G, spare: 1G,")
        .replace("[mobile:mast, road:nic]", "[mobile:room, road:nic]\n  - [mobile:mast, gw:spare]"),
      mobile: "ipv4: 198.51.100.128/25 }, room: { ipv4: 198.51.100.0/25, hosts: 100-110",
      spare: "spare: { port: spare, ipv4: 198.51.100.150/25 }",
    });
    const [cables, devices] = judge(
      both,
      `from: internet, ${DOOR}, survives: { one-of: cables }`,
      `from: internet, ${DOOR}, survives: { one-of: devices }`,
    );
    expect(cables?.verdict.breaks?.flatMap(({ without }) => without)).toEqual([
      "the cable carrier:drop - gw:wan",
      "the cable gw:lan - nas:nic",
    ]);
    expect(devices?.verdict.breaks?.flatMap(({ without }) => without).toSorted()).toEqual(["carrier", "nas"]);
  });

  it("send from an address that nobody serves: a router that lacks a way to the internet is seen", () => {
    const lost = site({ gateway: "" });
    const [internet, nine, carrier] = judge(
      lost,
      `from: internet, ${DOOR}`,
      `from: 9.9.9.9, ${DOOR}`,
      `from: carrier, ${DOOR}`,
    );
    expect([internet?.status, nine?.status, carrier?.status]).toEqual(["failed", "failed", "passed"]);
    expect(internet?.headline).toContain("gw knows no way to this address");
  });

  it("send from it in examples of what must not get through, too", () => {
    const [open] = judge(site({ mobile: "ipv4: 192.0.2.0/24" }), "from: internet, to: nas, expect: blocked");
    expect(open?.verdict.witness?.source).toBe("198.51.100.1");
    // That one is served here, so that another one stands for the internet (RFC 5737 has three such blocks).
    const [other] = judge(site(), "from: internet, to: nas, expect: blocked");
    expect(other?.verdict.witness?.source).toBe("192.0.2.1");
  });

  it("send from what the other one does not serve, too: what both hand out stays with each of them", () => {
    const twins = site({ mobile: "ipv4: 203.0.113.128/25, hosts: 100-110" });
    expect(statuses(twins, `from: internet, ${DOOR}`, `from: internet/public, ${DOOR}`)).toEqual(["passed", "passed"]);
  });

  it("lead their own customers to one another, port to port, as any router does (RFC 1812 section 5.2.4.3)", () => {
    const [in_, shelf, shell, back, shut] = judge(
      neighbours("ipv4: 192.0.2.0/24, hosts: 10-20"),
      `from: road, ${DOOR}`,
      "from: road, to: nas, service: tcp/8443, expect: blocked",
      "from: road, to: nas, service: tcp/22, expect: blocked",
      "from: nas, to: road, service: tcp/80, expect: connects",
      "from: nas, to: road, expect: blocked",
    );
    expect([in_, shelf, shell, back, shut].map((one) => one?.status)).toEqual([
      "passed",
      "failed",
      "passed",
      "passed",
      "failed",
    ]);
    expect(shelf?.decided[0]).toBe("shelf");
    expect(shell?.verdict.assumptions).toEqual([]);
  });

  it("do so with private addresses, too, which are theirs to route (RFC 6598 section 4, common practice)", () => {
    const shared = neighbours("ipv4: 100.64.7.0/24, hosts: 10-20");
    expect(statuses(shared, `from: road, ${DOOR}`, "from: nas, to: road, service: tcp/80, expect: connects")).toEqual([
      "passed",
      "passed",
    ]);
  });

  it("do so with delegated prefixes, be it on one port (RFC 8415 section 6.3)", () => {
    const shops = siteFrom(
      `
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  hub: { is: unmanaged-switch, ports: { p1..3: 1G } }
  gw: { is: router, ports: { wan: 1G, lan: 1G } }
  far: { is: router, ports: { wan: 1G, lan: 1G } }
  nas: { is: host, ports: { nic: 1G } }
  desk: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, hub:p1], [hub:p2, gw:wan], [hub:p3, far:wan], [gw:lan, nas:nic], [far:lan, desk:nic]]
`,
      `
networks:
  home: { ipv6: { delegated: gw/wan, subnet: 1 } }
  shop: { ipv6: { delegated: far/wan, subnet: 1 } }
devices:
  carrier: { hands-out: { drop: { ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  gw: { interfaces: { wan: { port: wan, ipv6: delegated }, home: { network: home, port: lan, host: 1 } }, advertise: { home: {} } }
  far: { interfaces: { wan: { port: wan, ipv6: delegated }, shop: { network: shop, port: lan, host: 1 } }, advertise: { shop: {} } }
  nas: { legs: { nic: { network: home, ipv6: advertised } }, serves: { tcp/443: [nic] } }
  desk: { legs: { nic: { network: shop, ipv6: advertised } } }
`,
    );
    const [over] = judge(shops, "from: desk, to: nas, service: tcp/443, expect: connects");
    expect(over?.status).toBe("passed");
    expect(over?.path?.map(({ device }) => device)).toContain("carrier");
  });

  it("do so from session to session, where an address that somebody may have tomorrow is nobody's but the peer's", () => {
    const rack = `
devices:
  isp: { is: upstream, ports: { drop: 1G } }
  r1: { is: router, ports: { wan: 1G, lan: 1G } }
  r2: { is: router, ports: { wan: 1G } }
  h1: { is: host, ports: { nic: 1G } }
  m: { is: unmanaged-switch, ports: { p1..3: 1G } }
cables: [[isp:drop, m:p1], [m:p2, r1:wan], [m:p3, r2:wan], [r1:lan, h1:nic]]`;
    const intent = `
networks: { n1: { ipv6: { delegated: r1/wan, subnet: 1 } } }
devices:
  isp: { hands-out: { drop: { pppoe: yes, ipv6: "2001:db8:7100::/64", delegates: 56 } } }
  r1:
    interfaces: { wan: { port: wan, pppoe: yes, ipv6: delegated }, lan: { port: lan, network: n1, host: 1 } }
    advertise: { lan: {} }
  r2:
    interfaces: { wan: { port: wan, pppoe: yes, ipv6: delegated } }
    routes: [{ to: default, out: wan }]
  h1: { legs: { nic: { network: n1, host: 9, ipv6: advertised } } }`;
    const [shut] = judge(siteFrom(rack, intent), "from: r2, to: n1, expect: blocked");
    expect(shut?.headline).toContain("a packet from r2 gets to n1");
  });

  it("have no way back to a private address of one that nobody translated: the router before them is told", () => {
    const rack = `
devices:
  carrier: { is: upstream, ports: { drop: 1G, next: 1G } }
  gw: { is: router, ports: { wan: 1G, lan: 1G } }
  pc: { is: host, ports: { nic: 1G } }
  shop: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, gw:wan], [gw:lan, pc:nic], [carrier:next, shop:nic]]`;
    const intent = `
networks: { home: { ipv4: 10.9.9.0/24 } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24 }, next: { ipv4: 192.0.2.0/24 } } }
  gw: { interfaces: { wan: { port: wan, ipv4: 203.0.113.9/24, gateway: 203.0.113.1 }, home: { network: home, port: lan, host: 1 } } }
  pc: { legs: { nic: { network: home, host: 9, gateway: 10.9.9.1 } } }
  shop: { legs: { nic: { ipv4: 192.0.2.9/24, gateway: 192.0.2.1 } }, serves: { tcp/443: [nic] } }`;
    const told = ["shop", "internet"].map(
      (to) => judge(siteFrom(rack, intent), `from: pc, to: ${to}, service: tcp/443, expect: connects`)[0],
    );
    for (const each of told) {
      expect(each?.headline).toContain("the answer is lost: carrier knows of no exchange that it belongs to");
      expect(each?.decided[0]).toBe("a translation of the source");
    }
  });

  it("answer nobody in the name of a customer who has no session (RFC 2516)", () => {
    const dark = siteFrom(
      RACK.replace("ports: { drop: 1G }", "ports: { drop: 1G, next: 1G }")
        .replace("  - [mobile:mast, road:nic]\n", "")
        .replace("  - [carrier:drop, gw:wan]", "  - [carrier:drop, road:nic]"),
      `
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, hosts: 10-20 }, next: { pppoe: yes, ipv4: 192.168.8.0/24 } } }
  road: { legs: { nic: lease } }
`,
    );
    expect(
      statuses(
        dark,
        "from: road, to: 192.168.8.9, service: tcp/80, expect: connects",
        "from: road, to: 192.168.9.9, service: tcp/80, expect: arrives",
        "from: road, to: 9.9.9.9, service: tcp/80, expect: connects",
      ),
    ).toEqual(["failed", "failed", "passed"]);
  });

  it("say in one way of every service that an answer leaves by another one than the request came in by (RFC 2827 section 3)", () => {
    const both = site({
      rack: RACK.replace("ports: { wan: 1G,", "ports: { wan: 1G, spare: 1G,").replace(
        "[mobile:mast, road:nic]",
        "[mobile:mast, gw:spare]",
      ),
      mobile: "ipv4: 192.0.2.0/24",
      spare: "spare: { port: spare, ipv4: 192.0.2.50/24 }",
      more: "admin: { services: [tcp/22, tcp/443], listen: [wan, spare] }\n    resolver: { listen: [spare], forward: [9.9.9.9] }",
      guard: "{ otherwise: accept }",
    });
    const to = "from: internet, to: gw/spare, expect: connects";
    const told = judge(both, to, `${to}, service: tcp/22`, `${to}, service: udp/53`, `${to}, service: tcp/443`);
    for (const { status, headline, decided } of told) {
      expect([status, decided[0]]).toEqual(["failed", "203.0.113.1"]);
      expect(headline).toContain(": the answer leaves by carrier, and the request came in by mobile");
    }
    expect(told).toHaveLength(4);
    expect(told[0]?.verdict.witness?.sentAt).toBe("mobile");
    expect(statuses(both, "from: internet, to: gw/wan, service: tcp/22, expect: connects")).toEqual(["passed"]);
  });

  it("let nothing with a private source cross (RFC 1918 section 3), while whoever is on the internet gets in", () => {
    const boxed = site({ mobile: "ipv4: 192.168.1.0/24, hosts: 100-110" });
    const [road] = judge(boxed, `from: road, ${DOOR}`);
    expect(road?.status).toBe("failed");
    expect(road?.headline).toContain("mobile lets only what has a public source cross the internet");
    // Its customers may send from whatever address they like, and somebody on the internet has a public one.
    expect(
      statuses(boxed, `from: internet, ${DOOR}`, "from: road, to: nas, service: tcp/8443, expect: blocked"),
    ).toEqual(["passed", "failed"]);
  });
});
