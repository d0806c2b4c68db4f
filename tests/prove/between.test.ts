/** Many pairs in one walk: by which ways packets get through, and how the work grows. */
import { describe, expect, it } from "vitest";
import { Evaluation, startOf } from "../../src/evaluate/index.ts";
import { createProver, type Pairs } from "../../src/prove/index.ts";
import { networkOf } from "../support/site.ts";

function pairsOf(topology: string, intent: string, limitSteps = 100_000): Pairs | undefined {
  const network = networkOf(topology, intent);
  const [world] = new Evaluation(network).worlds().worlds;
  if (world === undefined) throw new Error("the site has no world");
  const networks = network.groups.filter(({ kind }) => kind === "network");
  const from = networks.map((group) => ({
    ...startOf({ group }, network),
    addresses: group.addresses,
    origin: group.origin,
  }));
  const to = networks.map(({ addresses }) => addresses);
  return createProver(network, world.settled).between({ from, to, limitSteps });
}

/** Houses in a row of streets: each house a router with a host, each street one, all on one backbone. */
function streets(count: number): readonly [topology: string, intent: string] {
  const HOUSES = 4;
  const all = Array.from({ length: count }, (_, street) =>
    Array.from({ length: HOUSES }, (_, house) => ({ street, house, name: `${street}-${house}` })),
  );
  const each = (tell: (street: number) => string): string => all.map((_, street) => tell(street)).join("\n");
  const house = (tell: (name: string, street: number, place: number) => string): string =>
    all.flatMap((row) => row.map((one) => tell(one.name, one.street, one.house))).join("\n");
  const topology = `
devices:
  spine: { is: switch, ports: { p0..${count - 1}: 10G } }
${each((street) => `  r${street}: { is: router, ports: { up: 10G, d0..${HOUSES - 1}: 1G } }`)}
${house((name) => `  h${name}: { is: router, ports: { up: 1G, lan: 1G } }\n  c${name}: { is: host, ports: { nic: 1G } }`)}
cables:
${each((street) => `  - [spine:p${street}, r${street}:up]`)}
${house((name, street, place) => `  - [r${street}:d${place}, h${name}:up]\n  - [h${name}:lan, c${name}:nic]`)}`;
  const intent = `
networks:
  back: { ipv4: 10.255.0.0/24 }
${house((name, street, place) => `  l${name}: { ipv4: 10.254.${street}.${place * 4}/30 }\n  n${name}: { ipv4: 10.${street}.${place}.0/24 }`)}
devices:
  spine: { switching: { tags: ignored } }
${each(
  (street) => `  r${street}:
    interfaces:
      up: { network: back, port: up, host: ${street + 10} }
${all[street]?.map(({ name, house: place }) => `      d${place}: { network: l${name}, port: d${place}, host: 1 }`).join("\n")}
    routes:
${all[street]?.map(({ house: place }) => `      - { to: 10.${street}.${place}.0/24, via: 10.254.${street}.${place * 4 + 2} }`).join("\n")}
${all.flatMap((_, other) => (other === street ? [] : [`      - { to: 10.${other}.0.0/16, via: 10.255.0.${other + 10} }`])).join("\n")}`,
)}
${house(
  (name, street, place) => `  h${name}:
    interfaces:
      up: { network: l${name}, port: up, host: 2 }
      lan: { network: n${name}, port: lan, host: 1 }
    routes: [ { to: default, via: 10.254.${street}.${place * 4 + 1} } ]
  c${name}: { legs: { nic: { network: n${name}, host: 10, gateway: 10.${street}.${place}.1 } } }`,
)}`;
  return [topology, intent];
}

describe("many pairs", () => {
  it("are as much work as the routers are many, and not as the pairs are", () => {
    const [few, many] = [pairsOf(...streets(3)), pairsOf(...streets(9))];
    if (few === undefined || many === undefined) throw new Error("it took too many steps");
    // Three times the routers are nine times the pairs.
    expect(many.steps / few.steps).toBeLessThan(5);
    expect(few.ways.length).toBeGreaterThan(20);
    // Networks of hosts reach one another.
    const open = few.ways.flat().filter((way) => way === "open").length;
    expect(open).toBeGreaterThanOrEqual(12 * 11);
  });

  it("are given up where they take more steps than allowed", () => {
    expect(pairsOf(...streets(3), 50)).toBeUndefined();
  });
});

const TOPOLOGY = `
devices:
  gate: { is: router, ports: { wan: 1G, lan1..3: 1G } }
  shore: { is: upstream, ports: { drop: 1G } }
  desk: { is: host, ports: { nic: 1G } }
  lamp: { is: host, ports: { nic: 1G } }
  till: { is: host, ports: { nic: 1G } }
cables: [[shore:drop, gate:wan], [gate:lan1, desk:nic], [gate:lan2, lamp:nic], [gate:lan3, till:nic]]`;

function intent(through: string, more = ""): string {
  return `
networks:
  attic: { ipv4: 10.1.10.0/24 }
  barn: { ipv4: 10.1.20.0/24 }
  cellar: { ipv4: 10.1.30.0/24 }
devices:
  shore: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110, lease: 1h } } }
  gate:
    interfaces:
      wan: { port: wan, ipv4: lease }
      attic: { network: attic, port: lan1, host: 1 }
      barn: { network: barn, port: lan2, host: 1 }
      cellar: { network: cellar, port: lan3, host: 1 }
    filter:
      to: { otherwise: drop, rules: [] }
      through:
        otherwise: drop
        rules:
${through}
${more}
  desk: { legs: { nic: { network: attic, host: 5, gateway: 10.1.10.1 } } }
  lamp: { legs: { nic: { network: barn, host: 5, gateway: 10.1.20.1 } } }
  till: { legs: { nic: { network: cellar, host: 5, gateway: 10.1.30.1 } } }`;
}

function openIn(pairs: Pairs | undefined): readonly string[] {
  const names = ["attic", "barn", "cellar"];
  return (pairs?.ways ?? []).flatMap((row, from) =>
    row.flatMap((way, to) => (from !== to && way !== "shut" ? [`${names[from]} ${names[to]} ${way}`] : [])),
  );
}

describe("a pair is open", () => {
  it("by a rule that lets one service through, whatever else is let through elsewhere, and not by answers", () => {
    const through = `
          - { name: answers, state: [established, related], action: accept }
          - { name: a share, source: attic, dest: barn, service: tcp/445, action: accept }
          - { name: not printing, source: barn, dest: cellar, service: tcp/9100, action: drop }
          - { name: barn to cellar, source: barn, dest: cellar, service: [tcp/9100, udp/9], action: accept }`;
    expect(openIn(pairsOf(TOPOLOGY, intent(through)))).toEqual(["attic barn open", "barn cellar open"]);
  });

  it("under an address of its own only: that another network may is no way for this one", () => {
    const through = "          - { name: a share, in: lan1, source: barn, dest: cellar, action: accept }";
    expect(openIn(pairsOf(TOPOLOGY, intent(through.replace("in: lan1, ", "in: attic, "))))).toEqual([]);
  });

  it("by a destination that is rewritten on the way", () => {
    const through = "          - { name: forwarded, dest: 10.1.30.5, service: tcp/80, action: accept }";
    const translate =
      "    translate: { dest: [ { name: the till, in: attic, dest: 10.1.10.1, service: tcp/8080, to: 10.1.30.5, to-port: 80 } ] }";
    expect(openIn(pairsOf(TOPOLOGY, intent(through, translate)))).toContain("attic cellar open");
  });
});
