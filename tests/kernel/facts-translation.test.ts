/** Kernel facts 19 and 21 to 24: what translation shows to rules, which address and port it takes, and where it fails. */
import { afterAll, expect } from "vitest";
import { Rack } from "../../src/kernel/index.ts";
import { needsNamespaces } from "../support/needs.ts";
import { type Judged, judged } from "./judge.ts";
import { row } from "./row.ts";

const { describe, it } = needsNamespaces("nft", "python3");
const rack = new Rack();
afterAll(() => rack.stop());

const FORWARD = "{ name: to the shelf, dest: 10.31.1.1, service: tcp/8080, to: 10.31.2.9, to-port: 80 }";

/** A forward to the shelf's port 80, behind a filter that accepts one thing only, and answers. */
function forwardBehind(rule: string): readonly [string, string] {
  const rules = `[{ name: answers, state: established, action: accept }, { name: the one, ${rule}, action: accept }]`;
  return row({ edge: `translate: { dest: [${FORWARD}] }, filter: { through: { otherwise: drop, rules: ${rules} } }` });
}

/** Asks a translated port, while everybody listens on the port it becomes. */
async function askForward(site: Judged): Promise<string> {
  await site.listen(80);
  return site.ask("desk", "tcp/8080", "10.31.1.1");
}

describe.concurrent("fact 19: forward rules see the destination after translation", () => {
  it("a rule on the new address and port matches", async () => {
    const site = await judged(rack, ...forwardBehind("dest: 10.31.2.9, service: tcp/80"));
    expect(await askForward(site)).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:80");
  });

  it("a rule on the old address or the old port matches nothing", async () => {
    const oldAddress = await judged(rack, ...forwardBehind("dest: 10.31.1.1"));
    expect(await askForward(oldAddress)).toBe("silent");
    const oldPort = await judged(rack, ...forwardBehind("service: tcp/8080"));
    expect(await askForward(oldPort)).toBe("silent");
  });

  it("input rules are not asked, since the packet goes through", async () => {
    const edge = `translate: { dest: [${FORWARD}] }, filter: { to: { otherwise: drop } }`;
    const site = await judged(rack, ...row({ edge }));
    expect(await askForward(site)).toMatch(/^answered/);
  });

  it("a run of ports goes over to a run of the same length in order", async () => {
    const run = "{ name: run, dest: 10.31.1.1, service: udp/9000-9009, to: 10.31.2.9, to-port: 7000-7009 }";
    const site = await judged(rack, ...row({ edge: `translate: { dest: [${run}] }` }));
    await site.listen(7004);
    expect(await site.ask("desk", "udp/9004", "10.31.1.1")).toBe("answered; shelf sees 10.31.1.9 to 10.31.2.9:7004");
  });
});

/** Two desks behind one router that hides them, and a shelf beyond its gateway. */
const HIDDEN = [
  `
devices:
  desk: { is: host, ports: { nic: 1G } }
  lamp: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { one: 1G, two: 1G, wan: 1G } }
  tower: { is: router, ports: { down: 1G, up: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
cables: [[desk:nic, edge:one], [lamp:nic, edge:two], [edge:wan, tower:down], [tower:up, shelf:nic]]`,
  `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1 } } }
  lamp: { legs: { nic: { ipv4: 10.31.3.9/24, gateway: 10.31.3.1 } } }
  edge:
    interfaces:
      one: { port: one, ipv4: 10.31.1.1/24 }
      two: { port: two, ipv4: 10.31.3.1/24 }
      wan: { port: wan, ipv4: [10.31.5.2/24, 10.31.6.2/24], gateway: 10.31.6.1 }
    translate: { source: [{ name: hide, out: wan, to: external-address }] }
  tower: { interfaces: { down: { port: down, ipv4: [10.31.5.1/24, 10.31.6.1/24] }, up: { port: up, ipv4: 10.31.7.1/24 } } }
  shelf: { legs: { nic: { ipv4: 10.31.7.9/24, gateway: 10.31.7.1 } } }`,
];

describe.concurrent("fact 21: masquerade", () => {
  it("takes the address that fits the gateway's subnet, and keeps the source port", async () => {
    const site = await judged(rack, ...HIDDEN);
    expect(await site.ask("desk", "tcp/80", "10.31.7.9")).toBe("answered; shelf sees 10.31.6.2 to 10.31.7.9:80");
    expect(await site.ask("desk", "udp/53", "10.31.5.1")).toMatch(/tower sees 10\.31\.5\.2 to 10\.31\.5\.1:53$/);
  });

  it.each([
    { sourcePort: 45_000, drawn: "from 1024" },
    { sourcePort: 800, drawn: "below 1024" },
    { sourcePort: 400, drawn: "below 512" },
  ])("draws another port of the same class when $sourcePort is taken", async ({ sourcePort, drawn }) => {
    const site = await judged(rack, ...HIDDEN);
    expect(await site.ask("desk", "udp/53", "10.31.7.9", { sourcePort })).toBe(
      "answered; shelf sees 10.31.6.2 to 10.31.7.9:53",
    );
    // To another port there is no clash.
    expect(await site.ask("lamp", "udp/5353", "10.31.7.9", { sourcePort })).toBe(
      "answered; shelf sees 10.31.6.2 to 10.31.7.9:5353",
    );
    expect(await site.ask("lamp", "udp/53", "10.31.7.9", { sourcePort })).toBe(
      `answered; shelf sees 10.31.6.2:${drawn} to 10.31.7.9:53`,
    );
    // What was drawn last for the same end is used again, clash or not.
    expect(await site.ask("lamp", "udp/5000", "10.31.7.9", { sourcePort })).toBe(
      `answered; shelf sees 10.31.6.2:${drawn} to 10.31.7.9:5000`,
    );
  });
});

describe.concurrent("a connection whose first answer is a reset", () => {
  it("is forgotten at once, so that its port is free for others", async () => {
    const site = await judged(rack, ...HIDDEN);
    const sourcePort = 45_000;
    expect(await site.ask("desk", "tcp/22", "10.31.6.1", { sourcePort })).toBe(
      "reset; tower sees 10.31.6.2 to 10.31.6.1:22",
    );
    expect(await site.ask("lamp", "tcp/22", "10.31.6.1", { sourcePort })).toBe(
      "reset; tower sees 10.31.6.2 to 10.31.6.1:22",
    );
    expect(await site.ask("desk", "tcp/80", "10.31.7.9", { sourcePort })).toMatch(/10\.31\.6\.2 to 10\.31\.7\.9:80$/);
    expect(await site.ask("lamp", "tcp/80", "10.31.7.9", { sourcePort })).toMatch(/10\.31\.6\.2:from 1024 to/);
  });
});

/** A forward on the router's inside address to a box on the very same segment. */
function hairpin(source: string): readonly string[] {
  return [
    `
devices:
  desk: { is: host, ports: { nic: 1G } }
  shelf: { is: host, ports: { nic: 1G } }
  edge: { is: router, ports: { lan: 1G } }
  mat: { is: unmanaged-switch, ports: { p1..4: 1G }, spanning-tree-frames: pass }
cables: [[desk:nic, mat:p1], [shelf:nic, mat:p2], [edge:lan, mat:p3]]`,
    `
devices:
  desk: { legs: { nic: { ipv4: 10.31.1.9/24, gateway: 10.31.1.1 } } }
  shelf: { legs: { nic: { ipv4: 10.31.1.20/24, gateway: 10.31.1.1 } } }
  edge:
    interfaces: { lan: { port: lan, ipv4: 10.31.1.1/24 } }
    translate: { dest: [{ name: forward, dest: 10.31.1.1, service: [tcp/80, udp/53], to: 10.31.1.20 }], source: [${source}] }`,
  ];
}

describe.concurrent("fact 22: a forward used from inside", () => {
  it("without source translation the request arrives and its answer goes astray", async () => {
    const site = await judged(rack, ...hairpin(""));
    expect(await site.ask("desk", "tcp/80", "10.31.1.1")).toBe("silent; shelf sees 10.31.1.9 to 10.31.1.20:80");
    expect(await site.ask("desk", "udp/53", "10.31.1.1")).toBe("silent; shelf sees 10.31.1.9 to 10.31.1.20:53");
  });

  it("with masquerade for inside traffic it works, and the server sees the router", async () => {
    const inside = "{ name: inside, source: 10.31.1.0/24, dest: 10.31.1.0/24, out: lan, to: external-address }";
    const site = await judged(rack, ...hairpin(inside));
    expect(await site.ask("desk", "tcp/80", "10.31.1.1")).toBe("answered; shelf sees 10.31.1.1 to 10.31.1.20:80");
  });

  it("the router's own traffic skips the forward", async () => {
    const site = await judged(rack, ...hairpin(""));
    expect(await site.ask("edge", "tcp/80", "10.31.1.1")).toBe("reset; edge sees 10.31.1.1 to 10.31.1.1:80");
  });
});

describe.concurrent("fact 23: translating to an address that nobody owns on the link", () => {
  it("is an unreachable host, as the sender sees it from the address it asked", async () => {
    const forward = "{ name: nobody, dest: 10.31.1.1, service: [tcp/80, udp/53], to: 10.31.2.77 }";
    const site = await judged(rack, ...row({ edge: `translate: { dest: [${forward}] }` }));
    expect(await site.ask("desk", "udp/53", "10.31.1.1")).toBe("refused 3/1 from 10.31.1.1");
    expect(await site.ask("desk", "tcp/80", "10.31.1.1")).toBe("refused 3/1 from 10.31.1.1");
  });
});
