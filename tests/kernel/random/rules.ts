/** Filter lists: most let answers back and neighbours be found; rules of every kind, action and state. */
import type { Dice } from "../dice.ts";
import { address4, address6, aimAt, type Box, type Draft, hardware, SERVICES } from "./draft.ts";

/** What a list may look at: the leg a packet came in by, the one it leaves by. */
type Sees = { readonly list: ListName; readonly ingress: boolean; readonly egress: boolean };
type ListName = "through" | "to" | "from";

/** Lists of a device, each with its chance. */
export function filterText(draft: Draft, box: Box, chances: Readonly<Record<ListName, number>>): string {
  const { dice } = draft;
  const sees = { through: [true, true], to: [true, false], from: [false, true] } as const;
  const lists = (["through", "to", "from"] as const).flatMap((list) => {
    const [ingress, egress] = sees[list];
    return dice.chance(chances[list]) ? [`${list}: ${ruleList(draft, box, { list, ingress, egress })}`] : [];
  });
  if (dice.chance(0.25)) lists.push("mid-stream: invalid");
  return lists.length === 0 ? "" : `filter: { ${lists.join(", ")} }`;
}

function ruleList(draft: Draft, box: Box, sees: Sees): string {
  const { dice } = draft;
  // Lets connections begin and nothing of them go on.
  if (dice.chance(sees.list === "to" ? 0.2 : 0.03)) {
    for (const leg of box.legs) aimAt(draft, leg, leg.host, dice.pick(["tcp/80", "tcp/443"]));
    return `{ otherwise: drop, rules: [${FOUND}, { name: only, state: new, action: accept }] }`;
  }
  const first = [
    ...(dice.chance(0.38) ? [errorsText(dice)] : []),
    ...(sees.ingress && dice.chance(0.25) ? hardwareRule(draft, box) : []),
    ...(dice.chance(0.25) ? [ruleText(draft, box, "early", sees)] : []),
    ...(dice.chance(0.5) ? [turnedRule(draft, box, sees)] : []),
  ];
  const back = dice.chance(0.8) ? ["{ name: back, state: [established, related], action: accept }"] : [];
  const found = dice.chance(0.8) ? [FOUND] : [];
  const count = dice.below(5);
  const rules = Array.from({ length: count }, (_, index) => ruleText(draft, box, `n${index}`, sees));
  const last = dice.pick([
    "accept",
    "accept",
    "accept",
    "accept",
    "accept",
    "accept",
    "accept",
    "drop",
    "reject",
    "{ action: reject, with: prohibited }",
  ]);
  return `{ otherwise: ${last}, rules: [${[...first, ...back, ...found, ...rules].join(", ")}] }`;
}

const FOUND = "{ name: found, service: icmp6, action: accept }";

function ruleText(draft: Draft, box: Box, name: string, { ingress, egress }: Sees): string {
  const { dice } = draft;
  const keys = [`name: ${name}`];
  if (ingress && dice.chance(0.35)) keys.push(`in: [${legNames(dice, box)}]`);
  if (egress && dice.chance(0.25)) keys.push(`out: [${legNames(dice, box)}]`);
  keys.push(...matchKeys(draft));
  if (dice.chance(0.35)) keys.push(`state: [${stateNames(dice)}]`);
  keys.push(`action: ${dice.pick(ACTIONS)}`);
  return `{ ${keys.join(", ")} }`;
}

const REJECTS = [
  "reject, with: port-unreachable",
  "reject, with: tcp-reset",
  "reject, with: host-unreachable",
  "reject, with: host-unreachable",
  "reject, with: network-unreachable",
  "reject, with: prohibited",
];

const ACTIONS = [
  "accept",
  "accept",
  "accept",
  "accept",
  "accept",
  "accept",
  "accept",
  "drop",
  "drop",
  "reject",
  "reject, with: port-unreachable",
  "reject, with: tcp-reset",
  "reject, with: tcp-reset",
  "reject, with: host-unreachable",
  "reject, with: host-unreachable",
  "reject, with: network-unreachable",
  "reject, with: network-unreachable",
  "reject, with: prohibited",
  "reject, with: prohibited",
];

/** Somebody near, or the device itself, is turned away in both versions of IP, and asked for. */
function turnedRule(draft: Draft, box: Box, { list }: Sees): string {
  const { dice } = draft;
  const sixes = box.legs.filter(({ segment: { six } }) => six);
  const leg = dice.pick(sixes.length > 0 && dice.chance(0.85) ? sixes : box.legs);
  const { segment } = leg;
  const { host } = list === "to" ? leg : dice.pick(segment.members.slice(-2));
  const ask = dice.pick(["ping", ...SERVICES]);
  aimAt(draft, leg, host, ask);
  const toSix = { to: address6(segment.id, host), ask: ask === "ping" ? "ping6" : ask };
  if (segment.six) draft.aims.push(toSix, toSix);
  const ends = [address4(segment.id, host), ...(segment.six ? [`"${address6(segment.id, host)}"`] : [])];
  const service = ask === "ping" ? "icmp/echo-request, icmp6/echo-request" : ask;
  return `{ name: turned, dest: [${ends.join(", ")}], service: [${service}], action: ${dice.pick(REJECTS)} }`;
}

/** Of some neighbours that state their hardware addresses, where there are any. */
function hardwareRule({ dice }: Draft, { legs }: Box): readonly string[] {
  const known = legs.filter(({ segment }) => segment.stated && segment.members.length > 1);
  const all = known.flatMap(({ segment: { id, members } }) => members.slice(1).map(({ host }) => hardware(id, host)));
  const some = dice.some(all, 0.6);
  if (some.length === 0) return [];
  const state = dice.chance(0.5) ? "state: new, " : "";
  return [
    `{ name: known, source-mac: [${some.join(", ")}], ${state}action: ${dice.pick(["accept", "accept", "drop"])} }`,
  ];
}

/** Errors of some kinds, of both versions of IP. */
function errorsText(dice: Dice): string {
  const codes = [...dice.some(["icmp/3/0", "icmp/3/1", "icmp/3/3", "icmp/3/13"], 0.5), "icmp6/1/0"];
  return `{ name: told, service: [${[...codes, dice.pick(["icmp6/1/3", "icmp6/1/4", "icmp6/3"])].join(", ")}], action: ${dice.pick(["accept", "accept", "accept", "drop"])} }`;
}

function stateNames(dice: Dice): string {
  const names = dice.some(["new", "established", "related", "invalid", "untracked"], 0.4);
  return names.length === 0 ? "new" : names.join(", ");
}

function legNames(dice: Dice, { legs }: Box): string {
  const names = dice.some(legs, 0.6).map(({ name }) => name);
  return names.length === 0 ? dice.pick(legs).name : names.join(", ");
}

const PROTOCOLS = [
  "tcp",
  "udp",
  "icmp",
  "icmp/echo-request",
  "icmp/echo-request",
  "icmp6/echo-request",
  "icmp/echo-reply",
  "tcp/80-443",
  "udp/1-6000",
  "icmp/3",
  "icmp/3/1",
  "icmp6/1",
  "icmp6/1/3",
];

/** Whole classes, of which translation draws a port, and what it is told to draw of: else the kernel's dice decide. */
const SOURCE_PORTS = ["1024-65535", "1024-65535", "1024-65535", "[1-511, 20000-20063]", "1-1023"];

/** Who, whom and which service, each now and then. */
export function matchKeys(draft: Draft): readonly string[] {
  const { dice } = draft;
  return [
    ...(dice.chance(0.25) ? [`source: ${endText(draft)}`] : []),
    ...(dice.chance(0.25) ? [`dest: ${endText(draft)}`] : []),
    ...(dice.chance(0.5) ? [`service: [${dice.pick([...SERVICES, ...PROTOCOLS])}, ${dice.pick(SERVICES)}]`] : []),
    ...(dice.chance(0.18) ? [`source-port: ${dice.pick(SOURCE_PORTS)}`] : []),
    ...(dice.chance(0.1) ? [`family: ${dice.pick(["ipv4", "ipv6"])}`] : []),
  ];
}

function endText({ dice, segments }: Draft): string {
  const { id, members } = dice.pick(segments);
  const { device, host } = dice.pick(members);
  return dice.pick([
    `10.40.${id}.0/24`,
    `[10.40.${id}.0/24, "fd40:${id}::/64"]`,
    address4(id, host),
    `[${address4(id, host)}, "${address6(id, host)}"]`,
    `${address4(id, 1)}-${address4(id, 11)}`,
    "10.40.0.0/21",
    '["10.40.0.0/16", "fd40::/16"]',
    device,
  ]);
}
