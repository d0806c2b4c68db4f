/**
 * The kernel's own tunnels under emulation: they come up behind translations and filters, pick the peer by what it is
 * allowed, and drop what it is not. Each question is answered by a full kernel and by the model alike.
 */
import { expect } from "vitest";
import { needs } from "../support/needs.ts";
import { type Judged, judgedFully } from "./judge.ts";
import { machineRack } from "./machine-rack.ts";

const { describe, it } = needs("qemu-system-x86_64");
const rack = machineRack();

type Changes = {
  readonly mill?: string;
  readonly dock?: string;
  readonly dockTo?: string;
  readonly millRoutes?: string;
};

const ANSWERS = "{ name: answers, state: [established, related], action: accept }";

/** Three sites on one router; the mill hides behind its address, the dock listens behind a filter, the rover roams. */
function tunnels({
  mill = "dock/link: { endpoint: 192.0.2.18, allowed: [10.99.0.1, 10.60.2.0/24] }",
  dock = "mill/link: { allowed: [10.99.0.2, 10.60.1.0/25] }, rover/home: { allowed: [10.99.0.3] }",
  dockTo = "{ name: tunnels, in: wan, service: udp/4701, action: accept }, { name: echo, service: icmp/echo-request, action: accept }",
  millRoutes = "{ to: 10.60.2.0/24, out: far }, { to: 10.77.0.0/16, out: far }",
}: Changes = {}): Promise<Judged> {
  return judgedFully(
    rack(),
    `
devices:
  mid: { is: router, ports: { p1..3: 1G } }
  mill: { is: router, ports: { wan: 1G, lan: 1G } }
  dock: { is: router, ports: { wan: 1G, lan: 1G } }
  loom: { is: host, ports: { nic: 1G } }
  crane: { is: host, ports: { nic: 1G } }
  rover: { is: host, ports: { nic: 1G } }
cables: [[mid:p1, mill:wan], [mid:p2, dock:wan], [mid:p3, rover:nic], [mill:lan, loom:nic], [dock:lan, crane:nic]]`,
    `
devices:
  mid: { interfaces: { m: { port: p1, ipv4: 192.0.2.1/28 }, d: { port: p2, ipv4: 192.0.2.17/28 }, r: { port: p3, ipv4: 192.0.2.33/28 } } }
  mill:
    interfaces: { wan: { port: wan, ipv4: 192.0.2.2/28, gateway: 192.0.2.1 }, lan: { port: lan, ipv4: 10.60.1.1/24 }, far: { port: link, ipv4: 10.99.0.2/24 } }
    routes: [${millRoutes}]
    tunnels: { link: { peers: { ${mill} } } }
    translate: { source: [ { name: hide, out: wan, to: external-address } ] }
  dock:
    interfaces: { wan: { port: wan, ipv4: 192.0.2.18/28, gateway: 192.0.2.17 }, lan: { port: lan, ipv4: 10.60.2.1/24 }, far: { port: link, ipv4: 10.99.0.1/24 } }
    routes: [{ to: 10.60.1.0/24, out: far }]
    tunnels: { link: { listen: 4701, peers: { ${dock} } } }
    filter: { to: { otherwise: drop, rules: [${ANSWERS}, ${dockTo}] }, through: { otherwise: accept }, from: { otherwise: accept } }
  loom: { legs: { nic: { ipv4: [10.60.1.9/24, 10.60.1.200/24], gateway: 10.60.1.1 } } }
  crane: { legs: { nic: { ipv4: 10.60.2.9/24, gateway: 10.60.2.1 } } }
  rover:
    legs: { nic: { ipv4: 192.0.2.34/28, gateway: 192.0.2.33 }, home: { port: home, ipv4: 10.99.0.3/24 } }
    routes: [{ to: 10.60.0.0/16, out: home }]
    tunnels: { home: { peers: { dock/link: { endpoint: dock/wan, allowed: [10.99.0.0/24, 10.60.0.0/16] } } } }`,
  );
}

describe("the kernel's own tunnel", () => {
  it("carries what its peer is allowed, and nothing else", async () => {
    const site = await tunnels();
    expect(await site.ask("loom", "tcp/80", "10.60.2.9")).toBe("answered; crane sees 10.60.1.9 to 10.60.2.9:80");
    expect(await site.ask("rover", "ping", "10.60.2.9")).toBe("answered; crane sees 10.99.0.3 to 10.60.2.9");
    expect(await site.ask("crane", "ping", "10.60.1.9")).toBe("answered; loom sees 10.60.2.9 to 10.60.1.9");
    // A source that the dock does not allow, a destination that no peer is allowed.
    expect(await site.ask("loom", "ping", "10.60.2.9", { source: "10.60.1.200" })).toBe("silent");
    expect(await site.ask("loom", "ping", "10.77.0.1")).toBe("refused 3/1 from 10.60.1.1");
    expect(await site.ask("crane", "ping", "10.60.1.200")).toBe("refused 3/1 from 10.60.2.1");
    // A stranger at its port.
    expect(await site.ask("rover", "udp/4701", "192.0.2.18")).toBe("silent; dock sees 192.0.2.34 to 192.0.2.18:4701");
  });

  it("is silent while it is down at an end that knows where its peer is, and turns away at one that does not", async () => {
    const site = await tunnels({ dockTo: "{ name: echo, service: icmp/echo-request, action: accept }" });
    expect(await site.ask("loom", "ping", "10.60.2.9")).toBe("silent");
    expect(await site.ask("crane", "ping", "10.60.1.9")).toBe("refused 3/1 from 10.60.2.1");
  });

  it("goes to the peer with the longest prefix, and of equals to the later one", async () => {
    const longest = await tunnels({
      dock: "mill/link: { allowed: [10.99.0.0/24, 10.60.1.0/24] }, rover/home: { allowed: [10.99.0.3] }",
    });
    expect(await longest.ask("dock", "ping", "10.99.0.3")).toBe("answered; rover sees 10.99.0.1 to 10.99.0.3");
    const later = await tunnels({
      dock: "rover/home: { allowed: [10.99.0.0/24] }, mill/link: { allowed: [10.99.0.0/24, 10.60.1.0/24] }",
    });
    expect(await later.ask("dock", "ping", "10.99.0.2")).toBe("answered; mill sees 10.99.0.1 to 10.99.0.2");
    expect(await later.ask("rover", "ping", "10.60.2.9")).toBe("silent");
  });

  it("is killed by a route that leads its own outer packets into it", async () => {
    const mill = "dock/link: { endpoint: 192.0.2.18, allowed: [0.0.0.0/0] }";
    const whole = await tunnels({ mill });
    expect(await whole.ask("loom", "ping", "10.60.2.9")).toBe("answered; crane sees 10.60.1.9 to 10.60.2.9");
    const site = await tunnels({
      mill,
      millRoutes: "{ to: 192.0.2.16/28, out: far }, { to: 10.60.2.0/24, out: far }",
    });
    expect(await site.ask("loom", "ping", "10.60.2.9")).toBe("silent");
  });
});
