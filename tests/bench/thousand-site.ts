/**
 * A campus of 1,000 devices and 1,000 assertions, written as a person would: eight houses, each with a router, a
 * distribution switch and five floor switches on trunks; a server hall; one way out. Every second host takes a lease.
 */

/** The texts of a site and of its assertions. */
export type SiteTexts = { readonly topology: string; readonly intent: string; readonly assertions: string };

const HOUSES = counted(8);
const FLOORS = counted(5);
const SEATS = counted(23);
const SERVERS = counted(20);
const NETWORKS = ["staff", "voice", "sensors", "visitors"] as const;

/** The n-th network of a house in the plan of addresses. */
const subnet = (house: number, network: number): string => `10.${20 + house}.${network * 10}`;
const seat = (house: number, floor: number, host: number): string => `h${house}f${floor}s${host}`;
/** Seats go round the networks of their house. */
const kindOf = (floor: number, host: number): number => (floor + host) % NETWORKS.length;
const serverPort = (server: number): number => 8000 + server;

/** The site, the same on every call. */
export function thousandDevices(): SiteTexts {
  return { topology: topology(), intent: intent(), assertions: assertions() };
}

// -- what is cabled ----------------------------------------------------------------------------------------------

function topology(): string {
  const devices = [
    "  carrier: { is: upstream, ports: { drop: 10G } }",
    "  edge: { is: router, ports: { wan: 10G, lan: 10G } }",
    "  core: { is: switch, ports: { up: 10G, hall: 10G, d1..8: 10G } }",
    "  hall: { is: switch, ports: { up: 10G, p1..20: 10G } }",
    ...SERVERS.map((server) => `  server${server}: { is: host, ports: { nic: 10G } }`),
    ...HOUSES.flatMap((house) => [
      `  r${house}: { is: router, ports: { up: 10G, down: 10G } }`,
      `  d${house}: { is: switch, ports: { up: 10G, f1..5: 10G } }`,
      ...FLOORS.flatMap((floor) => [
        `  s${house}x${floor}: { is: switch, ports: { up: 10G, p1..23: 1G } }`,
        ...SEATS.map((host) => `  ${seat(house, floor, host)}: { is: host, ports: { nic: 1G } }`),
      ]),
    ]),
  ];
  const cables = [
    "  - [carrier:drop, edge:wan]",
    "  - [edge:lan, core:up]",
    "  - [core:hall, hall:up]",
    ...SERVERS.map((server) => `  - [hall:p${server}, server${server}:nic]`),
    ...HOUSES.flatMap((house) => [
      `  - [core:d${house}, r${house}:up]`,
      `  - [r${house}:down, d${house}:up]`,
      ...FLOORS.flatMap((floor) => [
        `  - [d${house}:f${floor}, s${house}x${floor}:up]`,
        ...SEATS.map((host) => `  - [s${house}x${floor}:p${host}, ${seat(house, floor, host)}:nic]`),
      ]),
    ]),
  ];
  return ["dryrack: topology/1", "devices:", ...devices, "cables:", ...cables, ""].join("\n");
}

// -- how it is configured ----------------------------------------------------------------------------------------

function intent(): string {
  const roles = HOUSES.flatMap((house) => [
    `  trunk${house}: { tagged: [${networksOf(house).join(", ")}], admit: tagged }`,
    ...networksOf(house).map((network) => `  ${network}-seat: { untagged: ${network}, admit: untagged }`),
  ]);
  return [
    "dryrack: intent/1",
    "networks:",
    "  transit: { vlan: 2, ipv4: 10.10.0.0/24 }",
    "  servers: { vlan: 3, ipv4: 10.11.0.0/24 }",
    ...HOUSES.flatMap((house) =>
      NETWORKS.map(
        (network, at) => `  ${network}${house}: { vlan: ${house * 10 + at}, ipv4: ${subnet(house, at)}.0/24 }`,
      ),
    ),
    "sets:",
    ...NETWORKS.map((network) => `  all-${network}: [${HOUSES.map((house) => `${network}${house}`).join(", ")}]`),
    "port-roles:",
    "  backbone: { tagged: [transit, servers], admit: tagged }",
    "  crossing: { untagged: transit, admit: untagged }",
    "  rack: { untagged: servers, admit: untagged }",
    ...roles,
    "devices:",
    "  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }",
    ...edge(),
    `  core: { switching: { unlisted: "off", ports: { up: backbone, hall: backbone, d1..8: crossing } } }`,
    `  hall: { switching: { unlisted: "off", ports: { up: backbone, p1..20: rack } } }`,
    ...SERVERS.map(
      (server) =>
        `  server${server}: { legs: { nic: { network: servers, host: ${10 + server}, gateway: edge/servers } }, ` +
        `serves: { tcp/${serverPort(server)}: all, tcp/22: all } }`,
    ),
    ...HOUSES.flatMap(houseIntent),
    "",
  ].join("\n");
}

function edge(): string[] {
  const routes = HOUSES.map((house) => `      - { to: 10.${20 + house}.0.0/16, via: 10.10.0.${10 + house} }`);
  const open = SERVERS.map(
    (server) =>
      `          - { name: server ${server}, source: [all-staff${server % 2 ? ", all-voice" : ""}], dest: server${server}, ` +
      `service: tcp/${serverPort(server)}, action: accept }`,
  );
  return [
    "  edge:",
    `    switching: { unlisted: "off", ports: { lan: backbone }, own: { tagged: [transit, servers] } }`,
    "    reverse-path: strict",
    "    interfaces:",
    "      wan: { port: wan, ipv4: lease }",
    "      transit: { network: transit, host: 1 }",
    "      servers: { network: servers, host: 1 }",
    "    routes:",
    ...routes,
    "      - { to: 10.0.0.0/8, action: unreachable }",
    "    filter:",
    "      to: { otherwise: drop, rules: [{ name: answers, state: [established, related], action: accept }] }",
    "      through:",
    "        otherwise: drop",
    "        rules:",
    "          - { name: answers, state: [established, related], action: accept }",
    ...open,
    "          - { name: going out, in: transit, source: [all-staff, all-visitors], out: wan, action: accept }",
    "    translate:",
    "      source: [{ name: behind one address, family: ipv4, out: wan, to: external-address }]",
  ];
}

function houseIntent(house: number): string[] {
  const own = networksOf(house);
  const [staff, voice, sensors, visitors] = own;
  return [
    `  r${house}:`,
    `    switching: { unlisted: "off", ports: { down: trunk${house} }, own: { tagged: [${own.join(", ")}] } }`,
    "    reverse-path: strict",
    "    interfaces:",
    `      up: { network: transit, port: up, host: ${10 + house} }`,
    ...own.map((network) => `      ${network}: { network: ${network}, host: 1 }`),
    "    routes: [{ to: default, via: 10.10.0.1 }]",
    `    dhcp: { ${own.map((network) => `${network}: { hosts: 150-250 }`).join(", ")} }`,
    "    filter:",
    "      to:",
    "        otherwise: drop",
    "        rules:",
    "          - { name: answers, state: [established, related], action: accept }",
    `          - { name: first leases, in: [${own.join(", ")}], dest: 255.255.255.255, service: udp/67, action: accept }`,
    ...own.map(
      (network) =>
        `          - { name: ${network} leases, in: ${network}, dest: r${house}/${network}, service: udp/67, action: accept }`,
    ),
    "      through:",
    "        otherwise: drop",
    "        rules:",
    "          - { name: answers, state: [established, related], action: accept }",
    `          - { name: staff see sensors, in: ${staff}, out: ${sensors}, service: tcp/502, action: accept }`,
    `          - { name: staff call, in: ${staff}, out: ${voice}, service: udp/5060, action: accept }`,
    `          - { name: leaving, in: [${staff}, ${voice}, ${visitors}], out: up, action: accept }`,
    `  d${house}: { switching: { unlisted: "off", ports: { up: trunk${house}, f1..5: trunk${house} } } }`,
    ...FLOORS.flatMap((floor) => floorIntent(house, floor)),
  ];
}

function floorIntent(house: number, floor: number): string[] {
  const own = networksOf(house);
  const ports = SEATS.map((host) => `p${host}: ${own[kindOf(floor, host)]}-seat`).join(", ");
  return [
    `  s${house}x${floor}: { switching: { unlisted: "off", ports: { up: trunk${house}, ${ports} } } }`,
    ...SEATS.map((host) => {
      const kind = kindOf(floor, host);
      const network = own[kind];
      const fixed = `{ network: ${network}, host: ${floor * 24 + host}, gateway: r${house}/${network} }`;
      const serves = kind === 2 ? ", serves: { tcp/502: all }" : kind === 1 ? ", serves: { udp/5060: all }" : "";
      return `  ${seat(house, floor, host)}: { legs: { nic: ${host % 2 ? "lease" : fixed} }${serves} }`;
    }),
  ];
}

// -- what must hold ----------------------------------------------------------------------------------------------

type Asked = readonly [from: string, to: string, service: string, expect: "connects" | "arrives" | "blocked"];

/** One a seat and then some, each for a service by name: half of what is asked must be blocked. */
function assertions(): string {
  const seats = HOUSES.flatMap((house) =>
    FLOORS.flatMap((floor) => SEATS.map((host) => [house, floor, host] as const)),
  );
  const ofSeats = seats.map(([house, floor, host], at) => askedOf(house, floor, host, at));
  const rest = counted(1000 - ofSeats.length).map((at): Asked => {
    const house = HOUSES[at % HOUSES.length] ?? 1;
    return [`visitors${house}`, `sensors${(house % HOUSES.length) + 1}`, `tcp/${500 + at}`, "blocked"];
  });
  const lines = [...ofSeats, ...rest].map(
    ([from, to, service, expect], at) =>
      `  - { name: "${at + 1}: ${from} to ${to}", from: ${from}, to: ${to}, service: ${service}, expect: ${expect} }`,
  );
  return ["dryrack: assertions/1", "assertions:", ...lines, ""].join("\n");
}

function askedOf(house: number, floor: number, host: number, at: number): Asked {
  const from = seat(house, floor, host);
  const server = (at % SERVERS.length) + 1;
  const other = (house % HOUSES.length) + 1;
  const sensor = seat(house, floor, SEATS.find((each) => each > 4 && kindOf(floor, each) === 2) ?? 1);
  switch (`${NETWORKS[kindOf(floor, host)]} ${at % 3}`) {
    case "staff 0":
      return [from, `server${server}`, `tcp/${serverPort(server)}`, "connects"];
    case "staff 1":
      return [from, sensor, "tcp/502", "connects"];
    case "staff 2":
      return [from, "internet", "tcp/443", "connects"];
    case "voice 0":
      return [from, `server${(server % 10) * 2 + 1}`, `tcp/${serverPort((server % 10) * 2 + 1)}`, "arrives"];
    case "visitors 0":
      return [from, "internet", "tcp/443", "connects"];
    case "visitors 1":
      return [from, `staff${other}`, "tcp/22", "blocked"];
    case "visitors 2":
      return [from, "servers", "tcp/22", "blocked"];
    case "sensors 0":
      return [from, "internet", "tcp/443", "blocked"];
    default:
      return [from, `voice${other}`, "udp/5060", "blocked"];
  }
}

function networksOf(house: number): string[] {
  return NETWORKS.map((network) => `${network}${house}`);
}

function counted(length: number): number[] {
  return Array.from({ length }, (_, index) => index + 1);
}
