/**
 * Edits of a leg, an interface or what stands beside it at a deciding line: another network, another next hop, a setting
 * taken out so that its default holds, or the one that is told to be missing.
 */
import { entryRemoved, entrySet, nodeAt, replaced, yamlText } from "../document/index.ts";
import type { RepairKind } from "../result/index.ts";
import { type Candidate, candidate, type Ladder } from "./candidate.ts";
import { type Evident, type Ground, placesOf } from "./ground.ts";
import { below, type Placed, wordsAt } from "./plan.ts";

/** Edits of settings. */
export function settingLadders(ground: Ground): readonly Ladder[] {
  return placesOf(ground).flatMap((evident) =>
    [...wantedHere(evident), ...takenOut(evident), ...legs(evident, ground)].map((each): Ladder => [each]),
  );
}

/** `host-model: strong` is what is wanted. */
function wantedHere({ place, wanted }: Evident): readonly Candidate[] {
  const [, key, value] = /^`([a-z-]+): ([a-z-]+)`$/.exec(wanted ?? "") ?? [];
  const record = recordOf(place);
  if (key === undefined || value === undefined || record === undefined) return [];
  const edits = entrySet(record.document, record.path, { key, value });
  return [candidate(kindOf(place), `write \`${key}: ${value}\` for ${nameOf(record)}`, place, edits)];
}

/** The device or the part of it that a place lies in. */
function recordOf(place: Placed): Placed | undefined {
  return place.path[0] === "devices" && place.path.length >= 2
    ? { ...place, path: place.path.slice(0, place.path.length < 4 ? 2 : 4) }
    : undefined;
}

function nameOf({ path }: Placed): string {
  return path.length < 4 ? String(path[1]) : `\`${path[3]}\` of ${path[1]}`;
}

function kindOf({ path }: Placed): RepairKind {
  const kinds: readonly (readonly [string, RepairKind])[] = [
    ["routes", "route"],
    ["reverse-path", "route"],
    ["forwarding", "route"],
    ["relay", "relay"],
    ["dhcp", "relay"],
    ["filter", "rule"],
    ["translate", "rule"],
    ["switching", "tag"],
    ["ssids", "tag"],
  ];
  return kinds.find(([word]) => word === path[2])?.[1] ?? "leg";
}

/** Settings that have a default to fall back to. */
const OPTIONAL: ReadonlySet<string> = new Set([
  "reverse-path",
  "host-model",
  "forwarding",
  "router",
  "resolvers",
  "metric",
  "family",
  "state",
  "source-port",
  "source-mac",
  "tag",
  "mac",
  "mtu",
  "via",
  "source",
  "reads",
  "order",
  "gateway",
  "mapping",
  "filtering",
  "mid-stream",
]);

/** One setting less: the line itself, or one beside it in the same record. */
function takenOut({ place }: Evident): readonly Candidate[] {
  const { document, path } = place;
  if (path[0] !== "devices" || path.length < 3) return [];
  const own = nodeAt(document, path);
  const last = path.at(-1);
  const inside = own?.kind === "map" && path.length >= 4 ? own.entries.map(({ key }) => [path, key.text] as const) : [];
  const itself = typeof last === "string" ? [[path.slice(0, -1), last] as const] : [];
  return [...itself, ...inside].flatMap(([parent, key]) => {
    const node = nodeAt(document, parent);
    if (!OPTIONAL.has(key) || node?.kind !== "map" || node.entries.length < 2) return [];
    const where = parent.length === 2 ? String(parent[1]) : `\`${parent.slice(2).join(".")}\` of ${parent[1]}`;
    return [candidate(kindOf(place), `take \`${key}\` from ${where}`, place, entryRemoved(document, parent, key))];
  });
}

// -- legs ------------------------------------------------------------------------------------------------------------

function legs({ place }: Evident, { plan }: Ground): readonly Candidate[] {
  const [, device, part, name] = place.path;
  if ((part !== "legs" && part !== "interfaces") || name === undefined) return [];
  const leg = { ...place, path: place.path.slice(0, 4) };
  return [
    ...otherNetworks(
      leg,
      plan.site.networks.map((network) => network.name),
    ),
    ...narrowPrefix(leg, `\`${name}\` of ${device}`),
  ];
}

function otherNetworks(leg: Placed, networks: readonly string[]): readonly Candidate[] {
  const network = below(leg, "network");
  const [now] = wordsAt(network);
  if (now === undefined) return [];
  return networks
    .filter((each) => each !== now)
    .map((each) => {
      const edits = replaced(leg.document, network.path, yamlText(each));
      return candidate("leg", `let ${nameOf(leg)} be in \`${each}\``, leg, edits);
    });
}

/** A prefix length that differs from that of its network: without it that of the network holds. */
function narrowPrefix(leg: Placed, name: string): readonly Candidate[] {
  return ["ipv4", "ipv6"].flatMap((key) => {
    const place = below(leg, key);
    const [address, length] = wordsAt(place)[0]?.split("/") ?? [];
    if (address === undefined || length === undefined || wordsAt(place).length !== 1) return [];
    const edits = replaced(leg.document, place.path, yamlText(address));
    return [candidate("leg", `let ${name} have the prefix length of its network`, leg, edits)];
  });
}
