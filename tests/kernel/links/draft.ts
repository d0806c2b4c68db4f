/**
 * The plan of a random link layer before it becomes text: switches joined by trunks and bonds in a tree and now and then in a
 * loop, unmanaged ones among them, hosts with tags and bonds. What is told of the two ends of a cable differs now and then.
 * Everybody is in one subnet, so that a leak between VLANs is seen.
 */
import type { Dice } from "../dice.ts";
import { bondOf, MODES, membershipOf, otherMode, trunkOf, VLANS } from "./words.ts";

/** A switch. */
export type Switch = {
  readonly name: string;
  /** `unmanaged` has no intent; `ignores` tags. */
  readonly kind: "managed" | "ignores" | "unmanaged";
  readonly ports: string[];
  /** Lines of its `ports`, by port or bond. */
  readonly told: Map<string, string>;
  /** Lines of its bonds. */
  readonly bonds: string[];
  /** Whether it keeps most of its hosts apart from each other. */
  readonly apart: boolean;
  /** What ports do of which nothing is told. */
  readonly unlisted: "" | "off" | "as-unboxed";
  /** Its own membership, with an interface. */
  own?: { readonly membership: string; readonly vlan: number; readonly address: string };
  /** Its `spanning-tree`. */
  tree: string;
};

/** A host with one leg. */
export type Host = {
  readonly name: string;
  readonly address: string;
  readonly ports: readonly string[];
  /** Its part of the intent. */
  readonly told: string;
  /** The VLAN that its switch's port is in, which is not always what it is told itself. */
  readonly vlan: number;
};

/** A cable between two switches, or a switch and a host. */
export type Cable = {
  readonly ends: readonly [string, string];
  /** Part of a bond, or of a loop: to lose it is interesting. */
  readonly spare: boolean;
};

/** Everything. */
export type LinkDraft = {
  readonly dice: Dice;
  readonly switches: Switch[];
  readonly hosts: Host[];
  readonly cables: Cable[];
  /** Whether it has a loop. */
  loop: boolean;
  /** How likely everything is that is told wrong: 1 as elsewhere in this file, below 1 less. */
  readonly slips: number;
  /** Devices that speak over a bond whose two ends are told different modes: of these questions are asked more often. */
  readonly astride: Set<string>;
};

/** Shares of sites with few, some and many things told wrong: what works must be seen to work through losses, too. */
const SLIPS = [0.1, 0.4, 1, 1.3] as const;

/** Draws one. */
export function draftLinks(dice: Dice): LinkDraft {
  const draft: LinkDraft = {
    dice,
    switches: [],
    hosts: [],
    cables: [],
    loop: false,
    slips: dice.pick(SLIPS),
    astride: new Set(),
  };
  const count = 2 + dice.below(3);
  for (let index = 0; index < count; index++) {
    addSwitch(draft, index === 0 ? "managed" : kindOf(dice));
    if (index > 0) join(draft, dice.below(index), index, false);
  }
  if (dice.chance(0.45)) closeLoop(draft);
  else if (dice.chance(0.2)) for (const place of draft.switches) place.tree = treeOf(draft.dice, place);
  for (const [index, place] of draft.switches.entries()) {
    for (let left = 1 + dice.below(place.kind === "unmanaged" ? 2 : 3); left > 0; left--) addHost(draft, place);
    if (place.kind !== "unmanaged" && dice.chance(0.4)) addOwn(draft, place, index);
  }
  return draft;
}

/** Whether something is told wrong: in this share of sites with as many slips as elsewhere. */
function slip({ dice, slips }: Pick<LinkDraft, "dice" | "slips">, share: number): boolean {
  return dice.chance(share * slips);
}

function kindOf(dice: Dice): Switch["kind"] {
  if (dice.chance(0.12)) return "unmanaged";
  return dice.chance(0.08) ? "ignores" : "managed";
}

function addSwitch({ dice, switches }: LinkDraft, kind: Switch["kind"]): void {
  const name = `s${switches.length}`;
  const unlisted = dice.chance(0.15) ? dice.pick(["off", "as-unboxed"] as const) : "";
  const apart = dice.chance(0.25);
  switches.push({ name, kind, ports: [], told: new Map(), bonds: [], apart, unlisted, tree: "off" });
}

/** A port more, on a switch. */
function port(place: Switch): string {
  const name = `p${place.ports.length + 1}`;
  place.ports.push(name);
  return name;
}

/** Joins two switches by a trunk or a bond; now and then one side is told something else than the other, or is no bond. */
function join(draft: LinkDraft, one: number, other: number, spare: boolean): void {
  const { dice, switches, cables } = draft;
  const ends = [switches[one], switches[other]].flatMap((end) => end ?? []);
  const bonded = ends.every(({ kind }) => kind !== "unmanaged") && dice.chance(0.4);
  const width = bonded ? 2 + dice.below(2) : 1;
  const lines = Array.from({ length: width }, () => ends.map((end) => ({ end, port: port(end) })));
  for (const line of lines) {
    const [near = "", far = ""] = line.map(({ end, port: name }) => `${end.name}:${name}`);
    cables.push({ ends: [near, far], spare: spare || bonded });
  }
  const mode = dice.pick(MODES);
  const native = dice.chance(0.2) ? dice.pick(VLANS) : undefined;
  for (const [side, end] of ends.entries()) {
    const members = lines.flatMap((line) => line[side]?.port ?? []);
    const own = dice.chance(0.2) ? otherMode(dice, mode) : mode;
    if (bonded && own !== mode) for (const { name } of ends) draft.astride.add(name);
    const trunk = trunkOf(draft, slip(draft, 0.06) ? dice.pick(VLANS) : native);
    if (bonded) tellBond(end, members, bondOf(dice, own, side === 0), trunk);
    else for (const member of members) end.told.set(member, trunk);
  }
}

/** A bond over ports of a switch, with its membership. */
function tellBond(end: Switch, members: readonly string[], mode: string, membership: string): void {
  const bond = `b${end.bonds.length + 1}`;
  end.bonds.push(`${bond}: { members: [${members.join(", ")}], ${mode} }`);
  end.told.set(bond, membership);
}

/** One more way between two switches: trees run, but on one that hands their frames on now and then. */
function closeLoop(draft: LinkDraft): void {
  const { dice, switches } = draft;
  const managed = switches.filter(({ kind }) => kind !== "unmanaged");
  const start = dice.pick(managed);
  const other = dice.below(switches.length);
  if (start === switches[other]) return;
  join(draft, switches.indexOf(start), other, true);
  draft.loop = true;
  // A loop of switches without trees would be a storm, so the start always runs one.
  const without =
    managed.length > 2 && dice.chance(0.15) ? dice.pick(managed.filter((each) => each !== start)) : undefined;
  for (const place of managed) if (place !== without) place.tree = treeOf(dice, place);
}

function treeOf(dice: Dice, { kind, told }: Switch): string {
  if (kind === "unmanaged") return "off";
  const [first, second] = told.keys();
  const parts = [
    ...(dice.chance(0.6) ? [`priority: ${4096 * (1 + dice.below(14))}`] : []),
    ...(dice.chance(0.4)
      ? [`costs: { ${dice.chance(0.5) ? first : (second ?? first)}: ${1000 * (1 + dice.below(60))} }`]
      : []),
    ...(dice.chance(0.2) ? [`port-priorities: { ${first}: ${16 * dice.below(16)} }`] : []),
  ];
  return `{ ${[...parts, "forward-delay: 4s", "max-age: 6s", "hello: 1s"].join(", ")} }`;
}

/** A host on a port, tagged or not, now and then told a VLAN that its port does not carry; some have a bond. */
function addHost(draft: LinkDraft, place: Switch): void {
  const { dice, hosts, cables } = draft;
  const name = `h${hosts.length}`;
  const address = `10.31.1.${hosts.length + 10}`;
  const vlan = dice.chance(0.4) ? VLANS[0] : dice.pick(VLANS);
  const heard = slip(draft, 0.08) ? dice.pick(VLANS) : vlan;
  const tagged = dice.chance(0.35);
  const membership = membershipOf(draft, place, vlan, tagged !== slip(draft, 0.06));
  const ports = place.kind !== "unmanaged" && dice.chance(0.3) ? ["e0", "e1"] : ["e0"];
  const near = ports.map(() => port(place));
  for (const [index, own] of ports.entries()) {
    cables.push({ ends: [`${name}:${own}`, `${place.name}:${near[index]}`], spare: ports.length > 1 });
  }
  if (draft.astride.has(place.name)) draft.astride.add(name);
  const leg = `${tagged ? `tag: ${heard}, ` : ""}ipv4: ${address}/24`;
  if (ports.length === 1) {
    const unlisted = place.unlisted !== "" && dice.chance(0.3);
    if (!unlisted) place.told.set(near[0] ?? "", slip(draft, 0.04) ? '"off"' : membership);
    hosts.push({ name, address, ports, vlan, told: `legs: { leg: { port: e0, ${leg} } }` });
    return;
  }
  const mode = dice.pick(MODES);
  // The switch's side may know nothing of the bond.
  if (slip(draft, 0.1)) for (const member of near) place.told.set(member, membership);
  else tellBond(place, near, bondOf(dice, mode, true), membership);
  const own = dice.chance(0.25) ? otherMode(dice, mode) : mode;
  if (own !== mode) draft.astride.add(name);
  const far = bondOf(dice, own, false);
  const told = `bonds: { pair: { members: [e0, e1], ${far} } }, legs: { leg: { port: pair, ${leg} } }`;
  hosts.push({ name, address, ports, vlan, told });
}

/** An interface of the switch itself, now and then without the membership that it needs. */
function addOwn(draft: LinkDraft, place: Switch, index: number): void {
  const { dice } = draft;
  const vlan = dice.pick(VLANS);
  const address = `10.31.1.${100 + index}`;
  const member = slip(draft, 0.15) ? dice.pick(VLANS) : vlan;
  place.own = { vlan, address, membership: `{ tagged: [${member}] }` };
}
