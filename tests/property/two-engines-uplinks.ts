/**
 * Random uplinks, written as documents: one or two customers of a provider, each by PPPoE or not, with a tag or not, behind a
 * modem that may lose it or on a plain switch that they share; prefixes that are delegated or not; rules and forwards that let
 * some things in. Most of it fits together; each way in which the ends can miss one another is there now and then. Every other
 * site has a second provider, over whose part of the internet a host comes in, or the first customer's second uplink.
 */
import { stream } from "./two-engines.ts";

type Random = (below: number) => number;

/** The documents of a site: a topology, then an intent. */
export function uplinkTexts(seed: number): readonly [topology: string, intent: string] {
  const random = stream(Math.imul(seed, 0x9e3779b1));
  for (let warm = 0; warm < 8; warm++) random(2);
  const customers = 1 + random(2);
  const tag = random(2) === 0 ? 7 : undefined;
  const dials = random(3) > 0;
  const middle = customers > 1 || random(3) === 0 ? "unmanaged-switch" : random(2) === 0 ? "switch" : "none";
  const beyond = secondOf(seed);
  return [rack(customers, middle, beyond), intent(random, { customers, tag, dials, middle, beyond })];
}

/** A second provider: what it hands out, and whether the first customer has an uplink to it, too. */
type Second = { readonly four: string; readonly six: boolean; readonly isUplink: boolean; readonly third: boolean };

/** Drawn apart from the rest, so that the other sites are what they are without it. */
function secondOf(seed: number): Second | undefined {
  const random = stream(Math.imul(seed, 0x85ebca6b));
  for (let warm = 0; warm < 8; warm++) random(2);
  if (random(2) === 0) return undefined;
  const four = ["198.51.100", "198.51.100", "198.51.100", "192.168.7", "100.64.7", "203.0.113"][random(6)] ?? "";
  return { four, six: random(3) > 0, isUplink: random(3) === 0, third: random(5) === 0 };
}

type Shape = {
  readonly customers: number;
  readonly tag: number | undefined;
  readonly dials: boolean;
  readonly middle: string;
  readonly beyond: Second | undefined;
};

function numbers(count: number): readonly number[] {
  return Array.from({ length: count }, (_, index) => index + 1);
}

function rack(customers: number, middle: string, beyond: Second | undefined): string {
  const spare = (n: number): string => (n === 1 && beyond?.isUplink === true ? ", spare: 1G" : "");
  const own = numbers(customers).map(
    (n) => `  r${n}: { is: router, ports: { wan: 1G, lan: 1G${spare(n)} } }\n  h${n}: { is: host, ports: { nic: 1G } }`,
  );
  const between = middle === "none" ? [] : [`  m: { is: ${middle}, ports: { p1..4: 1G } }`];
  const cables =
    middle === "none"
      ? ["[isp:drop, r1:wan]"]
      : ["[isp:drop, m:p1]", ...numbers(customers).map((n) => `[m:p${n + 1}, r${n}:wan]`)];
  return [
    "devices:",
    "  isp: { is: upstream, ports: { drop: 1G } }",
    ...own,
    ...between,
    ...(beyond === undefined
      ? []
      : ["  far: { is: upstream, ports: { mast: 1G, drop: 1G } }", "  w: { is: host, ports: { nic: 1G } }"]),
    ...(beyond?.third === true ? ["  hill: { is: upstream, ports: { drop: 1G } }"] : []),
    "cables:",
    ...(beyond === undefined ? [] : ["  - [far:mast, w:nic]"]),
    ...(beyond?.isUplink === true ? ["  - [far:drop, r1:spare]"] : []),
    ...cables.map((cable) => `  - ${cable}`),
    ...numbers(customers).map((n) => `  - [r${n}:lan, h${n}:nic]`),
    "",
  ].join("\n");
}

function intent(random: Random, { customers, tag, dials, middle, beyond }: Shape): string {
  const chance = (percent: number): boolean => random(100) < percent;
  const tagged = tag === undefined ? "" : `tag: ${tag}, `;
  const delegates = chance(75) ? ", delegates: 56" : "";
  const handed = `${tagged}${dials ? "pppoe: yes, " : ""}ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110`;
  const modem = chance(15) ? "tagged: [8]" : `tagged: [7], port-vlan: 1, leaves-untagged: [1]`;
  return [
    "networks:",
    ...numbers(customers).map(
      (n) => `  n${n}: { ipv4: 10.0.${n}.0/24, ipv6: { delegated: r${n}/wan, subnet: ${random(3)} } }`,
    ),
    "devices:",
    `  isp: { hands-out: { drop: { ${handed}, ipv6: "2001:db8:7100::/64"${delegates} } } }`,
    ...(middle === "switch"
      ? [`  m: { switching: { ports: { p1: { ${modem} }, p2: { tagged: [7], port-vlan: 1, leaves-untagged: [1] } } } }`]
      : []),
    ...numbers(customers).map((n) =>
      customer(random, n, {
        tagged: chance(10) ? "" : tagged,
        dials: chance(15) ? !dials : dials,
        spare: n === 1 && beyond?.isUplink === true,
      }),
    ),
    ...(beyond === undefined ? [] : second(beyond)),
    "",
  ].join("\n");
}

function customer(
  random: Random,
  n: number,
  { tagged, dials, spare }: { readonly tagged: string; readonly dials: boolean; readonly spare: boolean },
): string {
  const chance = (percent: number): boolean => random(100) < percent;
  const pppoe = dials ? (chance(30) ? "pppoe: { mtu: 1480 }, " : "pppoe: yes, ") : "";
  const four = dials && chance(25) ? `203.0.113.${8 + n}/32` : "lease";
  const way = four === "lease" ? "" : "    routes: [{ to: default, out: wan }]\n";
  const rules = [
    "{ name: answers, state: [established, related], action: accept }",
    "{ name: out, in: lan, out: wan, action: accept }",
    ...(chance(40) ? [`{ name: web, in: wan, dest: h${n}, service: tcp/443, action: accept }`] : []),
    ...(chance(20) ? ["{ name: odd, service: udp/53, action: accept }"] : []),
  ];
  const filter = `{ to: { otherwise: ${chance(50) ? "drop" : "accept"}, rules: [${rules[0]}] }, through: { otherwise: drop, rules: [${rules.join(", ")}] }, from: { otherwise: accept } }`;
  const forward = chance(40) ? `, dest: [{ name: web, family: ipv4, in: wan, service: tcp/443, to: h${n} }]` : "";
  return `  r${n}:
    interfaces: { wan: { port: wan, ${tagged}${pppoe}ipv4: ${four}, ipv6: delegated }, lan: { port: lan, network: n${n}, host: 1 }${spare ? ", spare: { port: spare, ipv4: lease }" : ""} }
    advertise: { lan: {} }
${way}    reverse-path: ${chance(60) ? "strict" : "none"}
${chance(80) ? `    filter: ${filter}\n` : ""}    translate: { source: [{ name: hide, family: ipv4, out: wan, to: external-address }]${forward} }
  h${n}: { legs: { nic: { network: n${n}, host: 9, gateway: 10.0.${n}.1, ipv6: advertised } } }`;
}

function second({ four, six, third }: Second): readonly string[] {
  const handed = (host: string, name: string): string =>
    `{ ipv4: ${four}.${host}, hosts: 10-20${six ? `, ipv6: "2001:db8:72${name === "mast" ? "00" : "01"}::/64"` : ""} }`;
  return [
    `  far: { hands-out: { mast: ${handed("0/25", "mast")}, drop: ${handed("128/25", "drop")} } }`,
    `  w: { legs: { nic: { ipv4: lease${six ? ", ipv6: advertised" : ""} } } }`,
    ...(third ? ["  hill: { hands-out: { drop: { ipv4: 192.0.2.0/24 } } }"] : []),
  ];
}
