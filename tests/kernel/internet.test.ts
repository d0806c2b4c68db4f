/** Two upstreams on a kernel: what stays with one of them is judged there, what crosses the internet is said not to be. */
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
