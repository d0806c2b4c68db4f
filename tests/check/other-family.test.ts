/** An uplink that waits for a lease of IPv4 alone is no reason for what has no way over IPv6. */
import { expect, it } from "vitest";
import { judge, siteFrom } from "./verdicts.ts";

const SITE = siteFrom(
  `
devices:
  carrier: { is: upstream, ports: { drop: 1G } }
  edge: { is: router, ports: { wan: 1G, lan: 1G } }
  desk: { is: host, ports: { nic: 1G } }
cables: [[edge:lan, desk:nic]]
`,
  `
networks: { crew: { ipv4: 10.90.1.0/24, ipv6: "fd90:1::/64" } }
devices:
  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, hosts: 10-20 } } }
  edge: { interfaces: { wan: { port: wan, ipv4: lease }, crew: { network: crew, port: lan, host: 1 } } }
  desk: { legs: { nic: { network: crew, host: 7, gateway: edge/crew } }, routes: [{ to: "::/0", via: "fd90:1::1" }] }
`,
);
const told = (family: string): string | undefined =>
  judge(SITE, `from: desk, to: internet, service: tcp/443, expect: connects, family: ${family}`)[0]?.headline;

it("is told of the version that it would have brought the route of", () => {
  expect(told("ipv4")).toContain("edge/wan got no address");
});

it("is not told of the other one", () => {
  expect(told("ipv6")).toContain("edge knows no way to this address");
  expect(told("ipv6")).not.toContain("edge/wan");
});
