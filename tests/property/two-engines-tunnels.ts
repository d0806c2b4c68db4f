/**
 * Random tunnels, written as documents: three sites on one router in the middle, each two of them joined by a tunnel or not,
 * one end perhaps a host; allowed prefixes that are right, too narrow, too wide or another's, endpoints that lead there or
 * not, rules that drop outer or inner packets. Most of it fits together.
 */
import { stream } from "./two-engines.ts";

type Random = (below: number) => number;

const SITES = [1, 2, 3] as const;

/** The documents of a site: a topology, then an intent. */
export function tunnelTexts(seed: number): readonly [topology: string, intent: string] {
  const random = stream(Math.imul(seed, 0x9e3779b1));
  for (let warm = 0; warm < 8; warm++) random(2);
  const chance = (percent: number): boolean => random(100) < percent;
  const pairs = (
    [
      [1, 2],
      [1, 3],
      [2, 3],
    ] as const
  ).filter(() => chance(80));
  return [RACK, intent(chance, random, pairs)];
}

const RACK = [
  "devices:",
  "  mid: { is: router, ports: { p1..4: 1G } }",
  "  rover: { is: host, ports: { nic: 1G } }",
  ...SITES.map(
    (n) => `  r${n}: { is: router, ports: { wan: 1G, lan: 1G } }\n  h${n}: { is: host, ports: { nic: 1G } }`,
  ),
  "cables:",
  ...SITES.flatMap((n) => [`  - [mid:p${n}, r${n}:wan]`, `  - [r${n}:lan, h${n}:nic]`]),
  "  - [mid:p4, rover:nic]",
  "",
].join("\n");

type Pair = readonly [number, number];
type Chance = (percent: number) => boolean;

function intent(chance: Chance, random: Random, pairs: readonly Pair[]): string {
  const rovers = chance(60);
  return [
    "networks:",
    ...SITES.map((n) => `  n${n}: { ipv4: 10.0.${n}.0/24, ipv6: "fd00:0:0:${n}::/64" }`),
    "devices:",
    "  mid:",
    "    interfaces:",
    ...SITES.map((n) => `      w${n}: { port: p${n}, ipv4: 192.0.2.${n * 16 + 1}/28 }`),
    "      w4: { port: p4, ipv4: 192.0.2.65/28 }",
    ...(chance(15)
      ? [
          "    filter: { to: { otherwise: accept }, through: { otherwise: accept, rules: [{ name: rule1, service: udp/4701, action: drop }] }, from: { otherwise: accept } }",
        ]
      : []),
    ...SITES.map((n) => router(chance, random, n, pairs, rovers && n === 1)),
    ...SITES.map(
      (n) => `  h${n}: { legs: { nic: { network: n${n}, host: 9, gateway: [r${n}/lan, "fd00:0:0:${n}::1"] } } }`,
    ),
    rover(chance, rovers),
    "",
  ].join("\n");
}

function allowed(chance: Chance, random: Random, far: number): string {
  if (chance(10)) return `10.0.${1 + random(3)}.0/24`;
  if (chance(15)) return `10.0.${far}.0/25, 10.99.0.${far}`;
  if (chance(15)) return "10.0.0.0/16, 10.99.0.0/24";
  return `10.0.${far}.0/24, 10.99.0.${far}, "fd00:0:0:${far}::/64"`;
}

function router(chance: Chance, random: Random, n: number, pairs: readonly Pair[], roams: boolean): string {
  const others = pairs.flatMap(([a, b]) => (a === n ? [b] : b === n ? [a] : []));
  const knows = (far: number): boolean => far < n || chance(30);
  const peers = [
    ...others.map((far) => {
      const at = chance(10) ? "192.0.2.200" : `192.0.2.${far * 16 + 2}`;
      return `r${far}/link: { ${knows(far) ? `endpoint: ${at}, ` : ""}allowed: [${allowed(chance, random, far)}] }`;
    }),
    ...(roams ? ["rover/home: { allowed: [10.99.0.9] }"] : []),
  ];
  const rules = [
    ...(chance(30)
      ? [
          "{ name: rule2, state: [established, related], action: accept }, { name: rule3, in: far, out: lan, service: tcp/80, action: accept }, { name: rule4, in: far, action: drop }",
        ]
      : []),
    ...(chance(15) ? ["{ name: rule5, source: 10.0.2.0/24, action: reject }"] : []),
  ];
  return [
    `  r${n}:`,
    "    interfaces:",
    `      wan: { port: wan, ipv4: 192.0.2.${n * 16 + 2}/28, gateway: 192.0.2.${n * 16 + 1} }`,
    `      lan: { network: n${n}, port: lan, host: 1 }`,
    `      far: { port: link, ipv4: 10.99.0.${n}/24, ipv6: "fd00:0:0:99::${n}/64" }`,
    `    routes: [${[
      ...SITES.filter((far) => far !== n && chance(90)).map((far) => `{ to: 10.0.${far}.0/24, out: far }`),
      ...(chance(50) ? ['{ to: "fd00::/16", out: far }'] : []),
      ...(chance(8) ? ["{ to: 192.0.2.0/24, out: far }"] : []),
    ].join(", ")}]`,
    `    tunnels: { link: { listen: 4701, peers: { ${peers.join(", ")} } } }`,
    `    filter: { to: { otherwise: ${chance(90) ? "accept" : "drop"} }, through: { otherwise: accept, rules: [${rules.join(", ")}] }, from: { otherwise: accept } }`,
  ].join("\n");
}

function rover(chance: Chance, isThere: boolean): string {
  const leg = "nic: { ipv4: 192.0.2.66/28, gateway: 192.0.2.65 }";
  if (!isThere) return `  rover: { legs: { ${leg} } }`;
  const endpoint = chance(90) ? "r1/wan" : "192.0.2.200";
  return [
    "  rover:",
    `    legs: { ${leg}, home: { port: home, ipv4: 10.99.0.9/24 } }`,
    "    routes: [{ to: 10.0.0.0/16, out: home }]",
    `    tunnels: { home: { peers: { r1/link: { endpoint: ${endpoint}, allowed: [10.0.0.0/16, 10.99.0.0/24] } } } }`,
  ].join("\n");
}
