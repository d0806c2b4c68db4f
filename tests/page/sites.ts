/**
 * Sites whose pages are looked at: the fixture with slips of the pen, one full of hostile texts, one of two hundred devices.
 */
import { type Edit, INTENT } from "../cli/command.ts";

/** Nothing keeps what goes through the router on its way out any more. */
export const LEAK: Edit = [
  INTENT,
  "{ name: all go ashore, in: [crew, passengers], out: wan,",
  "{ name: all go ashore, in: [crew, passengers],",
];

/** Texts that try to leave their place: markup, attributes, links, text turned round, entities, and one without an end. */
export const HOSTILE: readonly string[] = [
  `<img src=x onerror="document.title='broken in'">`,
  `"><script>document.title="broken in"</script>`,
  `' autofocus onfocus='document.title="broken in"`,
  "</style></svg></title><b>bold</b>",
  "javascript:alert(1) &lt;i&gt; &amp; &#60;u&#62;",
  "\u202eturned round\u2069 and back",
  "שם בעברית, then English",
  `${"ten thousand ".repeat(769)}end`,
  "w".repeat(10_000),
];

/** A file of assertions named so; the even ones hold, and each has a note that is hostile, too. */
export const HOSTILE_FILE: Edit = [
  "assertions/ferry/hostile.yaml",
  undefined,
  [
    "dryrack: assertions/1",
    "assertions:",
    ...HOSTILE.map((name, index) => {
      const ends = index % 2 === 0 ? "from: passengers, to: instruments" : "from: crew, to: internet";
      return `  - { name: ${JSON.stringify(`${index} ${name}`)}, note: ${JSON.stringify(name)}, ${ends}, expect: blocked }`;
    }),
    "",
  ].join("\n"),
];

const MANY = Array.from({ length: 24 }, (_, index) => `192.0.2.${index + 1}`);

/** A table of more columns than any window is wide. */
export const WIDE_TABLE: Edit = [
  "assertions/ferry/wide.yaml",
  undefined,
  `dryrack: assertions/1
assertions:
  - name: a wide table
    policy: { from: [passengers], to: [instruments, ${MANY.join(", ")}], open: { passengers: { ${MANY.map((each, index) => `${each}: [tcp/${8000 + index}]`).join(", ")} } } }
`,
];

/** The texts of a site. */
export type SiteTexts = { readonly topology: string; readonly intent: string; readonly assertions: string };

const NETWORKS = ["staff", "voice", "sensors", "visitors"] as const;
const FLOORS = Array.from({ length: 8 }, (_, index) => index + 1);
const SEATS = Array.from({ length: 24 }, (_, index) => index + 1);
const seats = FLOORS.flatMap((floor) => SEATS.map((seat) => ({ floor, seat, name: `f${floor}s${seat}` })));
const networkOf = (floor: number, seat: number): (typeof NETWORKS)[number] =>
  NETWORKS[(floor + seat) % NETWORKS.length] ?? "staff";

/** One router, one core, eight floors of 24 seats: 203 devices, four networks; one of 208 assertions is broken. */
export function twoHundredDevices(): SiteTexts {
  return { topology: topology(), intent: intent(), assertions: assertions() };
}

function topology(): string {
  return [
    "dryrack: topology/1",
    "devices:",
    "  carrier: { is: upstream, ports: { drop: 10G } }",
    "  edge: { is: router, ports: { wan: 10G, lan: 10G } }",
    "  core: { is: switch, ports: { up: 10G, f1..8: 10G } }",
    ...FLOORS.map((floor) => `  floor${floor}: { is: switch, ports: { up: 10G, p1..24: 1G } }`),
    ...seats.map(({ name }) => `  ${name}: { is: host, ports: { nic: 1G } }`),
    "cables:",
    "  - [carrier:drop, edge:wan]",
    "  - [edge:lan, core:up]",
    ...FLOORS.map((floor) => `  - [core:f${floor}, floor${floor}:up]`),
    ...seats.map(({ floor, seat, name }) => `  - [floor${floor}:p${seat}, ${name}:nic]`),
    "",
  ].join("\n");
}

function intent(): string {
  const all = NETWORKS.join(", ");
  return [
    "dryrack: intent/1",
    "networks:",
    ...NETWORKS.map((name, index) => `  ${name}: { vlan: ${10 * (index + 1)}, ipv4: 10.60.${10 * (index + 1)}.0/24 }`),
    "port-roles:",
    `  trunk: { tagged: [${all}], admit: tagged }`,
    ...NETWORKS.map((name) => `  ${name}-seat: { untagged: ${name}, admit: untagged }`),
    "devices:",
    "  carrier: { hands-out: { drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } } }",
    "  edge:",
    `    switching: { unlisted: "off", ports: { lan: trunk }, own: { tagged: [${all}] } }`,
    "    interfaces:",
    "      wan: { port: wan, ipv4: lease }",
    ...NETWORKS.map((name) => `      ${name}: { network: ${name}, host: 1 }`),
    `    dhcp: { ${NETWORKS.map((name) => `${name}: { hosts: 100-199 }`).join(", ")} }`,
    "    reverse-path: strict",
    "    filter:",
    "      to:",
    "        otherwise: drop",
    "        rules:",
    "          - { name: replies, state: [established, related], action: accept }",
    `          - { name: first leases, in: [${all}], dest: 255.255.255.255, service: udp/67, action: accept }`,
    "      through:",
    "        otherwise: drop",
    "        rules:",
    "          - { name: answers, state: [established, related], action: accept }",
    "          - { name: a slip, in: visitors, out: sensors, service: tcp/80, action: accept }",
    `          - { name: all go out, in: [${all}], out: wan, action: accept }`,
    "    translate: { source: [ { name: one address, family: ipv4, out: wan, to: external-address } ] }",
    `  core: { switching: { unlisted: "off", ports: { up: trunk, f1..8: trunk } } }`,
    ...FLOORS.map(floorOf),
    ...seats.map(({ name }) => `  ${name}: { legs: { nic: lease } }`),
    "",
  ].join("\n");
}

function floorOf(floor: number): string {
  const ports = SEATS.map((seat) => `p${seat}: ${networkOf(floor, seat)}-seat`).join(", ");
  return `  floor${floor}: { switching: { unlisted: "off", ports: { up: trunk, ${ports} } } }`;
}

function assertions(): string {
  const pairs = NETWORKS.flatMap((from) => NETWORKS.filter((to) => to !== from).map((to) => [from, to] as const));
  return [
    "dryrack: assertions/1",
    "assertions:",
    ...pairs.map(
      ([from, to]) => `  - { name: ${from} stay away from ${to}, from: ${from}, to: ${to}, expect: blocked }`,
    ),
    ...seats.map(
      ({ name }) => `  - { name: ${name} gets out, from: ${name}, to: internet, service: tcp/443, expect: connects }`,
    ),
    ...NETWORKS.map((name) => `  - { name: nobody gets in to ${name}, from: internet, to: ${name}, expect: blocked }`),
    "",
  ].join("\n");
}
