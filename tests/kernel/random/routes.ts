/** Routes of a router: down the tree by subnet, up by default; now and then one is missing, turned away, or has a rival. */
import type { Dice } from "../dice.ts";
import { address4, address6, type Box, boxAt, type Draft, type Segment } from "./draft.ts";

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
  if (dice.chance(0.45)) routes.push(`{ to: 10.77.0.0/16, action: ${dice.pick(ACTIONS)} }`);
  if (dice.chance(0.45)) routes.push(`{ to: "fd77::/16", action: ${dice.pick(ACTIONS)} }`);
  if (dice.chance(0.2)) routes.push(...rival(draft, box));
  return routes;
}

const ACTIONS = ["blackhole", "unreachable", "prohibit"];

/** A route to a single host or half a subnet, over any neighbour, on link, or nowhere. */
function rival({ dice, segments }: Draft, box: Box): readonly string[] {
  const { id, six, members } = dice.pick(segments);
  const over = dice.pick(box.legs);
  const via = dice.pick(over.segment.members).host;
  if (via === over.host) return [];
  const { host } = dice.pick(members);
  const to = dice.pick([`${address4(id, host)}/32`, `10.40.${id}.0/25`, "10.40.0.0/16"]);
  const four = dice.chance(0.15)
    ? `{ to: ${to}, out: ${over.name} }`
    : dice.chance(0.2)
      ? `{ to: ${to}, action: ${dice.pick(ACTIONS)} }`
      : `{ to: ${to}, via: ${address4(over.segment.id, via)} }`;
  const hasSix = six && over.segment.six && dice.chance(0.5);
  return [four, ...(hasSix ? [`{ to: "${address6(id, host)}/128", via: "${address6(over.segment.id, via)}" }`] : [])];
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
