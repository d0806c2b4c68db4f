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
      wan: { port: wan, ipv4: 203.0.113.50/24, gateway: 203.0.113.1 }
      ${spare}
      home: { network: home, port: lan, host: 1 }
    filter:
      to: { otherwise: drop, rules: [{ name: answers, state: [established, related], action: accept }] }
      through:
        otherwise: drop
        rules:
          - { name: answers, state: [established, related], action: accept }
          - { name: out, in: home, out: wan, action: accept }
          - { name: shelf, in: wan, dest: nas, service: tcp/443, action: accept }
    translate:
      source: [{ name: hide, family: ipv4, out: wan, to: external-address }]
      dest: [{ name: door, family: ipv4, in: wan, dest: gw/wan, service: tcp/8443, to: nas, to-port: 443 }]
  nas: { legs: { nic: { network: home, host: 9, gateway: 10.40.1.1 } }, serves: { tcp/443: [nic] } }
  road: { legs: { nic: lease } }
`,
  );
}

const DOOR = "to: gw/wan, service: tcp/8443, expect: connects";

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

  it("send from a link that is up: a cable of the one is not missed by who comes in over the other", () => {
    const both = site({
      rack: RACK.replace("ports: { mast: 1G }", "ports: { mast: 1G, room: 1G }")
        .replace("ports: { wan: 1G,", "ports: { wan: 1G, spare: 1G,")
        .replace("[mobile:mast, road:nic]", "[mobile:room, road:nic]\n  - [mobile:mast, gw:spare]"),
      mobile: "ipv4: 198.51.100.128/25 }, room: { ipv4: 198.51.100.0/25, hosts: 100-110",
      spare: "spare: { port: spare, ipv4: 198.51.100.150/25 }",
    });
    const [first] = judge(both, `from: internet, ${DOOR}, survives: { one-of: cables }`);
    expect(first?.verdict.breaks?.flatMap(({ without }) => without)).toEqual([
      "the cable carrier:drop - gw:wan",
      "the cable gw:lan - nas:nic",
    ]);
  });

  it("send from what the other one does not serve, too: what both hand out stays with each of them", () => {
    const twins = site({ mobile: "ipv4: 203.0.113.128/25, hosts: 100-110" });
    expect(statuses(twins, `from: internet, ${DOOR}`, `from: internet/public, ${DOOR}`)).toEqual(["passed", "passed"]);
  });

  it("let nothing through between customers of their own, which is told of what is blocked by that alone", () => {
    const neighbours = site({
      rack: RACK.replace("ports: { drop: 1G }", "ports: { drop: 1G, next: 1G }").replace(
        "[mobile:mast, road:nic]",
        "[carrier:next, road:nic]",
      ),
      carrier: ", next: { ipv4: 192.0.2.0/24, hosts: 10-20 }",
    });
    const [blocked, open] = judge(
      neighbours,
      "from: road, to: nas, expect: blocked",
      "from: nas, to: road, expect: blocked",
    );
    const said = "carrier lets nothing through from one customer of its own to another";
    expect(blocked).toMatchObject({ status: "passed", verdict: { assumptions: [said] } });
    expect(open).toMatchObject({ status: "passed", verdict: { assumptions: [said] } });
    const [apart] = judge(site(), "from: road, to: nas, service: tcp/22, expect: blocked");
    expect(apart).toMatchObject({ status: "passed", verdict: { assumptions: [] } });
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
