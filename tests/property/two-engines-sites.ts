/**
 * Random small sites, written as documents, so that everything in them is legal: one to three routers in a row, up to three
 * switches in a chain, hosts with one or two legs, now and then an upstream. Most settings are sound, so that things work as
 * often as not; each kind of mistake people make is there now and then.
 */
import { stream } from "./two-engines.ts";

type Random = {
  /** A whole number below. */
  readonly below: (limit: number) => number;
  /** True in so many cases of a hundred. */
  readonly chance: (percent: number) => boolean;
  readonly pick: <Value>(values: readonly Value[]) => Value;
};

function randomOf(seed: number): Random {
  const below = stream(Math.imul(seed, 0x9e3779b1));
  for (let warm = 0; warm < 8; warm++) below(2);
  return {
    below,
    chance: (percent) => below(100) < percent,
    pick: (values) => {
      const value = values[below(values.length)];
      if (value === undefined) throw new Error("nothing to pick from");
      return value;
    },
  };
}

/** Where a leg plugs in: a port of its device and what the port at the other end does. */
type World = {
  readonly random: Random;
  readonly six: boolean;
  readonly networks: readonly number[];
  readonly routers: readonly (readonly number[])[];
  readonly hosts: readonly (readonly number[])[];
  readonly switches: number;
  readonly hasUpstream: boolean;
  /** Rare settings are common: what decides seldom elsewhere decides here. */
  readonly isOdd: boolean;
  /** Routers hang by bonds, most of which were moved to another switch half-way. */
  readonly isBonded: boolean;
  /** Lines of the topology: devices, cables. */
  readonly ports: Map<string, string[]>;
  readonly cables: string[];
  /** Port settings of each switch. */
  readonly switched: Map<string, string[]>;
  /** Bonds of each switch. */
  readonly bonds: Map<string, string[]>;
};

/** What is common in a site. */
export type Leaning = "usual" | "odd" | "bonds";

const vlanOf = (network: number): number => 10 * network;
const four = (network: number, host: number): string => `10.0.${network}.${host}`;
const six = (network: number, host: number): string => `fd00:0:0:${network}::${host.toString(16)}`;
const routerHost = (router: number): number => router + 1;
const hostHost = (host: number): number => 10 + host;

function worldOf(seed: number, leaning: Leaning): World {
  const [isOdd, isBonded] = [leaning === "odd", leaning === "bonds"];
  const random = randomOf(seed);
  const { below, chance, pick } = random;
  const count = isOdd ? 2 + below(2) : 1 + below(3);
  const routers = Array.from({ length: count }, (_, index) => [index + 1, index + 2]);
  if (chance(35)) routers[0]?.push(count + 2);
  const networks = [...new Set(routers.flat())].sort((a, b) => a - b);
  const hosts = Array.from({ length: 2 + below(3) }, () => {
    const first = pick(networks);
    const second = pick(networks);
    return chance(30) && second !== first ? [first, second] : [first];
  });
  const switches = isBonded ? 2 + below(2) : chance(80) ? 1 + below(3) : 0;
  const maps = (): Map<string, string[]> => new Map();
  const made = { ports: maps(), cables: [] as string[], switched: maps(), bonds: maps() };
  const common = { random, six: chance(55), networks, routers, hosts, switches, hasUpstream: chance(45) };
  return { ...common, isOdd, isBonded, ...made };
}

function addPort({ ports }: World, device: string, port: string): string {
  const list = ports.get(device) ?? [];
  if (!list.includes(port)) ports.set(device, [...list, port]);
  return `${device}:${port}`;
}

/** What an access port says; now and then what people get wrong. */
function access({ random: { chance, pick, below }, networks, isOdd }: World, network: number): string {
  // Takes no bare frame: it belongs to none of its networks.
  if (isOdd && chance(24)) return `{ tagged: [n${network}] }`;
  const wrong = chance(6) ? pick(networks) : network;
  const more = [
    ...(chance(30) ? ["admit: untagged"] : []),
    ...(chance(15) ? [`filter-ingress: ${pick(["on", "off"])}`] : []),
    ...(chance(isOdd ? 50 : 8) ? ["isolated: yes"] : []),
  ];
  switch (below(14)) {
    case 0:
      return `{ ${[`port-vlan: n${pick(networks)}`, `leaves-untagged: [n${wrong}]`, ...more].join(", ")} }`;
    case 1:
      return `{ ${[`untagged: n${wrong}`, `tagged: [n${pick(networks.filter((each) => each !== wrong))}]`, ...more].join(", ")} }`;
    case 2:
      return `{ ${[`port-vlan: n${wrong}`, ...more].join(", ")} }`;
    default:
      return `{ ${[`untagged: n${wrong}`, ...more].join(", ")} }`;
  }
}

/** What a trunk says: all networks tagged, or one bare, or one forgotten. */
function trunk({ random: { chance, pick }, networks }: World, of: readonly number[] = networks): string {
  const forgotten = chance(10) ? pick(of) : undefined;
  const bare = chance(15) ? pick(of) : undefined;
  const tagged = of.filter((each) => each !== forgotten && each !== bare);
  const words = [
    ...(bare === undefined ? [] : [`untagged: n${bare}`]),
    ...(tagged.length === 0 ? [] : [`tagged: [${tagged.map((each) => `n${each}`).join(", ")}]`]),
    ...(bare === undefined && chance(40) ? ["admit: tagged"] : []),
    ...(chance(10) ? ["filter-ingress: off"] : []),
  ];
  return words.length === 0 ? "off" : `{ ${words.join(", ")} }`;
}

function switchPort(world: World, says: string, at: number = world.random.below(world.switches)): string {
  const name = `s${at + 1}`;
  const list = world.switched.get(name) ?? [];
  const port = `p${list.length + 1}`;
  world.switched.set(name, [...list, `${port}: ${says}`]);
  return addPort(world, name, port);
}

// -- routers -----------------------------------------------------------------------------------------------------------

type Style = "trunk" | "ports" | "own";

/** Cables of a router and what its configuration says of them. */
function wireRouter(world: World, router: number, legs: readonly number[]): readonly string[] {
  const { random, switches } = world;
  const device = `r${router + 1}`;
  const styles: readonly Style[] = world.isBonded ? ["trunk", "own"] : ["trunk", "ports", "own"];
  const style: Style = switches === 0 ? "ports" : random.pick(styles);
  const interfaces = legs.map((network) => {
    const host = `network: n${network}, host: ${routerHost(router)}`;
    if (style === "own") return `n${network}: { ${host} }`;
    if (style === "trunk") return `n${network}: { port: t, tag: ${vlanOf(network)}, ${host} }`;
    return `n${network}: { port: l${network}, ${host} }`;
  });
  if (style === "ports") {
    for (const network of legs) {
      addPort(world, device, `l${network}`);
      if (switches > 0) world.cables.push(`[${device}:l${network}, ${switchPort(world, access(world, network))}]`);
    }
  } else if (!world.isBonded) {
    world.cables.push(`[${addPort(world, device, "t")}, ${switchPort(world, trunk(world, legs))}]`);
  }
  const bonds = world.isBonded ? [`bonds: { t: ${bondTo(world, device, legs)} }`] : [];
  const own = legs.filter(() => !random.chance(4)).map((network) => `n${network}`);
  const switching =
    style === "own"
      ? [`switching: { unlisted: "off", ports: { t: ${trunk(world, legs)} }, own: { tagged: [${own.join(", ")}] } }`]
      : [];
  if (router === 0 && world.hasUpstream) {
    addPort(world, device, "wan");
    addPort(world, "isp", "drop");
    world.cables.push(`[isp:drop, ${device}:wan]`);
    interfaces.push("wan: { port: wan, ipv4: 203.0.113.2/24, gateway: 203.0.113.1 }");
  }
  return [...bonds, ...switching, `interfaces: { ${interfaces.join(", ")} }`];
}

type End = "whole" | "half" | "plain" | "apart";

/**
 * A router's bond of two members: whole on one switch, or moved half-way, so that its members lead to two. There the old end is a
 * bond still and the new one is a plain port, or neither is a bond, or each is one of its own.
 */
function bondTo(world: World, device: string, legs: readonly number[]): string {
  const { random, switches } = world;
  const end = random.pick<End>(["whole", "half", "half", "plain", "apart"]);
  const mode = random.pick(["static", "lacp"]);
  const first = random.below(switches);
  const second = end === "whole" ? first : (first + 1 + random.below(switches - 1)) % switches;
  const [old, now] = [`s${first + 1}`, `s${second + 1}`];
  const says = trunk(world, legs);
  const bonded = (name: string, members: readonly string[]): void => {
    const [list, ports] = [world.bonds.get(name) ?? [], world.switched.get(name) ?? []];
    const bond = `b${list.length + 1}`;
    world.bonds.set(name, [
      ...list,
      `${bond}: { members: [${members.join(", ")}], mode: ${random.chance(85) ? mode : "static"} }`,
    ]);
    world.switched.set(name, [...ports, `${bond}: ${says}`]);
  };
  const bare = (member: string, name: string): string => {
    const port = `${device}${member}`;
    world.cables.push(`[${addPort(world, device, member)}, ${addPort(world, name, port)}]`);
    return port;
  };
  if (end === "plain") world.cables.push(`[${addPort(world, device, "t1")}, ${switchPort(world, says, first)}]`);
  if (end === "whole") bonded(old, [bare("t1", old), bare("t2", old)]);
  if (end === "half") bonded(old, [bare("t1", old), loose(world, old, device)]);
  if (end === "apart") {
    bonded(old, [bare("t1", old)]);
    bonded(now, [bare("t2", now)]);
  }
  if (end === "half" || end === "plain")
    world.cables.push(
      `[${addPort(world, device, "t2")}, ${switchPort(world, random.chance(60) ? says : trunk(world, legs), second)}]`,
    );
  return `{ members: [t1, t2], mode: ${mode} }`;
}

/** The port that a member was pulled out of. */
function loose(world: World, name: string, device: string): string {
  addPort(world, name, `${device}old`);
  return `${device}old`;
}

const isOn = (legs: readonly number[], network: number): boolean => legs.includes(network);

/** Routes along the row of routers, most of them right. */
function routesOf(world: World, router: number): readonly string[] {
  const { random, networks, routers } = world;
  const legs = routers[router] ?? [];
  const lines = networks.flatMap((network): readonly string[] => {
    if (isOn(legs, network) || random.chance(world.isOdd ? 35 : 10)) return [];
    const towards = nextRouter(world, router, network);
    const shared = towards === undefined ? undefined : legs.find((each) => isOn(routers[towards] ?? [], each));
    if (towards === undefined || shared === undefined) return [];
    const other = random.chance(5) ? 77 : routerHost(towards);
    const metric = random.chance(10) ? ", metric: 5" : "";
    const ways = [`{ to: 10.0.${network}.0/24, via: ${four(shared, other)}${metric} }`];
    if (world.six) ways.push(`{ to: "fd00:0:0:${network}::/64", via: "${six(shared, other)}" }`);
    return ways;
  });
  const refuse = random.chance(world.isOdd ? 70 : 12)
    ? [
        `{ to: 10.0.${random.pick(networks)}.${world.isOdd ? "0/25" : `${random.pick([0, 8, 128])}/29`}, action: ${random.pick(REFUSALS)} }`,
      ]
    : [];
  const up = router > 0 && random.chance(70) ? defaultUp(world, router) : [];
  const round = world.isOdd && random.chance(router > 0 ? 90 : 80) ? sentBack(world, router) : [];
  return [...lines, ...refuse, ...up, ...round];
}

const REFUSALS = ["blackhole", "unreachable", "prohibit"] as const;

/** A router sends the lower half of a network of its own to its neighbour, which sends it here. */
function sentBack({ routers }: World, router: number): readonly string[] {
  const legs = routers[router] ?? [];
  const other = router === 0 ? 1 : router - 1;
  const shared = legs.find((each) => isOn(routers[other] ?? [], each));
  const own = router === 0 ? legs[0] : legs.at(-1);
  return shared === undefined ? [] : [`{ to: 10.0.${own}.0/25, via: ${four(shared, routerHost(other))} }`];
}

function nextRouter({ routers }: World, router: number, network: number): number | undefined {
  const owner = routers.findIndex((legs) => isOn(legs, network));
  if (owner < 0) return undefined;
  return owner > router ? router + 1 : router - 1;
}

function defaultUp({ routers }: World, router: number): readonly string[] {
  const shared = (routers[router] ?? []).find((each) => isOn(routers[router - 1] ?? [], each));
  return shared === undefined ? [] : [`{ to: default, via: ${four(shared, routerHost(router - 1))} }`];
}

// -- rules -------------------------------------------------------------------------------------------------------------

const SERVICES = [
  "tcp/22",
  "tcp/443",
  "udp/53",
  "tcp",
  "udp",
  "icmp/echo-request",
  "icmp",
  "icmp6/echo-request",
  "tcp/22-443",
  "sctp/22",
  "udp/40000",
];

function placesOf({ networks, hosts, routers, hasUpstream }: World): readonly string[] {
  return [
    ...networks.map((each) => `n${each}`),
    ...hosts.map((_, index) => `h${index + 1}`),
    ...routers.map((legs, index) => `r${index + 1}/n${legs[0]}`),
    ...networks.map((each) => `10.0.${each}.8/29`),
    ...(hasUpstream ? ["internet"] : []),
  ];
}

function rule(
  world: World,
  legs: readonly string[],
  at: number,
  list: "to" | "through" | "from",
  accepts: number,
): string {
  const { chance, pick } = world.random;
  const places = placesOf(world);
  const reset = "reject, with: tcp-reset";
  const odd = ["drop", "drop", "reject", reset, reset, "reject, with: prohibited"];
  const action = chance(accepts)
    ? "accept"
    : pick(world.isOdd ? odd : ["drop", "drop", "reject", reset, "reject, with: prohibited"]);
  const words = [
    `name: rule ${at}`,
    ...(list !== "from" && chance(35) ? [`in: ${pick(legs)}`] : []),
    ...(list !== "to" && chance(25) ? [`out: ${pick(legs)}`] : []),
    ...(chance(30) ? [`source: ${pick(places)}`] : []),
    ...(list !== "to" && chance(world.isOdd ? 55 : 30) ? [`dest: ${pick(places)}`] : []),
    ...(chance(45) ? [`service: ${chance(30) ? `[${pick(SERVICES)}, ${pick(SERVICES)}]` : pick(SERVICES)}`] : []),
    ...(chance(world.isOdd ? 25 : 6) ? ["source-port: 40000"] : []),
    ...(chance(6) ? ["family: ipv4"] : []),
    ...(chance(world.isOdd ? 50 : 25)
      ? [`state: ${pick(["new", "[established, related]", "invalid", "[new, established]", "untracked"])}`]
      : []),
    ...(list !== "from" && chance(world.isOdd ? 35 : 3) ? ["source-mac: 02:00:00:00:00:fe"] : []),
    `action: ${action}`,
  ];
  return `{ ${words.join(", ")} }`;
}

/** Answers, and whoever looks for a neighbour; without these little works behind a list that drops. */
const SOUND = [
  "{ name: answers, state: [established, related], action: accept }",
  "{ name: neighbours, service: [icmp6/neighbour-solicitation, icmp6/neighbour-advertisement, icmp6/router-solicitation], action: accept }",
];

function ruleList(world: World, legs: readonly string[], list: "to" | "through" | "from"): string {
  const { chance, below } = world.random;
  const drops = list !== "from" && chance(55);
  const sound = drops && chance(85) ? SOUND : [];
  const rules = Array.from({ length: below(5) + (drops ? 1 : 0) }, (_, at) =>
    rule(world, legs, at + 1, list, world.isOdd ? 42 : drops ? 75 : 35),
  );
  return `${list}: { otherwise: ${drops ? "drop" : "accept"}, rules: [${[...sound, ...rules].join(", ")}] }`;
}

function translations(world: World, legs: readonly string[]): readonly string[] {
  const { random, hosts, hasUpstream } = world;
  const { chance, pick } = random;
  if (!chance(world.isOdd ? 80 : 40)) return [];
  const out = hasUpstream && legs.includes("wan") && chance(75) ? "wan" : pick(legs);
  const source = chance(75)
    ? [
        `{ name: hide, family: ipv4, out: ${out}, to: ${chance(80) ? "external-address" : `10.0.${pick(world.networks)}.9`} }`,
      ]
    : [];
  const keep =
    source.length > 0 && chance(world.isOdd ? 80 : 20)
      ? [`{ name: keep, dest: ${pick(placesOf(world))}, to: unchanged }`]
      : [];
  const host = random.below(hosts.length);
  const network = hosts[host]?.[0] ?? 1;
  const target = four(network, hostHost(host));
  const service = pick(["tcp/443", "udp/53", "tcp/22-443"]);
  const port = service === "tcp/443" && chance(50) ? ", to-port: 22" : "";
  const dest = chance(55)
    ? [
        `{ name: forward, in: ${pick(legs)}, service: ${service}, ${chance(80) ? `dest: ${pick([...world.routers.flatMap((each, index) => each.map((one) => four(one, routerHost(index)))), "203.0.113.2"])}, ` : ""}to: ${target}${port} }`,
      ]
    : [];
  if (source.length + dest.length === 0) return [];
  return [
    `translate: { ${[...(source.length > 0 ? [`source: [${[...keep, ...source].join(", ")}]`] : []), ...(dest.length > 0 ? [`dest: [${dest.join(", ")}]`] : [])].join(", ")} }`,
  ];
}

function routerText(world: World, router: number): string {
  const { random, routers } = world;
  const { chance, pick } = random;
  const legs = routers[router] ?? [];
  const names = [...legs.map((each) => `n${each}`), ...(router === 0 && world.hasUpstream ? ["wan"] : [])];
  const routes = routesOf(world, router);
  const lists = (["to", "through", "from"] as const)
    .filter((list) => chance(list === "from" ? 15 : 55))
    .map((list) => ruleList(world, names, list));
  const midStream = lists.length > 0 && chance(15) ? [`mid-stream: ${pick(["new", "invalid"])}`] : [];
  const lines = [
    ...wireRouter(world, router, legs),
    ...(routes.length > 0 ? [`routes: [${routes.join(", ")}]`] : []),
    ...(chance(20) ? [`profile: ${pick(["rfc", "linux"])}`] : []),
    ...(chance(35) ? [`reverse-path: ${pick(["strict", "loose"])}`] : []),
    ...(chance(world.isOdd ? 60 : 10) ? ["host-model: strong"] : []),
    ...(chance(4) ? ['forwarding: "off"'] : []),
    ...(lists.length > 0 ? [`filter: { ${[...lists, ...midStream].join(", ")} }`] : []),
    ...translations(world, names),
    ...leasesOf(world, router, legs),
  ];
  return [`  r${router + 1}:`, ...lines.map((line) => `    ${line}`)].join("\n");
}

/** A server for the first network; a router further on carries requests to it. */
function leasesOf(world: World, router: number, legs: readonly number[]): readonly string[] {
  const { random, routers } = world;
  const last = routers.at(-1)?.at(-1) ?? 1;
  if (!world.hosts.some(isLeased(world))) return [];
  if (router === 0)
    return [
      `dhcp: { n${legs[0]}: { hosts: 100-110, lease: 1h }${routers.length > 1 && !legs.includes(last) ? `, n${last}: { hosts: 100-110, lease: 1h, router: ${four(last, routerHost(routers.length - 1))} }` : ""} }`,
    ];
  const shared = legs[0] ?? 1;
  const isLast = router === routers.length - 1;
  return isLast && isOn(legs, last) && router === 1 && random.chance(80)
    ? [`relay: { n${last}: { to: ${four(shared, routerHost(0))} } }`]
    : [];
}

/** In every sixth site the last host takes leases. */
function isLeased({ hosts, networks }: World): (legs: readonly number[], index?: number) => boolean {
  return (legs, index = hosts.indexOf(legs)) =>
    index === hosts.length - 1 && (hosts.length + networks.length) % 3 === 0;
}

// -- hosts and the rest ------------------------------------------------------------------------------------------------

function hostText(world: World, index: number): string {
  const { random, hosts, routers } = world;
  const { chance, pick } = random;
  const legs = hosts[index] ?? [];
  const lease = isLeased(world)(legs, index);
  const words = legs.map((network, at) => {
    if (lease && at === 0) return `a${network}: lease`;
    const router = routers.findIndex((each) => isOn(each, network));
    const gateway =
      at === 0 && router >= 0 && chance(world.isOdd ? 50 : 85)
        ? `, gateway: ${chance(6) ? four(network, 78) : gatewayOf(world, network, router)}`
        : ", gateway: none";
    return `a${network}: { network: n${network}, host: ${hostHost(index)}${gateway} }`;
  });
  const serves = chance(40)
    ? [`serves: { ${pick(["tcp/443: all", "udp/53: all, tcp/22: all", `tcp/22: [a${legs[0]}]`])} }`]
    : [];
  const more = [
    ...(chance(world.isOdd ? 60 : 15) ? ["host-model: strong"] : []),
    ...(chance(12)
      ? [
          `filter: { ${ruleList(
            world,
            legs.map((each) => `a${each}`),
            "to",
          )} }`,
        ]
      : []),
    ...(chance(10) ? ["reverse-path: strict"] : []),
  ];
  return [
    `  h${index + 1}:`,
    `    legs: { ${words.join(", ")} }`,
    ...[...serves, ...more].map((line) => `    ${line}`),
  ].join("\n");
}

function gatewayOf({ six: isSix }: World, network: number, router: number): string {
  const address = four(network, routerHost(router));
  return isSix ? `[${address}, "${six(network, routerHost(router))}"]` : address;
}

function wireHost(world: World, index: number): void {
  for (const network of world.hosts[index] ?? []) {
    const port = addPort(world, `h${index + 1}`, `a${network}`);
    if (world.switches > 0) {
      world.cables.push(`[${port}, ${switchPort(world, access(world, network))}]`);
      continue;
    }
    // Without switches each network is a box with sockets.
    world.cables.push(`[${port}, ${boxPort(world, network)}]`);
  }
}

function boxPort(world: World, network: number): string {
  const device = `u${network}`;
  return addPort(world, device, `p${(world.ports.get(device)?.length ?? 0) + 1}`);
}

function chainSwitches(world: World): void {
  for (let at = 1; at < world.switches; at++) {
    for (const [name, port] of [
      [`s${at}`, "up"],
      [`s${at + 1}`, "down"],
    ] as const) {
      world.switched.set(name, [...(world.switched.get(name) ?? []), `${port}: ${trunk(world)}`]);
      addPort(world, name, port);
    }
    world.cables.push(`[s${at}:up, s${at + 1}:down]`);
  }
}

const KINDS: Readonly<Record<string, string>> = {
  r: "router",
  s: "switch",
  h: "host",
  u: "unmanaged-switch",
  i: "upstream",
};

/** The documents of a site: a topology, then an intent; `leaning`: what is rare in others and common in it. */
export function textsOf(seed: number, leaning: Leaning = "usual"): readonly [topology: string, intent: string] {
  const world = worldOf(seed, leaning);
  chainSwitches(world);
  const routers = world.routers.map((_, index) => routerText(world, index));
  if (world.switches === 0) {
    world.routers.forEach((legs, index) => {
      for (const network of legs) world.cables.push(`[r${index + 1}:l${network}, ${boxPort(world, network)}]`);
    });
  }
  const hosts = world.hosts.map((_, index) => {
    wireHost(world, index);
    return hostText(world, index);
  });
  const networks = world.networks.map(
    (each) =>
      `  n${each}: { vlan: ${vlanOf(each)}, ipv4: 10.0.${each}.0/24${world.six ? `, ipv6: "fd00:0:0:${each}::/64"` : ""} }`,
  );
  const switches = [...world.switched].map(([name, list]) => {
    // Two sockets that nothing is plugged into: one in a network, one as it came.
    const spare = addSpare(world, name);
    const profile = world.random.chance(25) ? "\n    profile: rfc" : "";
    const bonds = world.bonds.get(name)?.join(", ");
    const bonded = bonds === undefined ? "" : `\n    bonds: { ${bonds} }`;
    return `  ${name}:${profile}${bonded}\n    switching:\n      unlisted: "off"\n      ports:\n${[...list, ...spare].map((line) => `        ${line}`).join("\n")}`;
  });
  const devices = [...world.ports].map(
    ([name, ports]) =>
      `  ${name}: { is: ${KINDS[name[0] ?? ""]}, ports: { ${ports.map((port) => `${port}: 1G`).join(", ")} }${name.startsWith("u") ? ", spanning-tree-frames: pass" : ""} }`,
  );
  const isp = world.hasUpstream
    ? ["  isp: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110, lease: 1h } } }"]
    : [];
  return [
    ["dryrack: topology/1", "devices:", ...devices, "cables:", ...world.cables.map((each) => `  - ${each}`), ""].join(
      "\n",
    ),
    ["dryrack: intent/1", "networks:", ...networks, "devices:", ...switches, ...routers, ...hosts, ...isp, ""].join(
      "\n",
    ),
  ];
}

function addSpare(world: World, name: string): readonly string[] {
  addPort(world, name, "spare");
  return [`spare: ${access(world, world.random.pick(world.networks))}`];
}
