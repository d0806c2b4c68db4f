/** Routes of a router: down the tree by subnet, up by default; now and then one is missing, turned away, or has a rival. */
import type { Dice } from "../dice.ts";
import { address4, address6, aimAt, type Box, boxAt, type Draft, type Segment } from "./draft.ts";
import { furtherSubnets } from "./further.ts";

/** The routes of a router, and what happens to two subnets that nobody has. */
export function routesOf(draft: Draft, box: Box): readonly string[] {
  const { dice } = draft;
  const index = Number(box.name.slice(1));
  const routes: string[] = [];
  for (const uplink of draft.uplinks) {
    if (uplink.child === index)
      routes.push(...routePair(dice, "up", uplink.segment, hostOf(draft, uplink.parent, uplink.segment)));
    if (uplink.parent !== index) continue;
    for (const segment of segmentsBelow(draft, uplink.child)) {
      if (!segment.members.some(({ device }) => device === box.name)) {
        routes.push(...routePair(dice, segment, uplink.segment, hostOf(draft, uplink.child, uplink.segment)));
      }
    }
  }
  routes.push(...loopOf(draft, index));
  if (dice.chance(0.6)) routes.push(`{ to: 10.77.0.0/16, action: ${dice.pick(ACTIONS)} }`);
  if (dice.chance(0.6)) routes.push(`{ to: "fd77::/16", action: ${dice.pick(ACTIONS)} }`);
  if (dice.chance(0.25)) routes.push(...rival(draft, box));
  return routes;
}

const ACTIONS = ["blackhole", "blackhole", "unreachable", "unreachable", "unreachable", "prohibit", "prohibit"];

/** Down to a router that sends it up again. */
function loopOf({ dice, uplinks, boxes, aims }: Draft, index: number): readonly string[] {
  const uplink = uplinks.find(({ parent }) => parent === index);
  if (uplink === undefined || !dice.chance(0.18)) return [];
  const child = uplink.segment.members.find(({ device }) => device === boxes[uplink.child]?.name);
  const ask = dice.pick(["ping", "udp/53", "tcp/80"]);
  for (let count = 0; count < 3; count++) aims.push({ to: "10.66.0.5", ask });
  aims.push({ to: "fd66::5", ask: "tcp/80" });
  const { id, six } = uplink.segment;
  const host = child?.host ?? 1;
  return [
    `{ to: 10.66.0.0/16, via: ${address4(id, host)} }`,
    ...(six ? [`{ to: "fd66::/16", via: "${address6(id, host)}" }`] : []),
  ];
}

/** A route to a single host or half a subnet, over any neighbour, on link, or nowhere. */
function rival(draft: Draft, box: Box): readonly string[] {
  const { dice, segments } = draft;
  const segment = dice.pick(segments);
  const { id, six, members } = segment;
  const over = dice.pick(box.legs);
  const via = dice.pick(over.segment.members).host;
  if (via === over.host) return [];
  const { host } = dice.pick(members);
  aimAt(draft, { segment }, host, dice.pick(["ping", "tcp/443", "udp/5000"]));
  const to = dice.pick([`${address4(id, host)}/32`, `10.40.${id}.0/25`, "10.40.0.0/16"]);
  const four = dice.chance(0.15)
    ? `{ to: ${to}, out: ${over.name} }`
    : dice.chance(0.2)
      ? `{ to: ${to}, action: ${dice.pick(ACTIONS)} }`
      : `{ to: ${to}, via: ${address4(over.segment.id, via)} }`;
  const hasSix = six && over.segment.six && dice.chance(0.6);
  const toSix = dice.pick([`${address6(id, host)}/128`, `fd40:${id}::/120`, "fd40::/16"]);
  const bySix = dice.chance(0.25)
    ? dice.pick([`out: ${over.name}`, `action: ${dice.pick(ACTIONS)}`])
    : `via: "${address6(over.segment.id, via)}"`;
  return [four, ...(hasSix ? [`{ to: "${toSix}", ${bySix} }`] : [])];
}

function hostOf(draft: Draft, router: number, segment: Segment): number {
  const { name } = boxAt(draft, router);
  return segment.members.find(({ device }) => device === name)?.host ?? 1;
}

function segmentsBelow(draft: Draft, router: number): readonly Segment[] {
  const { name } = boxAt(draft, router);
  const own = draft.segments.filter(({ members }) => members.some(({ device }) => device === name));
  const below = draft.uplinks
    .filter(({ parent }) => parent === router)
    .flatMap(({ child }) => segmentsBelow(draft, child));
  return [...new Set([...own, ...below])];
}

function routePair(dice: Dice, to: Segment | "up", over: Segment, via: number): readonly string[] {
  const further = to === "up" ? { four: [], six: [] } : furtherSubnets(to);
  const fours = [to === "up" ? "default" : `10.40.${to.id}.0/24`, ...further.four];
  const sixes = [to === "up" ? "default" : `"fd40:${to.id}::/64"`, ...further.six];
  const hasSix = over.six && (to === "up" || to.six);
  return [
    ...fours.flatMap((four) => oneRoute(dice, four, address4(over.id, via))),
    ...(hasSix ? sixes.flatMap((six) => oneRoute(dice, six, `"${address6(over.id, via)}"`)) : []),
  ];
}

function oneRoute(dice: Dice, to: string, via: string): readonly string[] {
  if (dice.chance(0.03)) return [];
  if (dice.chance(0.03) && to !== "default") return [`{ to: ${to}, action: ${dice.pick(ACTIONS)} }`];
  const metric = dice.chance(0.1) ? `, metric: ${10 + dice.below(5)}` : "";
  return [`{ to: ${to}, via: ${via}${metric} }`];
}
