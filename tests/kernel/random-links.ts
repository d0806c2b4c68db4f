/**
 * Random link layers that a full kernel can show: switches joined by trunks and bonds, in a tree or with a loop that spanning
 * tree must cut, with tags missing or mismatched, bonds told differently on their two sides, ports switched off, hosts
 * with tags and bonds, and switches' own interfaces. Everybody is in one subnet, so that a leak between VLANs is seen.
 */
import { Dice } from "./dice.ts";

/** A site and what is asked of it. */
export type RandomLinks = {
  readonly texts: readonly [topology: string, intent: string];
  readonly probes: readonly { readonly from: string; readonly service: string; readonly to: string }[];
};

type Switch = {
  readonly name: string;
  readonly ports: string[];
  readonly told: string[];
  readonly bonds: string[];
  own: string | undefined;
  tree: string;
};
type Host = {
  readonly name: string;
  readonly address: string;
  readonly ports: readonly string[];
  readonly told: string;
};
type Draft = {
  readonly dice: Dice;
  readonly switches: Switch[];
  readonly hosts: Host[];
  readonly cables: string[];
  /** Addresses by device, switches with an interface of their own included. */
  readonly addresses: Map<string, string>;
};

const VLANS = [10, 20, 30] as const;
const MODES = ["lacp", "lacp", "static", "active-backup"] as const;
const HASHES = ["layer2", "layer2+3", "layer3+4"] as const;

/** The link layer of a seed. */
export function randomLinks(seed: number): RandomLinks {
  const dice = new Dice(seed);
  const draft: Draft = { dice, switches: [], hosts: [], cables: [], addresses: new Map() };
  const count = 2 + dice.below(3);
  for (let index = 0; index < count; index++) {
    draft.switches.push({ name: `s${index}`, ports: [], told: [], bonds: [], own: undefined, tree: "off" });
    if (index > 0) join(draft, dice.below(index), index);
  }
  if (dice.chance(0.45)) closeLoop(draft);
  for (const place of draft.switches) {
    for (let left = 1 + dice.below(3); left > 0; left--) addHost(draft, place);
    if (dice.chance(0.4)) addOwn(draft, place);
  }
  const probes = Array.from({ length: 20 }, () => randomProbe(draft));
  return { texts: [topologyOf(draft), intentOf(draft)], probes };
}

/** A port more. */
function port(place: Switch): string {
  const name = `p${place.ports.length + 1}`;
  place.ports.push(name);
  return name;
}

/** Joins two switches by a trunk or a bond; now and then one side is told something else than the other. */
function join({ dice, switches, cables }: Draft, one: number, other: number): void {
  const ends = [switches[one], switches[other]].flatMap((end) => end ?? []);
  const bonded = dice.chance(0.4);
  const width = bonded ? 2 + dice.below(2) : 1;
  const lines = Array.from({ length: width }, () => ends.map((end) => ({ end, port: port(end) })));
  cables.push(...lines.map((line) => `[${line.map(({ end, port: name }) => `${end.name}:${name}`).join(", ")}]`));
  const mode = dice.pick(MODES);
  const native = dice.chance(0.3) ? dice.pick(VLANS) : undefined;
  for (const [side, end] of ends.entries()) {
    const members = lines.flatMap((line) => line[side]?.port ?? []);
    const trunk = trunkOf(dice, dice.chance(0.1) ? dice.pick(VLANS) : native);
    if (bonded) {
      const bond = `b${end.bonds.length + 1}`;
      end.bonds.push(
        `${bond}: { members: [${members.join(", ")}], ${bondOf(dice, dice.chance(0.15) ? dice.pick(MODES) : mode)} }`,
      );
      end.told.push(`${bond}: ${trunk}`);
    } else {
      end.told.push(`${members[0]}: ${trunk}`);
    }
  }
}

function bondOf(dice: Dice, mode: string): string {
  if (mode === "active-backup") return `mode: ${mode}`;
  const lacp = mode === "lacp" && dice.chance(0.2) ? ", activity: passive" : "";
  const speed = mode === "lacp" && dice.chance(0.3) ? ", speed: fast" : "";
  const minimum = mode === "lacp" && dice.chance(0.1) ? ", minimum: 2" : "";
  return `mode: ${mode}, hash: ${dice.pick(HASHES)}${lacp}${speed}${minimum}`;
}

function trunkOf(dice: Dice, native: number | undefined): string {
  const tagged = VLANS.filter((vlan) => vlan !== native && dice.chance(0.85));
  const untagged = native === undefined ? "" : `untagged: ${native}`;
  const list = tagged.length === 0 ? "" : `tagged: [${tagged.join(", ")}]`;
  const text = [untagged, list].filter((part) => part !== "").join(", ");
  return text === "" ? "{ untagged: 10 }" : `{ ${text} }`;
}

/** One more way between two switches: from now on trees run, but for a switch that may hand their frames on. */
function closeLoop(draft: Draft): void {
  const { dice, switches } = draft;
  const [one, other] = [dice.below(switches.length), dice.below(switches.length)];
  if (one === other) return;
  join(draft, one, other);
  for (const place of switches) {
    const priority = dice.chance(0.6) ? `priority: ${4096 * (1 + dice.below(14))}, ` : "";
    const cost = dice.chance(0.3) ? `costs: { ${place.told[0]?.split(":")[0]}: ${1000 * (1 + dice.below(60))} }, ` : "";
    place.tree = `{ ${priority}${cost}forward-delay: 4s, max-age: 6s, hello: 1s }`;
  }
}

/** A host on a port, tagged or not, now and then told a VLAN that its port does not carry; some have a bond. */
function addHost({ dice, hosts, cables, addresses }: Draft, place: Switch): void {
  const name = `h${hosts.length}`;
  const address = `10.31.1.${hosts.length + 10}`;
  const vlan = dice.pick(VLANS);
  const heard = dice.chance(0.1) ? dice.pick(VLANS) : vlan;
  const tagged = dice.chance(0.35);
  const membership = membershipOf(dice, vlan, tagged !== dice.chance(0.08));
  const ports = dice.chance(0.3) ? ["e0", "e1"] : ["e0"];
  const near = ports.map(() => port(place));
  cables.push(...ports.map((own, index) => `[${name}:${own}, ${place.name}:${near[index]}]`));
  const tag = tagged ? `tag: ${heard}, ` : "";
  if (ports.length === 1) {
    place.told.push(`${near[0]}: ${dice.chance(0.05) ? '"off"' : membership}`);
    hosts.push({ name, address, ports, told: `legs: { leg: { port: e0, ${tag}ipv4: ${address}/24 } }` });
  } else {
    const bond = `b${place.bonds.length + 1}`;
    const mode = dice.pick(MODES);
    place.bonds.push(`${bond}: { members: [${near.join(", ")}], ${bondOf(dice, mode)} }`);
    place.told.push(`${bond}: ${membership}`);
    const far = bondOf(dice, dice.chance(0.15) ? dice.pick(MODES) : mode);
    const leg = `legs: { leg: { port: pair, ${tag}ipv4: ${address}/24 } }`;
    hosts.push({ name, address, ports, told: `bonds: { pair: { members: [e0, e1], ${far} } }, ${leg}` });
  }
  addresses.set(name, address);
}

function membershipOf(dice: Dice, vlan: number, tagged: boolean): string {
  const isolated = dice.chance(0.08) ? ", isolated: yes" : "";
  if (tagged) return `{ tagged: [${[...new Set([vlan, ...dice.some(VLANS, 0.3)])].join(", ")}]${isolated} }`;
  if (dice.chance(0.1)) return `{ port-vlan: ${dice.pick(VLANS)}, leaves-untagged: [${VLANS.join(", ")}]${isolated} }`;
  return `{ untagged: ${vlan}${isolated} }`;
}

function addOwn({ dice, addresses }: Draft, place: Switch): void {
  const vlan = dice.pick(VLANS);
  const address = `10.31.1.${100 + addresses.size}`;
  place.own = dice.chance(0.85) ? `{ tagged: [${vlan}] }` : `{ tagged: [${dice.pick(VLANS)}] }`;
  place.told.push(`own ${vlan} ${address}`);
  addresses.set(place.name, address);
}

function randomProbe({ dice, addresses }: Draft): RandomLinks["probes"][number] {
  const names = [...addresses.keys()];
  const from = dice.pick(names);
  const others = names.filter((name) => name !== from);
  const to = others.length === 0 ? "10.31.1.99" : (addresses.get(dice.pick(others)) ?? "");
  return { from, service: dice.pick(["udp/53", "udp/5000", "tcp/80"]), to };
}

function topologyOf({ switches, hosts, cables }: Draft): string {
  const ports = (names: readonly string[]): string => names.map((name) => `${name}: 1G`).join(", ");
  return [
    "dryrack: topology/1",
    "devices:",
    ...switches.map((place) => `  ${place.name}: { is: switch, ports: { ${ports(place.ports)} } }`),
    ...hosts.map((host) => `  ${host.name}: { is: host, ports: { ${ports(host.ports)} } }`),
    "cables:",
    ...cables.map((cable) => `  - ${cable}`),
  ].join("\n");
}

function intentOf({ switches, hosts }: Draft): string {
  const networks = VLANS.map((vlan) => `n${vlan}: { vlan: ${vlan} }`).join(", ");
  return [
    "dryrack: intent/1",
    `networks: { ${networks} }`,
    "devices:",
    ...switches.map(switchText),
    ...hosts.map(({ name, told }) => `  ${name}: { ${told} }`),
  ].join("\n");
}

function switchText({ name, told, bonds, own, tree }: Switch): string {
  const ports = told.filter((entry) => !entry.startsWith("own "));
  const [, vlan, address] = told.find((entry) => entry.startsWith("own "))?.split(" ") ?? [];
  const parts = [
    ...(bonds.length === 0 ? [] : [`bonds: { ${bonds.join(", ")} }`]),
    `switching: { spanning-tree: ${tree}, ports: { ${ports.join(", ")} }${own === undefined ? "" : `, own: ${own}`} }`,
    ...(address === undefined ? [] : [`interfaces: { manage: { network: n${vlan}, ipv4: ${address}/24 } }`]),
  ];
  return `  ${name}: { ${parts.join(", ")} }`;
}
