/**
 * Upstreams on a kernel: one leads what its customers send to one another, and answers from addresses beyond it. Of two, what stays
 * with one of them is judged there, what crosses the internet is said not to be.
 */
import { expect } from "vitest";
import { needsNamespaces } from "../support/needs.ts";
import { judge } from "./agreeing.ts";

const { describe, it } = needsNamespaces("nft", "python3");

const TOPOLOGY = `devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  mobile: { is: upstream, ports: { mast: 1G } }
  shop: { is: host, ports: { nic: 1G } }
  road: { is: host, ports: { nic: 1G } }
cables: [[carrier:drop, shop:nic], [mobile:mast, road:nic]]
`;
const INTENT = `devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24 } } }
  mobile: { hands-out: { mast: { ipv4: 198.51.100.0/24 } } }
  shop: { legs: { nic: { ipv4: 203.0.113.9/24, gateway: 203.0.113.1 } }, serves: { tcp/443: [nic] } }
  road: { legs: { nic: { ipv4: 198.51.100.9/24, gateway: 198.51.100.1 } } }
`;

describe("two upstreams on a kernel", () => {
  it("agree on what stays with one of them, and what crosses is told as not asked", async () => {
    const agreements = await judge(
      [TOPOLOGY, INTENT],
      `assertions:
  - { name: out, from: road, to: 192.0.2.9, service: tcp/443, expect: connects }
  - { name: over, from: road, to: shop, service: tcp/443, expect: connects }
  - { name: shut, from: road, to: shop, service: tcp/22, expect: blocked }
`,
    );
    expect(agreements.map(({ name, status }) => `${name} ${status}`)).toEqual([
      "out agrees",
      "over not-probed",
      "shut not-probed",
    ]);
    expect(agreements[1]?.missing.map(({ text }) => text)).toEqual(["the internet between `carrier` and `mobile`"]);
  });
});

describe("the customers of one upstream on a kernel", () => {
  it("reach one another by it, whatever port each is at, and the internet reaches who has a way back", async () => {
    const agreements = await judge(
      [
        `devices:
  carrier: { is: upstream, ports: { drop: 1G, next: 1G } }
  shop: { is: host, ports: { nic: 1G } }
  road: { is: host, ports: { nic: 1G } }
  lost: { is: host, ports: { nic: 1G } }
  bare: { is: router, ports: { wan: 1G, lan: 1G } }
  pc: { is: host, ports: { nic: 1G } }
  hub: { is: unmanaged-switch, ports: { p1..4: 1G } }
cables: [[carrier:drop, hub:p1], [hub:p2, shop:nic], [hub:p3, lost:nic], [hub:p4, bare:wan], [bare:lan, pc:nic], [carrier:next, road:nic]]
`,
        `devices:
  carrier:
    hands-out:
      drop: { ipv4: 203.0.113.0/24, ipv6: "2001:db8:7100::/64" }
      next: { ipv4: 100.64.7.0/24, ipv6: "2001:db8:7200::/64" }
  shop: { legs: { nic: { ipv4: 203.0.113.9/24, gateway: [203.0.113.1, "2001:db8:7100::1"], ipv6: "2001:db8:7100::9/64" } }, serves: { tcp/443: [nic] } }
  lost: { legs: { nic: { ipv4: 203.0.113.8/24, gateway: none } }, serves: { tcp/443: [nic] } }
  road: { legs: { nic: { ipv4: 100.64.7.9/24, gateway: [100.64.7.1, "2001:db8:7200::1"], ipv6: "2001:db8:7200::9/64" } }, serves: { udp/5000: [nic] } }
  # Translates nothing, so that what its own sends is private out there.
  bare:
    interfaces: { wan: { port: wan, ipv4: 203.0.113.7/24, gateway: 203.0.113.1 }, lan: { port: lan, ipv4: 10.9.9.1/24 } }
  pc: { legs: { nic: { ipv4: 10.9.9.9/24, gateway: 10.9.9.1 } } }
`,
      ],
      `assertions:
  - { name: over, from: road, to: shop, service: tcp/443, family: ipv4, expect: connects }
  - { name: over six, from: road, to: shop, service: tcp/443, family: ipv6, expect: connects }
  - { name: shut, from: road, to: shop, service: tcp/443, expect: blocked }
  - { name: nobody listens, from: road, to: shop, service: tcp/22, family: ipv6, expect: connects }
  - { name: in, from: internet, to: shop, service: tcp/443, family: ipv4, expect: connects }
  - { name: in six, from: internet, to: shop, service: tcp/443, family: ipv6, expect: connects }
  - { name: in to the lost one, from: internet, to: lost, service: tcp/443, family: ipv4, expect: connects }
  - { name: beside him, from: carrier, to: lost, service: tcp/443, family: ipv4, expect: connects }
  - { name: out, from: road, to: internet, service: tcp/443, family: ipv4, expect: connects }
  - { name: not translated, from: pc, to: road, service: udp/5000, family: ipv4, expect: arrives }
  - { name: and no way back, from: pc, to: road, service: udp/5000, family: ipv4, expect: connects }
  - { name: out six, from: road, to: internet, service: tcp/443, family: ipv6, expect: connects }
`,
    );
    expect(
      agreements.filter(({ status }) => status !== "agrees").map(({ name, status }) => `${name} ${status}`),
    ).toEqual([]);
    expect(agreements).toHaveLength(12);
  });
});
