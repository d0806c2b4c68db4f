/**
 * Who answers no question is known by the address from which it asks itself (kernel facts 8 and 12), and ARP asks from the address
 * that faces what it asks for (kernel fact 21). Each proof is replayed in the simulator.
 */
import { describe, expect, it } from "vitest";
import { judge, siteFrom } from "./verdicts.ts";

/** Far believes nobody at the edge's address, and forwards what comes for any of its network. */
function strict(addresses: string): ReturnType<typeof siteFrom> {
  return siteFrom(
    `
devices:
  asks: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { lan: 1G, out: 1G } }
  far: { is: router, ports: { in: 1G, side: 1G, lan: 1G } }
  other: { is: router, ports: { nic: 1G } }
  box: { is: host, ports: { nic: 1G } }
cables: [[asks:nic, edge:lan], [edge:out, far:in], [far:side, other:nic], [far:lan, box:nic]]`,
    `
networks: { mid: { ipv4: 10.0.6.0/24 }, home: { ipv4: 10.0.2.0/24 }, den: { ipv4: 10.0.7.0/24 } }
devices:
  asks: { legs: { nic: { network: home, host: 12, gateway: 10.0.2.1 } } }
  edge: { interfaces: { lan: { port: lan, network: home, host: 1 }, out: { port: out, network: mid, host: 1 } } }
  far:
    interfaces:
      in: { port: in, network: mid, ipv4: [${addresses}] }
      side: { port: side, ipv4: 10.0.9.1/24 }
      den: { port: lan, network: den, host: 1 }
    routes: [{ to: 10.0.6.1/32, via: 10.0.9.2 }, { to: 10.0.2.0/24, via: 10.0.6.1 }]
    reverse-path: strict
    translate: { dest: [{ name: door, in: in, dest: 10.0.6.0/24, service: tcp/8443, to: box }] }
  other: { interfaces: { n: { port: nic, ipv4: 10.0.9.2/24 } } }
  box: { legs: { nic: { network: den, host: 5, gateway: 10.0.7.1 } }, serves: { tcp/8443: [nic] } }`,
  );
}

describe("an address from which somebody asks", () => {
  it.each([
    ["10.0.6.12/24", "10.0.6.12"],
    ["10.0.6.12/24, 10.0.6.11/24", "10.0.6.12"],
    ["10.0.6.11/24, 10.0.6.12/24", "10.0.6.11"],
  ])("is the first of %s that faces who is asked, wherever it stands among the numbers", (addresses, asking) => {
    const [shut] = judge(strict(addresses), "from: asks, to: box, service: tcp/8443, expect: blocked");
    expect(shut?.headline).toBe(`a packet from asks gets to box: tcp/8443 to ${asking} reaches box`);
  });

  it("is not any other of the same station: by that it is still asked in vain", () => {
    const site = siteFrom(
      `
devices:
  edge: { is: router, ports: { out: 1G } }
  far: { is: router, ports: { in: 1G, side: 1G, lan: 1G } }
  kid: { is: host, ports: { nic: 1G } }
  box: { is: host, ports: { nic: 1G } }
cables: [[edge:out, far:in], [far:side, kid:nic], [far:lan, box:nic]]`,
      `
networks: { play: { ipv4: 10.0.2.0/24 }, den: { ipv4: 10.0.7.0/24 } }
devices:
  edge:
    interfaces: { out: { port: out, ipv4: [10.0.6.1/24, 10.0.8.1/24] } }
    routes: [{ to: 10.0.7.0/24, via: 10.0.8.12 }]
    translate: { dest: [{ name: door, dest: 10.0.77.5, service: tcp/8443, to: box }] }
  far:
    interfaces:
      in: { port: in, ipv4: [10.0.6.12/24, 10.0.8.12/24] }
      side: { port: side, network: play, host: 1 }
      den: { port: lan, network: den, host: 1 }
    routes: [{ to: 10.0.77.0/24, via: 10.0.6.1 }, { to: 10.0.8.1/32, action: blackhole }]
    reverse-path: loose
    filter:
      through:
        otherwise: drop
        rules: [{ name: a, in: side, out: in, action: accept }, { name: b, in: in, out: den, action: accept }]
  kid: { legs: { nic: { network: play, host: 5, gateway: 10.0.2.1 } } }
  box: { legs: { nic: { network: den, host: 5, gateway: 10.0.7.1 } }, serves: { tcp/8443: [nic] } }`,
    );
    const [shut, there] = judge(
      site,
      "from: kid, to: box, service: tcp/8443, expect: blocked",
      "from: kid, to: 10.0.77.5, service: tcp/8443, expect: arrives",
    );
    expect(there?.headline).toContain("nobody answers for 10.0.8.12 on the link of edge");
    // Far is known by that address once it has asked from it itself.
    expect(shut?.verdict.witness?.after).toHaveLength(1);
  });
});
