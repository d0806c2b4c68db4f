/**
 * Edits of what carries a network: a tag more or less in a list, another network for untagged frames, another role for a
 * port, the tag of an interface, the network of a radio.
 */
import {
  entryAdded,
  entryRemoved,
  entrySet,
  itemRemoved,
  nodeAt,
  replaced,
  wordAdded,
  yamlText,
} from "../document/index.ts";
import { deviceOf, type Id } from "../network/index.ts";
import { type Candidate, candidate, type Ladder } from "./candidate.ts";
import { askedOf, type Evident, type Ground, homesOf, placesOf } from "./ground.ts";
import { below, type Placed, type Plan, textOf, wordsAt } from "./plan.ts";

/** Edits at every deciding line that says who carries what. */
export function tagLadders(ground: Ground): readonly Ladder[] {
  const networks = wantedNetworks(ground);
  return placesOf(ground).flatMap((evident) => candidatesAt(evident, ground, networks).map((each): Ladder => [each]));
}

/** Networks that may be missing: the one that was told to be, those of the ends, those of the whole site. */
function wantedNetworks(ground: Ground): readonly string[] {
  const { network, failure, assertion, plan } = ground;
  const all = plan.site.networks.map(({ name }) => name);
  const told = failure.evidence.flatMap(({ origin }) =>
    origin.by === "absent" ? [...origin.wanted.matchAll(/`([^`]+)`/g)].map(([, word = ""]) => word) : [],
  );
  const { from, to } = askedOf(ground);
  const ends = [...from, ...to].flatMap((word) => [word, ...networksOf(word, network)]);
  const leased =
    assertion.kind === "lease" && assertion.lease.address?.value.by === "addresses"
      ? homesOf(assertion.lease.address.value.first, network)
      : [];
  const segment = assertion.kind === "segment" ? [assertion.segment.network.value] : [];
  return [...new Set([...told, ...segment, ...leased, ...ends, ...all])].filter((name) => all.includes(name));
}

function networksOf(word: string, { stacks }: Ground["network"]): readonly Id[] {
  const legs = stacks.filter(({ device }) => device === deviceOf(word)).flatMap(({ interfaces }) => interfaces);
  return legs.flatMap(({ network }) => network ?? []);
}

function candidatesAt({ place, wanted }: Evident, ground: Ground, networks: readonly string[]): readonly Candidate[] {
  const [top, name, part, ...rest] = place.path;
  if (top === "port-roles" && name !== undefined)
    return membership(atDepth(place, 2), `the role \`${name}\``, ground, networks);
  if (top !== "devices" || name === undefined) return [];
  if (part === "switching") return switching(place, { device: String(name), rest, wanted }, ground, networks);
  if (part === "ssids" && rest[0] !== undefined) return radio(atDepth(place, 4), String(rest[0]), networks);
  if (part === "joins") return joins(atDepth(place, 3), String(name), ground.plan);
  return part === "interfaces" && rest[0] !== undefined ? tagged(atDepth(place, 4), String(rest[0]), ground) : [];
}

function atDepth(place: Placed, depth: number): Placed {
  return { ...place, path: place.path.slice(0, depth) };
}

type Inside = { readonly device: string; readonly rest: Placed["path"]; readonly wanted: string | undefined };

function switching(
  place: Placed,
  { device, rest, wanted }: Inside,
  ground: Ground,
  networks: readonly string[],
): readonly Candidate[] {
  const root = atDepth(place, 3);
  const [list, port] = rest;
  if (list === "own") return membership(below(root, "own"), `${device} itself`, ground, networks);
  if (list === "ports" && port !== undefined)
    return membership(below(root, "ports", port), `\`${device}:${port}\``, ground, networks);
  const missing = /^`([^`]+)` among the switched ports$/.exec(wanted ?? "")?.[1];
  if (missing !== undefined) return listed(below(root, "ports"), device, missing, ground, networks);
  if (nodeAt(root.document, below(root, "own").path) !== undefined) return [];
  return networks.map((network) => {
    const edits = entryAdded(root.document, root.path, { key: "own", value: `{ tagged: [${yamlText(network)}] }` });
    return candidate("tag", `make ${device} itself a member of \`${network}\``, root, edits);
  });
}

/** A port that no list names. */
function listed(
  ports: Placed,
  device: string,
  port: string,
  { plan }: Ground,
  networks: readonly string[],
): readonly Candidate[] {
  const uses = [
    ...rolesOf(plan).map((role) => [`as \`${role}\``, yamlText(role)] as const),
    ...networks.map((each) => [`in \`${each}\``, `{ untagged: ${yamlText(each)}, admit: untagged }`] as const),
  ];
  return uses.map(([told, value]) => {
    const edits = entryAdded(ports.document, ports.path, { key: port, value });
    return candidate("tag", `list \`${device}:${port}\` ${told}`, ports, edits);
  });
}

function rolesOf(plan: Plan): readonly string[] {
  return plan.files.flatMap((file) => {
    const roles = textOf(plan, file);
    const node = roles && nodeAt(roles, ["port-roles"]);
    return node?.kind === "map" ? node.entries.map(({ key }) => key.text) : [];
  });
}

// -- what a port carries ---------------------------------------------------------------------------------------------

function membership(
  place: Placed,
  who: string,
  { plan, failure }: Ground,
  networks: readonly string[],
): readonly Candidate[] {
  const node = nodeAt(place.document, place.path);
  if (node?.kind === "text") {
    const others = rolesOf(plan).filter((role) => role !== node.text);
    return others.map((role) =>
      candidate("tag", `let ${who} be \`${role}\``, place, replaced(place.document, place.path, yamlText(role))),
    );
  }
  if (node?.kind !== "map") return [];
  const isBreach = failure.reached !== undefined;
  const fewer = isBreach ? [...tagsLess(place, who), ...strictness(place, who)] : [];
  return [...fewer, ...networks.flatMap((each) => carrying(place, who, each, isBreach)), ...loosened(place, who)];
}

/** One network more among the tagged ones, or another one untagged. */
function carrying(place: Placed, who: string, network: string, isBreach: boolean): readonly Candidate[] {
  const { document } = place;
  const has = (key: string): boolean => nodeAt(document, below(place, key).path) !== undefined;
  const found: Candidate[] = [];
  const put = (key: string): void => {
    if (!has(key) || wordsAt(below(place, key)).includes(network)) return;
    const edits = replaced(document, below(place, key).path, yamlText(network));
    found.push(candidate("tag", `let \`${key}\` of ${who} be \`${network}\``, place, edits));
  };
  if (!isBreach && !wordsAt(below(place, "tagged")).includes(network)) {
    const word = yamlText(network);
    const edits = has("tagged")
      ? wordAdded(document, below(place, "tagged").path, word)
      : entryAdded(document, place.path, { key: "tagged", value: `[${word}]` });
    found.push(candidate("tag", `add \`${network}\` to the tagged networks of ${who}`, place, edits));
  }
  put("untagged");
  put("port-vlan");
  put("leaves-untagged");
  return found;
}

function tagsLess(place: Placed, who: string): readonly Candidate[] {
  const { document } = place;
  const tagged = below(place, "tagged");
  return wordsAt(tagged).map((word, index, all) => {
    const edits =
      all.length === 1 ? entryRemoved(document, place.path, "tagged") : itemRemoved(document, tagged.path, index);
    return candidate("tag", `take \`${word}\` out of the tagged networks of ${who}`, place, edits);
  });
}

/** Settings that keep frames out which a port need not take. */
const STRICT = [
  ["admit", "untagged"],
  ["admit", "tagged"],
  ["filter-ingress", "yes"],
  ["isolated", "yes"],
] as const;

function strictness(place: Placed, who: string): readonly Candidate[] {
  const { document } = place;
  return STRICT.flatMap(([key, value]) => {
    if (wordsAt(below(place, key)).includes(value)) return [];
    const edits = entrySet(document, place.path, { key, value });
    return [candidate("tag", `let ${who} have \`${key}: ${value}\``, place, edits)];
  });
}

/** Settings that keep frames out: one less. */
function loosened(place: Placed, who: string): readonly Candidate[] {
  const { document } = place;
  const node = nodeAt(document, place.path);
  return ["admit", "filter-ingress", "isolated", "leases-trusted"].flatMap((key) =>
    nodeAt(document, below(place, key).path) === undefined || (node?.kind === "map" && node.entries.length < 2)
      ? []
      : [candidate("tag", `take \`${key}\` from ${who}`, place, entryRemoved(document, place.path, key))],
  );
}

// -- radio, and tags of interfaces -----------------------------------------------------------------------------------

function radio(place: Placed, ssid: string, networks: readonly string[]): readonly Candidate[] {
  const { document } = place;
  const network = below(place, "network");
  const others = networks.filter((each) => !wordsAt(network).includes(each));
  const moved = others.map((each) =>
    candidate("tag", `let \`${ssid}\` lead to \`${each}\``, place, replaced(document, network.path, yamlText(each))),
  );
  const has = nodeAt(document, below(place, "clients").path) !== undefined;
  const edits = has
    ? entryRemoved(document, place.path, "clients")
    : entryAdded(document, place.path, { key: "clients", value: "isolated" });
  const told = has ? `let clients of \`${ssid}\` reach one another` : `keep clients of \`${ssid}\` apart`;
  return [...moved, candidate("tag", told, place, edits)];
}

function joins(place: Placed, device: string, { site }: Plan): readonly Candidate[] {
  const names = site.devices.flatMap(({ ssids }) => ssids.map(({ name }) => name));
  const others = [...new Set(names)].filter((name) => !wordsAt(place).includes(name));
  return others.map((name) =>
    candidate("leg", `let ${device} join \`${name}\``, place, replaced(place.document, place.path, yamlText(name))),
  );
}

/** The tag of an interface on a port: that of its network. */
function tagged(place: Placed, name: string, { plan }: Ground): readonly Candidate[] {
  const tag = below(place, "tag");
  const network = plan.site.networks.find((each) => each.name === wordsAt(below(place, "network"))[0]);
  const vlan = network?.vlan?.value;
  if (vlan === undefined || wordsAt(below(place, "port")).length === 0 || wordsAt(tag)[0] === String(vlan)) return [];
  const edits = entrySet(place.document, place.path, { key: "tag", value: String(vlan) });
  return [candidate("tag", `let \`${name}\` of ${place.path[1]} use the tag ${vlan}`, place, edits)];
}
