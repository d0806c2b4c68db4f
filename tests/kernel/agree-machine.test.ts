/**
 * A site with tags, asked in a machine of its own: exchanges, a lease, and packets of a proof, those with tags too; and the
 * negative control, a machine whose rules were left out.
 */
import { expect } from "vitest";
import { MACHINE_BENCH } from "../../src/kernel/index.ts";
import { needs } from "../support/needs.ts";
import { inShort, judge, withoutRules } from "./agreeing.ts";

const { describe, it } = needs("qemu-system-x86_64");

const TOPOLOGY = `
devices:
  gate: { is: router, ports: { lan: 1G } }
  core: { is: switch, ports: { p1..3: 1G } }
  till: { is: host, ports: { nic: 1G } }
  lamp: { is: host, ports: { nic: 1G } }
cables: [[gate:lan, core:p1], [till:nic, core:p2], [lamp:nic, core:p3]]`;
const INTENT = `
networks: { shop: { vlan: 10, ipv4: 10.44.10.0/24 }, yard: { vlan: 20, ipv4: 10.44.20.0/24 } }
devices:
  gate:
    switching: { ports: { lan: { tagged: [shop, yard] } }, own: { tagged: [shop, yard] } }
    interfaces: { shop: { network: shop, host: 1 }, yard: { network: yard, host: 1 } }
    dhcp: { shop: { hosts: 50-60 } }
    filter:
      through:
        otherwise: drop
        rules: [{ name: web, in: shop, service: tcp/80, action: accept }, { name: back, state: established, action: accept }]
  core:
    switching:
      spanning-tree: "off"
      ports: { p1: { tagged: [shop, yard] }, p2: { untagged: shop }, p3: { untagged: yard } }
  till: { legs: { nic: lease } }
  lamp: { legs: { nic: { network: yard, host: 9, gateway: 10.44.20.1 } } }`;
const ASSERTIONS = `
assertions:
  - { name: web, from: till, to: lamp, service: tcp/80, expect: connects }
  - { name: lease, lease: { client: till, address: 10.44.10.50 } }
  - { name: not back, from: lamp, to: till, expect: blocked }`;

describe("a machine of its own", () => {
  it("answers for a site with tags as the simulator does", async () => {
    const [web, lease, back] = inShort(await judge([TOPOLOGY, INTENT], ASSERTIONS, undefined, MACHINE_BENCH));
    expect(web).toBe("agrees | answered; lamp sees 10.44.10.50 to 10.44.20.9:80");
    expect(lease).toBe("agrees | 10.44.10.50/24 from gate; router 10.44.10.1; resolvers 10.44.10.1; 43200 s");
    expect(back).toMatch(/^agrees \|/);
  }, 400_000);

  it("is found out when its rules were left out", async () => {
    const [web, lease, back] = await judge([TOPOLOGY, INTENT], ASSERTIONS, withoutRules("full"), MACHINE_BENCH);
    expect([web?.status, lease?.status, back?.status]).toEqual(["agrees", "agrees", "differs"]);
    const { kernel, model } = back?.disputes[0] ?? {};
    expect(kernel).toMatch(/till gets TCP SYN 40000>443 10\.44\.20\.9 to /);
    expect(model).toEqual(["nothing arrives"]);
  }, 400_000);
});
