/**
 * The topology of a drafted site: two members of a segment share a cable or a switch, more share one switch or a chain of
 * two, or a bridge of their router; now and then a switch keeps some of its ports apart.
 */
import type { Dice } from "../dice.ts";
import type { Box, Draft, Member, Segment } from "./draft.ts";

/** A switch of the site. */
type Switch = {
  readonly name: string;
  readonly kind: "switch" | "unmanaged-switch";
  readonly ports: readonly string[];
};

/** Topology, and what the intent says of the switches. */
export type Wiring = { readonly topology: string; readonly switches: readonly string[] };

/** Cables and switches for every segment. */
export function wireSite({ boxes, segments, dice }: Draft): Wiring {
  const cables: string[] = [];
  const switches: Switch[] = [];
  for (const segment of segments) wireSegment(segment, { dice, cables, switches });
  const lines = [
    ...boxes.map((box) => `  ${box.name}: { is: ${box.router ? "router" : "host"}, ports: { ${portsOf(box)} } }`),
    ...switches.map(({ name, kind, ports }) => {
      const habit = kind === "switch" ? "" : ", spanning-tree-frames: pass";
      return `  ${name}: { is: ${kind}, ports: { ${ports.map((port) => `${port}: 1G`).join(", ")} }${habit} }`;
    }),
  ];
  return {
    topology: `dryrack: topology/1\ndevices:\n${lines.join("\n")}\ncables:\n${cables.map((cable) => `  - ${cable}`).join("\n")}\n`,
    switches: switches.flatMap((each) => switchLines(each, dice)),
  };
}

function portsOf({ name, legs }: Box): string {
  const own = legs.flatMap((leg) => (leg.segment.bridge === name ? bridgedPorts(leg.segment) : [leg.name]));
  return own.map((port) => `${port}: 1G`).join(", ");
}

/** The ports of a router that joins a segment by itself: one for each other member. */
export function bridgedPorts({ id, members }: Segment): readonly string[] {
  return members.slice(1).map((_, index) => `b${id}x${index + 1}`);
}

type Wires = { readonly dice: Dice; readonly cables: string[]; readonly switches: Switch[] };

function wireSegment(segment: Segment, wires: Wires): void {
  const { id, members, bridge } = segment;
  const { dice, cables } = wires;
  const [one, other] = members;
  if (bridge !== undefined) {
    const ports = bridgedPorts(segment);
    cables.push(...members.slice(1).map((member, index) => `[${endOf(member)}, ${bridge}:${ports[index]}]`));
  } else if (members.length === 2 && one !== undefined && other !== undefined && dice.chance(0.6)) {
    cables.push(`[${endOf(one)}, ${endOf(other)}]`);
  } else if (members.length > 2 && dice.chance(0.25)) {
    plugAll(`s${id}a`, members.slice(0, 2), wires, ["up"]);
    plugAll(`s${id}b`, members.slice(2), wires, ["up"]);
    cables.push(`[s${id}a:up, s${id}b:up]`);
  } else plugAll(`s${id}`, members, wires, []);
}

function plugAll(name: string, members: readonly Member[], wires: Wires, more: readonly string[]): void {
  const ports = members.map((_, index) => `p${index + 1}`);
  const kind = wires.dice.chance(0.6) ? "switch" : "unmanaged-switch";
  wires.switches.push({ name, kind, ports: [...ports, ...more] });
  wires.cables.push(...members.map((member, index) => `[${endOf(member)}, ${name}:p${index + 1}]`));
}

function endOf({ device, leg }: Member): string {
  return `${device}:${leg}`;
}

/** A few switches have another VLAN on a port, or ports that do not speak to each other, or one that is off. */
function switchLines({ name, kind, ports }: Switch, dice: Dice): readonly string[] {
  if (kind !== "switch" || dice.chance(0.78)) return [];
  const odd = dice.below(ports.length);
  const each = ports.map((port, index) => {
    if (dice.chance(0.2)) return `${port}: { untagged: 1, isolated: yes }`;
    return index === odd
      ? `${port}: ${dice.pick(["{ untagged: 30 }", "off", "off", "off", "off"])}`
      : `${port}: { untagged: 1 }`;
  });
  return [`  ${name}: { switching: { ports: { ${each.join(", ")} } } }`];
}
