/**
 * The site that most cases start from: a router between two rooms, a host in each, a spare port in the red room.
 *
 *     a --- p1 |   | p2 --- b      red 10.1.0.0/24, blue 10.2.0.0/24; `a` and `b` are host 10 of theirs
 *              | r |
 *         - p3 |   | p4 ---        p3 spare in red, p4 as a case wishes
 */
import { siteFrom, type TestSite } from "./verdicts.ts";

/** What a case changes, each as a piece of YAML in flow style. */
export type Rooms = {
  /** Rules of the router's `through` list; absent: no filter. */
  readonly through?: string;
  /** Rules of its `to` list; absent: accepts all. */
  readonly to?: string;
  /** Further keys of the router, each line indented by 4. */
  readonly router?: string;
  /** Keys of `a` after its legs. */
  readonly a?: string;
  /** Legs of `a`. Default: 10.1.0.10 with the router as gateway. */
  readonly legsA?: string;
  /** Keys of `b` after its legs. */
  readonly b?: string;
  /** Legs of `b`. Default: 10.2.0.10 with the router as gateway. */
  readonly legsB?: string;
  /** Further devices of the topology, each line indented by 2. */
  readonly rack?: string;
  /** Further cables, each line indented by 2. */
  readonly cables?: string;
  /** Further devices of the intent, each line indented by 2. */
  readonly intent?: string;
  /** Further networks, each line indented by 2. */
  readonly networks?: string;
  /** Further top-level keys of the intent. */
  readonly top?: string;
  /** Ports of the router's switching. Default: p1 and p3 in red, p2 in blue. */
  readonly ports?: string;
  /** Further interfaces of the router. */
  readonly interfaces?: string;
};

/** Accepts answers and one more rule, drops the rest. */
export function onlyRule(rule: string): string {
  return `{ otherwise: drop, rules: [{ name: answers, state: [established, related], action: accept }, ${rule}] }`;
}

/** The site with a case's changes. */
export function rooms(changes: Rooms = {}): TestSite {
  return siteFrom(rackOf(changes), intentOf(changes));
}

function rackOf({ rack = "", cables = "" }: Rooms): string {
  return `dryrack: topology/1
devices:
  r: { is: router, ports: { p1..4: 1G } }
  a: { is: host, ports: { nic: 1G, spare: 1G } }
  b: { is: host, ports: { nic: 1G, spare: 1G } }
${rack}
cables:
  - [r:p1, a:nic]
  - [r:p2, b:nic]
${cables}`;
}

const LEG_A = "nic: { network: red, host: 10, gateway: 10.1.0.1 }";
const LEG_B = "nic: { network: blue, host: 10, gateway: 10.2.0.1 }";
const PORTS = "p1: { untagged: red }, p3: { untagged: red }, p2: { untagged: blue }";

function intentOf(changes: Rooms): string {
  const { a = "", b = "", legsA = LEG_A, legsB = LEG_B, intent = "", networks = "", top = "" } = changes;
  const { ports = PORTS, interfaces = "", router = "" } = changes;
  return `dryrack: intent/1
networks:
  red: { vlan: 10, ipv4: 10.1.0.0/24 }
  blue: { vlan: 20, ipv4: 10.2.0.0/24 }
${networks}
${top}
devices:
  r:
    switching: { ports: { ${ports} }, unlisted: "off", own: { tagged: [red, blue] } }
    interfaces: { red: { network: red, host: 1 }, blue: { network: blue, host: 1 }${interfaces} }
${filterOf(changes)}
${router}
  a: { legs: { ${legsA} }${a === "" ? "" : `, ${a}`} }
  b: { legs: { ${legsB} }${b === "" ? "" : `, ${b}`} }
${intent}`;
}

function filterOf({ through, to }: Rooms): string {
  if (through === undefined && to === undefined) return "";
  const accept = "{ otherwise: accept }";
  return `    filter: { to: ${to ?? accept}, through: ${through ?? accept}, from: ${accept} }`;
}
