/**
 * DHCP: what clients are lent by dnsmasq on a real kernel, and by our own servers in the simulator: options, reservations, the
 * order of a pool, relays, and what filters do to all of it (kernel facts 26, 27, 31). Each title is what both did.
 */
import { expect } from "vitest";
import type { KernelPlan } from "../../src/kernel/index.ts";
import { planKernel } from "../../src/kernel/index.ts";
import type { Site } from "../../src/site/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { inShort, judge } from "./agreeing.ts";

const { describe, it } = needsNamespaces("nft", "python3", "dnsmasq");

const HOSTS = ["amber", "basil", "cedar"];

/** Three clients on one switch with a router, 10.41.7.1, that serves them. */
function hall(dhcp: string, more = "", hosts = ""): readonly [string, string] {
  const topology = `
devices:
  edge: { is: router, ports: { lan: 1G, far: 1G } }
  core: { is: switch, ports: { p1..5: 1G } }
  depot: { is: router, ports: { up: 1G } }
${HOSTS.map((host) => `  ${host}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables: [[edge:lan, core:p4], [edge:far, depot:up], ${HOSTS.map((host, index) => `[${host}:nic, core:p${index + 1}]`).join(", ")}]`;
  const intent = `
networks: { hall: { ipv4: 10.41.7.0/24 }, back: { ipv4: 10.41.8.0/24 } }
devices:
  edge: { interfaces: { lan: { network: hall, port: lan, host: 1 }, far: { network: back, port: far, host: 1 } }, ${dhcp} }
  depot: { interfaces: { up: { network: back, port: up, host: 2, gateway: 10.41.8.1 } }, ${more} }
${HOSTS.map((host) => `  ${host}: { legs: { nic: lease }, ${hosts} }`).join("\n")}`;
  return [topology, intent];
}

const ALL = `assertions:\n${HOSTS.map((host) => `  - { name: ${host}, lease: { client: ${host}, address: 10.41.7.0/24 } }`).join("\n")}`;
const TOLD = "router 10.41.7.1; resolvers 10.41.7.1; 43200 s";

async function lent(site: readonly [string, string], plan?: (site: Site) => KernelPlan): Promise<readonly string[]> {
  return inShort(await judge(site, ALL, plan));
}

describe.concurrent("a pool", () => {
  it("goes lowest first, and a client beyond its end hears nothing", async () => {
    expect(await lent(hall("dhcp: { lan: { hosts: 50-51, lease: 12h } }"))).toEqual([
      `agrees | 10.41.7.50/24 from edge; ${TOLD}`,
      `agrees | 10.41.7.51/24 from edge; ${TOLD}`,
      "agrees | no lease",
    ]);
  });

  it("goes highest first, over several runs", async () => {
    expect(await lent(hall("dhcp: { lan: { hosts: [20-21, 50], lease: 12h, order: highest-first } }"))).toEqual([
      `agrees | 10.41.7.50/24 from edge; ${TOLD}`,
      `agrees | 10.41.7.21/24 from edge; ${TOLD}`,
      `agrees | 10.41.7.20/24 from edge; ${TOLD}`,
    ]);
  });

  it("is gone through from a place that depends on the hardware address", async () => {
    const found = await lent(hall("dhcp: { lan: { hosts: 20-219, lease: 12h, order: hashed } }"));
    expect(found.every((line) => line.startsWith("agrees | 10.41.7."))).toBe(true);
    expect(new Set(found).size).toBe(3);
  });

  it("leaves a reserved address to its owner", async () => {
    const dhcp =
      "dhcp: { lan: { hosts: 50-60, lease: 12h, reservations: { basil: { host: 50 }, cedar: { host: 9 } } } }";
    expect(await lent(hall(dhcp))).toEqual([
      `agrees | 10.41.7.51/24 from edge; ${TOLD}`,
      `agrees | 10.41.7.50/24 from edge; ${TOLD}`,
      `agrees | 10.41.7.9/24 from edge; ${TOLD}`,
    ]);
  });
});

describe.concurrent("options", () => {
  it("that are not offered are left out", async () => {
    const [first] = await lent(hall("dhcp: { lan: { hosts: 50-60, lease: 10m, router: none, resolvers: none } }"));
    expect(first).toBe("agrees | 10.41.7.50/24 from edge; 600 s");
  });

  it("of routes take the place of the router", async () => {
    const dhcp =
      "dhcp: { lan: { hosts: 50-60, lease: 10m, routes: [{ to: 10.41.8.0/24, via: 10.41.7.1 }], resolvers: none } }";
    const asked = `${ALL}\n  - { name: far, from: amber, to: depot, expect: connects }`;
    expect(inShort(await judge(hall(dhcp), asked))).toEqual(
      expect.arrayContaining([
        "agrees | 10.41.7.50/24 from edge; 10.41.8.0/24 by 10.41.7.1; 600 s",
        "agrees | answered; depot sees 10.41.7.50 to 10.41.8.2",
      ]),
    );
  });
});

describe.concurrent("a filter", () => {
  const DHCP = "dhcp: { lan: { hosts: 50-60, lease: 12h } }";

  it("that drops everything stops a server that reads a socket, and is found missing on the kernel (fact 26)", async () => {
    const site = hall(`${DHCP}, filter: { to: { otherwise: drop } }`);
    expect(await lent(site)).toEqual(["agrees | no lease", "agrees | no lease", "agrees | no lease"]);
    const bare = (each: Site): KernelPlan => {
      const plan = planKernel(each);
      return { ...plan, devices: plan.devices.map((device) => ({ ...device, ruleset: "" })) };
    };
    expect((await lent(site, bare))[0]).toMatch(/^differs \| the lease of amber\/nic: 10\.41\.7\.50\/24 from edge/);
  });

  it("of a client does not stop it, as it reads frames (fact 26)", async () => {
    const [first] = await lent(hall(DHCP, "", "filter: { to: { otherwise: drop }, from: { otherwise: drop } }"));
    expect(first).toBe(`agrees | 10.41.7.50/24 from edge; ${TOLD}`);
  });
});

describe.concurrent("a relay", () => {
  const RELAY = "relay: { lan: { to: depot/up } }";
  const SERVED = "dhcp: { hall: { hosts: 50-60, lease: 12h } }";

  it("brings a lease from a server elsewhere that has a way back (fact 30)", async () => {
    expect((await lent(hall(RELAY, SERVED)))[0]).toBe("agrees | 10.41.7.50/24 from depot; router 10.41.7.1; 43200 s");
  });

  it("is in vain where the server's filter drops what it asks", async () => {
    const shut = `${SERVED}, filter: { to: { otherwise: drop, rules: [{ name: r, source: 10.41.8.1, action: accept }] } }`;
    expect((await lent(hall(RELAY, shut)))[0]).toBe("agrees | no lease");
  });
});

describe.concurrent("a client that was just plugged in", () => {
  const ASKED = "assertions: [{ name: a, from: hall, to: depot, expect: connects }]";

  it("is lent an address beside those who are there, at a free socket", async () => {
    const [asked] = inShort(await judge(hall("dhcp: { lan: { hosts: 50-60, lease: 12h } }"), ASKED));
    expect(asked).toContain("answered; depot sees 10.41.7.53 to 10.41.8.2");
    expect(asked).toMatch(/^agrees/);
  });

  it("shares the socket of another where none is free", async () => {
    const [topology, intent] = hall("dhcp: { lan: { hosts: 50-60, lease: 12h } }");
    const [asked] = inShort(
      await judge(
        [
          topology,
          intent.replace(
            "devices:",
            'devices:\n  core: { switching: { unlisted: "off", ports: { p1..4: { untagged: 1 } } } }',
          ),
        ],
        ASKED,
      ),
    );
    expect(asked).toMatch(/^agrees/);
    expect(asked).toContain("answered; depot sees 10.41.7.53 to 10.41.8.2");
  });
});
