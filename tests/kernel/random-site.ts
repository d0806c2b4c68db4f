/**
 * Random sites that a kernel without tags can show: routers in a tree, segments with switches and hosts, routes that
 * are mostly right, filters that mostly let answers back, translation, and the settings of single stacks. Whatever the
 * seed, the documents are valid; what works in them is left to chance, about half of it does.
 */
import type { IpBody, IpPacket } from "../../src/wire/index.ts";
import { Dice } from "./dice.ts";
import { echo, packet, tcp, udp } from "./packets.ts";

/** A site and what is asked of it. */
export type RandomSite = {
  readonly texts: readonly [topology: string, intent: string];
  readonly probes: readonly { readonly from: string; readonly service: string; readonly to: string }[];
  /** Packets made by hand, sent before the probes: foreign sources, odd flags, small hop limits. */
  readonly packets: readonly { readonly from: string; readonly packet: IpPacket }[];
  /** Ports that translation may lead to. */
  readonly ports: readonly number[];
};

type Segment = { readonly id: number; readonly members: Member[]; readonly six: boolean };
type Member = { readonly device: string; readonly leg: string; readonly host: number };
type Box = { readonly name: string; readonly router: boolean; readonly legs: Leg[] };
type Leg = { readonly name: string; readonly segment: Segment; readonly host: number };
type Draft = { readonly dice: Dice; readonly boxes: Box[]; readonly segments: Segment[]; readonly uplinks: Uplink[] };
/** A router's way towards the root of the tree. */
type Uplink = { readonly child: number; readonly parent: number; readonly segment: Segment };

const SERVICES = ["tcp/80", "tcp/443", "udp/53", "udp/5000"];
const PORTS = [80, 443, 53, 5000, 8080];

/** The site of a seed. */
export function randomSite(seed: number): RandomSite {
  const dice = new Dice(seed);
  const draft: Draft = { dice, boxes: [], segments: [], uplinks: [] };
  const routers = 1 + dice.below(4);
  for (let index = 0; index < routers; index++) addRouter(draft, index);
  for (let index = 0; index < routers; index++) addStubs(draft, index);
  const probes = Array.from({ length: 10 }, () => randomProbe(draft));
  const packets = Array.from({ length: 3 }, () => randomPacket(draft));
  return { texts: [topologyOf(draft), intentOf(draft)], probes, packets, ports: PORTS };
}

function addSegment({ segments, dice }: Draft): Segment {
  const segment = { id: segments.length + 1, members: [], six: dice.chance(0.5) };
  segments.push(segment);
  return segment;
}

function plug(box: Box, segment: Segment): void {
  const host = box.router ? segment.members.length + 1 : segment.members.length + 10;
  const leg = `e${box.legs.length}`;
  box.legs.push({ name: leg, segment, host });
  segment.members.push({ device: box.name, leg, host });
}

function addRouter(draft: Draft, index: number): void {
  const box: Box = { name: `r${index}`, router: true, legs: [] };
  draft.boxes.push(box);
  if (index === 0) return;
  const parent = draft.dice.below(index);
  const segment = addSegment(draft);
  plug(boxAt(draft, parent), segment);
  plug(box, segment);
  draft.uplinks.push({ child: index, parent, segment });
}

function addStubs(draft: Draft, index: number): void {
  const { dice } = draft;
  for (let count = 1 + dice.below(2); count > 0; count--) {
    const segment = addSegment(draft);
    plug(boxAt(draft, index), segment);
    for (let hosts = 1 + dice.below(2); hosts > 0; hosts--) addHost(draft, segment);
  }
}

function addHost(draft: Draft, segment: Segment): void {
  const { dice, boxes, segments } = draft;
  const box: Box = { name: `h${boxes.length}`, router: false, legs: [] };
  boxes.push(box);
  plug(box, segment);
  const other = dice.pick(segments);
  if (dice.chance(0.25) && other !== segment) plug(box, other);
}

function boxAt({ boxes }: Draft, index: number): Box {
  const box = boxes[index];
  if (box === undefined) throw new Error(`no box ${index}`);
  return box;
}

function topologyOf({ boxes, segments, dice }: Draft): string {
  const devices = boxes.map(({ name, router, legs }) => {
    const ports = legs.map((leg) => `${leg.name}: 1G`).join(", ");
    return `  ${name}: { is: ${router ? "router" : "host"}, ports: { ${ports} } }`;
  });
  const cables: string[] = [];
  for (const { id, members } of segments) {
    const [one, other] = members;
    if (members.length === 2 && one !== undefined && other !== undefined && dice.chance(0.6)) {
      cables.push(`[${one.device}:${one.leg}, ${other.device}:${other.leg}]`);
      continue;
    }
    const kind = dice.chance(0.5) ? "switch" : "unmanaged-switch";
    const habit = kind === "switch" ? "" : ", spanning-tree-frames: pass";
    devices.push(`  s${id}: { is: ${kind}, ports: { p1..8: 1G }${habit} }`);
    cables.push(...members.map(({ device, leg }, index) => `[${device}:${leg}, s${id}:p${index + 1}]`));
  }
  return `dryrack: topology/1\ndevices:\n${devices.join("\n")}\ncables:\n${cables.map((cable) => `  - ${cable}`).join("\n")}\n`;
}

function address4(id: number, host: number): string {
  return `10.40.${id}.${host}`;
}

function address6(id: number, host: number): string {
  return `fd40:${id}::${host}`;
}

function intentOf(draft: Draft): string {
  const devices = draft.boxes.map(
    (box) =>
      `  ${box.name}:\n${deviceLines(draft, box)
        .map((line) => `    ${line}\n`)
        .join("")}`,
  );
  return `dryrack: intent/1\ndevices:\n${devices.join("")}`;
}

function deviceLines(draft: Draft, box: Box): readonly string[] {
  const { dice } = draft;
  const gatewayLeg = box.router ? undefined : box.legs[dice.chance(0.1) ? box.legs.length - 1 : 0];
  const legs = box.legs.map((leg) => `${leg.name}: ${legText(draft, leg, leg === gatewayLeg, box.router)}`);
  return [
    `${box.router ? "interfaces" : "legs"}: { ${legs.join(", ")} }`,
    ...(box.router
      ? [`routes: [${routesOf(draft, box).join(", ")}]`, ...routerLines(draft, box)]
      : hostLines(dice, box)),
    ...(dice.chance(0.12) ? [`reverse-path: ${dice.pick(["strict", "loose"])}`] : []),
    ...(dice.chance(0.1) ? ["host-model: strong"] : []),
  ];
}

function legText({ dice }: Draft, { name, segment, host }: Leg, gateway: boolean, router: boolean): string {
  const { id, six, members } = segment;
  const port = router ? `port: ${name}, ` : "";
  const addresses = [`ipv4: ${address4(id, host)}/24`, ...(six ? [`ipv6: "${address6(id, host)}/64"`] : [])];
  const routers = members.filter(({ device }) => device.startsWith("r"));
  if (!gateway || routers.length === 0 || dice.chance(0.05)) return `{ ${port}${addresses.join(", ")} }`;
  const via = dice.pick(routers).host;
  const gateways = [address4(id, via), ...(six ? [`"${address6(id, via)}"`] : [])];
  return `{ ${port}${addresses.join(", ")}, gateway: [${gateways.join(", ")}] }`;
}

/** Down the tree by subnet, up by default; now and then one is missing, turned away, or has a rival. */
function routesOf(draft: Draft, box: Box): readonly string[] {
  const index = Number(box.name.slice(1));
  const routes: string[] = [];
  for (const uplink of draft.uplinks) {
    if (uplink.child === index)
      routes.push(...routePair(draft.dice, "up", uplink.segment, hostOf(draft, uplink.parent, uplink.segment)));
    if (uplink.parent !== index) continue;
    for (const segment of segmentsBelow(draft, uplink.child)) {
      if (!segment.members.some(({ device }) => device === box.name)) {
        routes.push(...routePair(draft.dice, segment, uplink.segment, hostOf(draft, uplink.child, uplink.segment)));
      }
    }
  }
  if (draft.dice.chance(0.2)) routes.push(`{ to: 10.77.0.0/16, action: ${draft.dice.pick(ACTIONS)} }`);
  if (draft.dice.chance(0.2)) routes.push(`{ to: "fd77::/16", action: ${draft.dice.pick(ACTIONS)} }`);
  return routes;
}

const ACTIONS = ["blackhole", "unreachable", "prohibit"];

function hostOf(draft: Draft, router: number, segment: Segment): number {
  const name = boxAt(draft, router).name;
  return segment.members.find(({ device }) => device === name)?.host ?? 1;
}

function segmentsBelow(draft: Draft, router: number): readonly Segment[] {
  const name = boxAt(draft, router).name;
  const own = draft.segments.filter(({ members }) => members.some(({ device }) => device === name));
  const below = draft.uplinks
    .filter(({ parent }) => parent === router)
    .flatMap(({ child }) => segmentsBelow(draft, child));
  return [...new Set([...own, ...below])];
}

function routePair(dice: Dice, to: Segment | "up", over: Segment, via: number): readonly string[] {
  const four = to === "up" ? "default" : `10.40.${to.id}.0/24`;
  const six = to === "up" ? "default" : `"fd40:${to.id}::/64"`;
  const hasSix = over.six && (to === "up" || to.six);
  return [
    ...oneRoute(dice, four, address4(over.id, via)),
    ...(hasSix ? oneRoute(dice, six, `"${address6(over.id, via)}"`) : []),
  ];
}

function oneRoute(dice: Dice, to: string, via: string): readonly string[] {
  if (dice.chance(0.04)) return [];
  if (dice.chance(0.04) && to !== "default") return [`{ to: ${to}, action: ${dice.pick(ACTIONS)} }`];
  const metric = dice.chance(0.1) ? `, metric: ${10 + dice.below(5)}` : "";
  return [`{ to: ${to}, via: ${via}${metric} }`];
}

function routerLines(draft: Draft, box: Box): readonly string[] {
  const { dice } = draft;
  const lists = [
    ...(dice.chance(0.5) ? [`through: ${ruleList(draft, box, true, true)}`] : []),
    ...(dice.chance(0.25) ? [`to: ${ruleList(draft, box, true, false)}`] : []),
    ...(dice.chance(0.15) ? [`from: ${ruleList(draft, box, false, true)}`] : []),
    ...(dice.chance(0.1) ? ["mid-stream: invalid"] : []),
  ];
  const translate = translateText(draft, box);
  return [
    ...(lists.length === 0 ? [] : [`filter: { ${lists.join(", ")} }`]),
    ...(translate === "" ? [] : [`translate: { ${translate} }`]),
    ...(dice.chance(0.04) ? ["forwarding: off"] : []),
    ...(dice.chance(0.5)
      ? [`admin: { services: [tcp/443, udp/53]${dice.chance(0.4) ? `, listen: [${dice.pick(box.legs).name}]` : ""} }`]
      : []),
  ];
}

function hostLines(dice: Dice, box: Box): readonly string[] {
  const draft = { dice, boxes: [], segments: box.legs.map(({ segment }) => segment), uplinks: [] };
  const lists = [
    ...(dice.chance(0.15) ? [`to: ${ruleList(draft, box, true, false)}`] : []),
    ...(dice.chance(0.1) ? [`from: ${ruleList(draft, box, false, true)}`] : []),
  ];
  const serves = SERVICES.filter(() => dice.chance(0.6)).map(
    (service) => `${service}: ${dice.chance(0.7) ? "all" : `[${dice.pick(box.legs).name}]`}`,
  );
  return [
    ...(lists.length === 0 ? [] : [`filter: { ${lists.join(", ")} }`]),
    ...(dice.chance(0.35) && serves.length > 0 ? [`serves: { ${serves.join(", ")} }`] : []),
  ];
}

function ruleList(draft: Draft, box: Box, ingress: boolean, egress: boolean): string {
  const { dice } = draft;
  const back = dice.chance(0.75) ? ["{ name: back, state: [established, related], action: accept }"] : [];
  const found = dice.chance(0.7) ? ["{ name: found, service: icmp6, action: accept }"] : [];
  const count = dice.below(4);
  const rules = Array.from({ length: count }, (_, index) => ruleText(draft, box, `n${index}`, ingress, egress));
  const last = dice.pick(["accept", "accept", "drop", "reject", "{ action: reject, with: prohibited }"]);
  return `{ otherwise: ${last}, rules: [${[...back, ...found, ...rules].join(", ")}] }`;
}

function ruleText(draft: Draft, box: Box, name: string, ingress: boolean, egress: boolean): string {
  const { dice } = draft;
  const keys = [`name: ${name}`];
  if (ingress && dice.chance(0.4)) keys.push(`in: [${legNames(dice, box)}]`);
  if (egress && dice.chance(0.3)) keys.push(`out: [${legNames(dice, box)}]`);
  keys.push(...matchKeys(draft));
  if (dice.chance(0.3)) keys.push(`state: [${stateNames(dice)}]`);
  keys.push(`action: ${dice.pick(RULE_ACTIONS)}`);
  return `{ ${keys.join(", ")} }`;
}

const RULE_ACTIONS = [
  "accept",
  "accept",
  "accept",
  "drop",
  "reject",
  "reject, with: tcp-reset",
  "reject, with: host-unreachable",
  "reject, with: network-unreachable",
  "reject, with: prohibited",
];

function stateNames(dice: Dice): string {
  const names = dice.some(["new", "established", "related", "invalid", "untracked"], 0.4);
  return names.length === 0 ? "new" : names.join(", ");
}

function legNames(dice: Dice, { legs }: Box): string {
  const names = dice.some(legs, 0.5).map(({ name }) => name);
  return names.length === 0 ? dice.pick(legs).name : names.join(", ");
}

/** Who, whom and which service, each now and then. */
function matchKeys(draft: Draft): readonly string[] {
  const { dice } = draft;
  return [
    ...(dice.chance(0.3) ? [`source: ${endText(draft)}`] : []),
    ...(dice.chance(0.3) ? [`dest: ${endText(draft)}`] : []),
    ...(dice.chance(0.5)
      ? [
          `service: [${dice.pick([...SERVICES, "tcp", "udp", "icmp", "icmp6/echo-request", "tcp/80-443"])}, ${dice.pick(SERVICES)}]`,
        ]
      : []),
    ...(dice.chance(0.05) ? ["source-port: 30000-65535"] : []),
    ...(dice.chance(0.1) ? [`family: ${dice.pick(["ipv4", "ipv6"])}`] : []),
  ];
}

function endText({ dice, segments }: Draft): string {
  const segment = dice.pick(segments);
  const member = dice.pick(segment.members);
  return dice.pick([
    `10.40.${segment.id}.0/24`,
    `[10.40.${segment.id}.0/24, "fd40:${segment.id}::/64"]`,
    address4(segment.id, member.host),
    `[${address4(segment.id, member.host)}, "${address6(segment.id, member.host)}"]`,
    member.device,
  ]);
}

function translateText(draft: Draft, box: Box): string {
  const { dice } = draft;
  const source: string[] = [];
  const dest: string[] = [];
  if (dice.chance(0.15))
    source.push(
      `{ name: keep, ${matchKeys(draft)
        .map((key) => `${key}, `)
        .join("")}to: unchanged }`,
    );
  if (dice.chance(0.3)) source.push(`{ name: hide, out: ${dice.pick(box.legs).name}, to: external-address }`);
  if (dice.chance(0.08))
    source.push(`{ name: pool, out: ${dice.pick(box.legs).name}, service: [tcp, udp], to: ${ownText(draft, box)} }`);
  for (let count = dice.chance(0.3) ? 1 + dice.below(2) : 0; count > 0; count--)
    dest.push(forwardText(draft, box, `f${count}`));
  return [
    ...(source.length === 0 ? [] : [`source: [${source.join(", ")}]`]),
    ...(dest.length === 0 ? [] : [`dest: [${dest.join(", ")}]`]),
  ].join(", ");
}

function ownText({ dice }: Draft, box: Box): string {
  const leg = dice.pick(box.legs);
  return address4(leg.segment.id, dice.chance(0.5) ? leg.host : 200);
}

function forwardText(draft: Draft, box: Box, name: string): string {
  const { dice, segments } = draft;
  const target = dice.pick(segments);
  const to = address4(target.id, dice.chance(0.9) ? dice.pick(target.members).host : 250);
  const where = [
    ...(dice.chance(0.4) ? [`in: ${dice.pick(box.legs).name}`] : []),
    ...(dice.chance(0.7) ? [`dest: ${ownText(draft, box)}`] : []),
  ];
  const port = dice.chance(0.4) ? `, to-port: ${dice.pick([80, 53, 5000, 8080])}` : "";
  return `{ name: ${name}, ${where.map((key) => `${key}, `).join("")}service: ${dice.pick(SERVICES)}, to: ${to}${port} }`;
}

function randomProbe({ dice, boxes, segments }: Draft): RandomSite["probes"][number] {
  const from = dice.chance(0.85) ? dice.pick(boxes.filter(({ router }) => !router)) : dice.pick(boxes);
  const segment = dice.pick(segments);
  const sixes = from.legs.some((leg) => leg.segment.six) && segment.six && dice.chance(0.4);
  const member = dice.chance(0.8) ? dice.pick(segment.members.slice(-2)) : dice.pick(segment.members);
  const service = dice.chance(0.25) ? (sixes ? "ping6" : "ping") : dice.pick(SERVICES);
  if (dice.chance(0.06)) return { from: from.name, service, to: sixes ? "fd77::5" : "10.77.0.5" };
  const host = dice.chance(0.06) ? 240 : member.host;
  return { from: from.name, service, to: sixes ? address6(segment.id, host) : address4(segment.id, host) };
}

/** From a host, as somebody, to somebody; most often with a hop limit that suffices. */
function randomPacket({ dice, boxes, segments }: Draft): RandomSite["packets"][number] {
  const from = dice.pick(boxes.filter(({ router }) => !router));
  const own = dice.pick(from.legs);
  const [claimed, wanted] = [dice.pick(segments), dice.pick(segments)];
  const six = own.segment.six && claimed.six && wanted.six && dice.chance(0.4);
  const write = six ? address6 : address4;
  const source = dice.chance(0.5)
    ? write(own.segment.id, own.host)
    : write(claimed.id, dice.pick([1, 2, 10, 11, 12, 77]));
  const destination = write(wanted.id, dice.chance(0.1) ? 240 : dice.pick(wanted.members).host);
  const hopLimit = dice.chance(0.4) ? 1 + dice.below(4) : 64;
  return { from: from.name, packet: packet(source, destination, randomBody(dice, six), hopLimit) };
}

/** SYN, ACK, SYN with ACK, RST, FIN with ACK; datagrams; echo requests. */
const FLAGS = [2, 16, 18, 4, 17];

function randomBody(dice: Dice, six: boolean): IpBody {
  const [sourcePort, destinationPort] = [dice.pick([80, 53, 4000, 50_000]), dice.pick([80, 443, 53, 5000])];
  if (dice.chance(0.3)) return echo(six ? 6 : 4);
  return dice.chance(0.5) ? udp(sourcePort, destinationPort) : tcp(sourcePort, destinationPort, dice.pick(FLAGS));
}
