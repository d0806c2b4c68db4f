/**
 * What can be shown of the link layer without tags: switches of one and of several networks, isolated ports, a switch's own
 * leg, ports without a partner. The kernel has one plain bridge for each network of a switch; the description has VLANs.
 */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { judged } from "./judge.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

/** Four hosts on one switch, 10.31.1.1 to 10.31.1.4 and fd31:1::1 to ::4. */
function four(switching: string): readonly string[] {
  const hosts = [1, 2, 3, 4];
  return [
    `
devices:
  core: { is: switch, ports: { p1..6: 1G } }
${hosts.map((host) => `  box${host}: { is: host, ports: { nic: 1G } }`).join("\n")}
cables: [${hosts.map((host) => `[box${host}:nic, core:p${host}]`).join(", ")}]`,
    `
networks:
  crew: { vlan: 30, ipv4: 10.31.1.0/24 }
  yard: { vlan: 40 }
devices:
  core: { ${switching} }
${hosts.map((host) => `  box${host}: { legs: { nic: { ipv4: 10.31.1.${host}/24, ipv6: "fd31:1::${host}/64" } } }`).join("\n")}`,
  ];
}

const SPLIT =
  "switching: { ports: { p1: { untagged: crew }, p2: { untagged: crew }, p3: { untagged: yard }, p4: off } }";

describe.concurrent("a switch", () => {
  it("as unboxed joins all its ports", async () => {
    const site = await judged(rack, ...four(""));
    expect(await site.ask("box1", "ping", "10.31.1.4")).toBe("answered; box4 sees 10.31.1.1 to 10.31.1.4");
    expect(await site.ask("box1", "tcp/80", "fd31:1::3")).toBe("answered; box3 sees fd31:1::1 to fd31:1::3:80");
  });

  it("keeps its networks apart, and a port that is off has nobody behind it", async () => {
    const site = await judged(rack, ...four(SPLIT));
    expect(await site.ask("box1", "ping", "10.31.1.2")).toMatch(/^answered/);
    expect(await site.ask("box1", "ping", "10.31.1.3")).toBe("refused 3/1 from 10.31.1.1");
    expect(await site.ask("box1", "ping", "10.31.1.4")).toBe("refused 3/1 from 10.31.1.1");
    expect(await site.ask("box1", "ping6", "fd31:1::3")).toBe("refused 1/3 from fd31:1::1");
    // Its own leg has no carrier, and keeps its route.
    expect(await site.ask("box4", "udp/53", "10.31.1.1")).toBe("refused 3/1 from 10.31.1.4");
    expect(await site.ask("box4", "tcp/80", "10.31.1.1")).toBe("refused 3/1 from 10.31.1.4");
  });

  it("keeps isolated ports apart and lets each reach the others", async () => {
    const site = await judged(
      rack,
      ...four("switching: { ports: { p1..2: { untagged: crew, isolated: yes }, p3: { untagged: crew } } }"),
    );
    expect(await site.ask("box1", "ping", "10.31.1.2")).toBe("refused 3/1 from 10.31.1.1");
    expect(await site.ask("box1", "ping", "10.31.1.3")).toMatch(/^answered/);
    expect(await site.ask("box3", "ping", "10.31.1.2")).toMatch(/^answered/);
  });

  it("is reached itself where its own membership says, and nowhere else", async () => {
    const own = (membership: string) =>
      four(`${SPLIT.slice(0, -2)}, own: ${membership} }, interfaces: { manage: { network: crew, host: 99 } }`);
    const tagged = await judged(rack, ...own("{ tagged: [crew] }"));
    expect(await tagged.ask("box1", "ping", "10.31.1.99")).toBe("answered; core sees 10.31.1.1 to 10.31.1.99");
    expect(await tagged.ask("core", "ping", "10.31.1.2")).toMatch(/^answered/);
    expect(await tagged.ask("box3", "ping", "10.31.1.99")).toBe("refused 3/1 from 10.31.1.3");
    const elsewhere = await judged(rack, ...own("{ tagged: [yard] }"));
    expect(await elsewhere.ask("box1", "ping", "10.31.1.99")).toBe("refused 3/1 from 10.31.1.1");
  });
});

describe.concurrent("names that the kernel could not take as they are", () => {
  it("long ones, ones with a slash, and words of `ip` itself", async () => {
    const site = await judged(
      rack,
      `
devices:
  near: { is: host, ports: { dev: 1G } }
  edge: { is: router, ports: { slot-1/port-1/lane-a: 1G, up: 1G } }
  far: { is: host, ports: { lo: 1G } }
cables: [[near:dev, edge:slot-1/port-1/lane-a], [edge:up, far:lo]]`,
      `
devices:
  near: { legs: { dev: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1 } } }
  edge:
    interfaces:
      a-very-long-name-of-an-interface: { port: slot-1/port-1/lane-a, ipv4: 10.31.1.1/24 }
      out: { port: up, ipv4: 10.31.2.1/24 }
    filter: { through: { otherwise: drop, rules: [
      { name: 'there "and" back', in: [a-very-long-name-of-an-interface, out], service: icmp, action: accept }] } }
  far: { legs: { lo: { ipv4: 10.31.2.9/24, gateway: 10.31.2.1 } } }`,
    );
    expect(await site.ask("near", "ping", "10.31.2.9")).toBe("answered; far sees 10.31.1.9 to 10.31.2.9");
    expect(await site.ask("near", "tcp/80", "10.31.2.9")).toBe("silent");
  });
});
