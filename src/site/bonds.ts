/**
 * Bonds: which ports work as one, and what is left to stand on: an *attachment* of a device is a port that is no
 * member of a bond, or a bond.
 */
import type { Span } from "../diagnose/index.ts";
import type { Bond, Located } from "../document/index.ts";
import type { Findings } from "./findings.ts";
import { findPort, type Rack, type RackPort } from "./rack.ts";
import { defaultAt, type Setting, settingOf, settingOr, writtenAt } from "./setting.ts";
import type { SiteBond } from "./site-device.ts";

/** A bond before the sizes of its members are known. */
export type RackBond = Omit<SiteBond, "mtu">;

/** The bonds of a device. */
export type Bonds = {
  /** By name, in document order. */
  readonly byName: ReadonlyMap<string, RackBond>;
  /** By member port. */
  readonly byMember: ReadonlyMap<string, RackBond>;
};

/** Nothing bonded. */
const NO_BONDS: Bonds = { byName: new Map(), byMember: new Map() };

/** Resolves the bonds of a device. */
export function resolveBonds(rack: Rack, findings: Findings): Bonds {
  const written = rack.intent?.bonds?.value ?? [];
  if (written.length === 0 || rack.topology.is.value === "unmanaged-switch") return NO_BONDS;
  const byName = new Map<string, RackBond>();
  const byMember = new Map<string, RackBond>();
  for (const bond of written) {
    if (nameTaken(rack, bond, byName, findings)) continue;
    const members = membersOf(rack, bond, byMember, findings);
    const resolved = bondOf(rack, bond, members);
    byName.set(bond.name.value, resolved);
    for (const member of members) byMember.set(member.value, resolved);
    checkRates(rack, bond, members, findings);
  }
  return { byName, byMember };
}

function nameTaken(rack: Rack, bond: Bond, bonds: ReadonlyMap<string, RackBond>, findings: Findings): boolean {
  const { value, span } = bond.name;
  const earlier = rack.ports.get(value)?.origin.span ?? bonds.get(value)?.origin.span;
  if (earlier === undefined) return false;
  findings.report("name-taken", span, `the bond \`${value}\` bears the name of a port of \`${rack.name}\``, {
    also: [{ span: earlier, text: "the other one" }],
  });
  return true;
}

function membersOf(
  rack: Rack,
  bond: Bond,
  taken: ReadonlyMap<string, RackBond>,
  findings: Findings,
): readonly Setting<string>[] {
  const members = new Map<string, Setting<string>>();
  for (const entry of bond.members.value) {
    for (const name of entry.value.names) {
      if (findPort(rack, name, entry.span, findings) === undefined) continue;
      if (memberTwice(name, entry.span, bond, members, taken, findings)) continue;
      members.set(name, { value: name, origin: writtenAt(entry.span) });
    }
  }
  return [...members.values()];
}

/** Twice in one list was reported when the document was read. */
function memberTwice(
  name: string,
  span: Span,
  bond: Bond,
  own: ReadonlyMap<string, Setting<string>>,
  taken: ReadonlyMap<string, RackBond>,
  findings: Findings,
): boolean {
  const other = taken.get(name);
  const earlier = other?.members.find(({ value }) => value === name);
  if (other === undefined || earlier === undefined) return own.has(name);
  findings.report(
    "ranges-overlap",
    span,
    `port \`${name}\` is a member in \`${other.name}\` and in \`${bond.name.value}\``,
    {
      also: [{ span: earlier.origin.span, text: "and here" }],
    },
  );
  return true;
}

function bondOf(rack: Rack, bond: Bond, members: readonly Setting<string>[]): RackBond {
  const { span, value: name } = bond.name;
  const rule = (text: string, source: string) => defaultAt(span, text, source);
  return {
    name,
    origin: writtenAt(span),
    members,
    mode: settingOf(bond.mode),
    activity: settingOr(bond.activity, "active", rule("LACP speaks first", "common practice")),
    speed: settingOr(bond.speed, "slow", rule("LACP frames every 30 s", "IEEE 802.1AX, by common practice")),
    alone: settingOr(bond.alone, "first-member", rule("the first member carries alone", "kernel fact 40")),
    hash: settingOr(bond.hash, "layer2", rule("flows are spread by hardware address", "linux")),
    hardware: hardwareOf(rack, bond.mac, members, bond.name),
    ...(bond.minimum === undefined ? {} : { minimum: settingOf(bond.minimum) }),
  };
}

function hardwareOf(
  rack: Rack,
  stated: Located<bigint> | undefined,
  members: readonly Setting<string>[],
  name: Located<string>,
): Setting<bigint> {
  const first = members[0] && rack.ports.get(members[0].value);
  const origin = defaultAt(name.span, "the hardware address of its first member", "kernel fact 39");
  return settingOr(stated, first?.hardware.value ?? 0n, origin);
}

function checkRates(rack: Rack, bond: Bond, members: readonly Setting<string>[], findings: Findings): void {
  const ports = members.map(({ value }) => rack.ports.get(value)).filter((port) => port !== undefined);
  const [first] = ports;
  const other = ports.find((port) => port.rateMbps.value !== first?.rateMbps.value);
  if (first === undefined || other === undefined) return;
  findings.report("bond-uneven", bond.members.span, `the members of \`${bond.name.value}\` have unequal rates`, {
    also: [rateLabel(first), rateLabel(other)],
    notes: ["members of unequal rates do not aggregate by the standard; a real device may use one group only"],
  });
}

function rateLabel({ name, rateMbps }: RackPort): { span: Span; text: string } {
  return { span: rateMbps.origin.span, text: `\`${name}\` runs at ${rateMbps.value} Mbit/s` };
}
