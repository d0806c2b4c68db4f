/**
 * A site for the speed survey: 10 regions of a region router and 9 house routers each, every house with its own host and
 * many prefixes behind it. Region routers know the prefixes of their houses one by one, the rest by a route a region.
 */
import type { Network } from "../../src/network/index.ts";
import { networkOf } from "../support/site.ts";

const REGIONS = 10;
const HOUSES = 9;

/** What varies. */
export type RoutedSite = {
  /** Prefixes behind all houses together, rounded down to a multiple of the houses. */
  readonly prefixes: number;
  /** How many of the 90 houses filter what leaves and what comes in. */
  readonly filtered: number;
  /** Rules of each of these filters. */
  readonly rules: number;
};

const every = (count: number): number[] => Array.from({ length: count }, (_, index) => index);

/** Names of the networks that hosts stand in. */
export const HOUSE_NETWORKS: readonly string[] = every(REGIONS).flatMap((region) =>
  every(HOUSES).map((house) => `n${region}-${house}`),
);

/** The site, the same on every call. */
export function routedSite(wanted: RoutedSite): Network {
  const { topology, intent } = routedTexts(wanted);
  return networkOf(topology, intent);
}

/** Its documents, their heads left out. */
export function routedTexts(wanted: RoutedSite): { readonly topology: string; readonly intent: string } {
  const houses = every(REGIONS).flatMap((region) => every(HOUSES).map((house) => ({ region, house })));
  const topology = [
    "devices:",
    `  core: { is: switch, ports: { p0..${REGIONS - 1}: 10G } }`,
    ...every(REGIONS).flatMap((region) => [
      `  r${region}: { is: router, ports: { up: 10G, down: 10G } }`,
      `  s${region}: { is: switch, ports: { up: 10G, p0..${HOUSES - 1}: 10G } }`,
    ]),
    ...houses.flatMap(({ region, house }) => [
      `  h${region}-${house}: { is: router, ports: { up: 1G, lan: 1G } }`,
      `  c${region}-${house}: { is: host, ports: { nic: 1G } }`,
    ]),
    "cables:",
    ...every(REGIONS).flatMap((region) => [
      `  - [core:p${region}, r${region}:up]`,
      `  - [r${region}:down, s${region}:up]`,
    ]),
    ...houses.flatMap(({ region, house }) => [
      `  - [s${region}:p${house}, h${region}-${house}:up]`,
      `  - [h${region}-${house}:lan, c${region}-${house}:nic]`,
    ]),
  ];
  const intent = [
    "networks:",
    "  backbone: { ipv4: 10.255.0.0/24 }",
    ...every(REGIONS).map((region) => `  t${region}: { ipv4: 10.254.${region}.0/24 }`),
    ...houses.map(({ region, house }) => `  n${region}-${house}: { ipv4: 10.${region}.${house}.0/24 }`),
    "devices:",
    `  core: { switching: { tags: ignored } }`,
    ...every(REGIONS).flatMap((region) => [
      `  s${region}: { switching: { tags: ignored } }`,
      ...regionIntent(region, wanted),
    ]),
    ...houses.flatMap(({ region, house }, index) => houseIntent(region, house, index, wanted)),
  ];
  return { topology: [...topology, ""].join("\n"), intent: [...intent, ""].join("\n") };
}

/** The n-th prefix of a house: /28s of the region's and house's own /16. */
function prefixOf(region: number, house: number, index: number): string {
  return `${100 + region}.${house}.${index >> 4}.${(index & 15) * 16}/28`;
}

function regionIntent(region: number, { prefixes }: RoutedSite): string[] {
  const each = Math.floor(prefixes / (REGIONS * HOUSES));
  const own = every(HOUSES).flatMap((house) => [
    `      - { to: 10.${region}.${house}.0/24, via: 10.254.${region}.${house + 10} }`,
    ...every(each).map(
      (index) => `      - { to: ${prefixOf(region, house, index)}, via: 10.254.${region}.${house + 10} }`,
    ),
  ]);
  const others = every(REGIONS)
    .filter((other) => other !== region)
    .flatMap((other) => [
      `      - { to: 10.${other}.0.0/16, via: 10.255.0.${other + 10} }`,
      `      - { to: ${100 + other}.0.0.0/8, via: 10.255.0.${other + 10} }`,
    ]);
  return [
    `  r${region}:`,
    "    interfaces:",
    `      up: { network: backbone, port: up, host: ${region + 10} }`,
    `      down: { network: t${region}, port: down, host: 1 }`,
    "    routes:",
    ...own,
    ...others,
  ];
}

function houseIntent(
  region: number,
  house: number,
  index: number,
  { prefixes, filtered, rules }: RoutedSite,
): string[] {
  const each = Math.floor(prefixes / (REGIONS * HOUSES));
  const behind = every(each).map(
    (at) => `      - { to: ${prefixOf(region, house, at)}, via: 10.${region}.${house}.10 }`,
  );
  return [
    `  h${region}-${house}:`,
    "    interfaces:",
    `      up: { network: t${region}, port: up, host: ${house + 10} }`,
    `      lan: { network: n${region}-${house}, port: lan, host: 1 }`,
    "    routes:",
    `      - { to: default, via: 10.254.${region}.1 }`,
    ...behind,
    ...(index < filtered ? filterOf(index, rules) : []),
    `  c${region}-${house}: { legs: { nic: { network: n${region}-${house}, host: 10, gateway: 10.${region}.${house}.1 } } }`,
  ];
}

function filterOf(index: number, rules: number): string[] {
  return [
    "    filter:",
    "      through:",
    "        otherwise: drop",
    "        rules:",
    "          - { name: answers, state: [established, related], action: accept }",
    ...every(rules - 1).map((rule) => {
      const [region, house] = [(index + rule) % REGIONS, (index * 7 + rule * 3) % HOUSES];
      const action = rule % 4 === 3 ? "drop" : "accept";
      return `          - { name: rule ${rule}, source: n${region}-${house}, service: tcp/${1000 + rule}, action: ${action} }`;
    }),
  ];
}
