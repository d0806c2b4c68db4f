/**
 * Memberships: which VLANs a port carries and how, written out in full. The shorthand `untagged: crew` is the port VLAN
 * and the VLAN that leaves untagged in one (semantics, section 2). Where a VLAN is missing, `otherwise` shows the
 * list in which it would stand, and the use of the role that holds the list.
 */
import type { Origin, Span } from "../diagnose/index.ts";
import type { Located, Membership, NetworkOrVlans } from "../document/index.ts";
import type { Findings } from "./findings.ts";
import type { Names } from "./names.ts";
import { absentAt, defaultAt, type Setting, settingOf, settingOr, writtenAt } from "./setting.ts";
import type { SiteMember, SiteMembership } from "./site-switching.ts";

/** VLANs that a word names; undefined when it names none, which is reported. */
function resolveVlans(
  word: Located<NetworkOrVlans>,
  names: Names,
  findings: Findings,
): { readonly first: number; readonly last: number } | undefined {
  const { value, span } = word;
  if (value.by === "vlans") return { first: value.first, last: value.last };
  const network = names.networks.get(value.name);
  if (network === undefined) {
    findings.unknown({ kind: "network", name: value.name, span, candidates: names.networks.keys() });
    return undefined;
  }
  const vlan = network.vlan?.value;
  if (vlan === undefined) reportNoVlan(value.name, span, network.name.span, findings);
  return vlan === undefined ? undefined : { first: vlan, last: vlan };
}

function reportNoVlan(name: string, span: Span, declared: Span, findings: Findings): void {
  findings.report("no-vlan", span, `network \`${name}\` has no VLAN, so no switch can carry it`, {
    also: [{ span: declared, text: "declared without `vlan`" }],
    about: [name],
    cause: `no VLAN: ${name}`,
  });
}

/** One VLAN; a run of several is reported. */
export function resolveVlan(word: Located<NetworkOrVlans>, names: Names, findings: Findings): number | undefined {
  const vlans = resolveVlans(word, names, findings);
  if (vlans === undefined || vlans.first === vlans.last) return vlans?.first;
  findings.report("bad-vlan", word.span, "one VLAN is expected here, not a run of them");
  return undefined;
}

/** A membership in full. */
export function resolveMembership(written: Membership, names: Names, findings: Findings): SiteMembership {
  const { filterIngress, mtu } = written;
  // Resolved once, so that a fault in it is told once.
  const untagged = written.untagged && resolveVlan(written.untagged, names, findings);
  return {
    portVlan: portVlanOf(written, untagged, names, findings),
    admit: settingOr(
      written.admit,
      "all",
      defaultAt(written.span, "all kinds of frames are admitted", "RFC 4363 dot1qPortAcceptableFrameTypes"),
    ),
    ...(filterIngress === undefined ? {} : { filterIngress: settingOf(filterIngress) }),
    leasesTrusted: settingOr(
      written.leasesTrusted,
      true,
      defaultAt(written.span, "answers of DHCP servers may enter", "common practice"),
    ),
    isolated: settingOr(written.isolated, false, defaultAt(written.span, "ports reach one another", "common practice")),
    members: membersOf(written, untagged, names, findings),
    otherwise: otherwiseOf(written),
    ...(mtu === undefined ? {} : { mtu: settingOf(mtu) }),
  };
}

/** The same membership, reached by way of the use of a role. */
export function usedAt(membership: SiteMembership, use: Span): SiteMembership {
  const through = [use];
  const moved = (origin: Origin): Origin => ({ ...origin, through });
  const set = <T>({ value, origin }: Setting<T>): Setting<T> => ({ value, origin: moved(origin) });
  const { filterIngress, mtu } = membership;
  return {
    portVlan: set(membership.portVlan),
    admit: set(membership.admit),
    ...(filterIngress === undefined ? {} : { filterIngress: set(filterIngress) }),
    leasesTrusted: set(membership.leasesTrusted),
    isolated: set(membership.isolated),
    members: membership.members.map((member) => ({ ...member, origin: moved(member.origin) })),
    otherwise: moved(membership.otherwise),
    ...(mtu === undefined ? {} : { mtu: set(mtu) }),
  };
}

/** 802.1Q gives every port the port VLAN 1 until told otherwise; what only carries tags refuses untagged frames. */
function portVlanOf(
  { span, untagged, portVlan, leavesUntagged }: Membership,
  shorthand: number | undefined,
  names: Names,
  findings: Findings,
): Setting<number | "refused"> {
  if (portVlan !== undefined) {
    const { value } = portVlan;
    const vlan = value.by === "none" ? undefined : resolveVlan({ ...portVlan, value }, names, findings);
    return { value: vlan ?? "refused", origin: writtenAt(portVlan.span) };
  }
  if (untagged !== undefined) return { value: shorthand ?? "refused", origin: writtenAt(untagged.span) };
  if (leavesUntagged !== undefined) {
    const origin = defaultAt(leavesUntagged.span, "the port VLAN is 1 until stated", "RFC 4363 dot1qPvid");
    return { value: 1, origin };
  }
  return { value: "refused", origin: absentAt(span, "a network for untagged frames") };
}

function membersOf(
  written: Membership,
  shorthand: number | undefined,
  names: Names,
  findings: Findings,
): readonly SiteMember[] {
  const members: SiteMember[] = [];
  const take = (vlans: Run | undefined, span: Span, leaves: SiteMember["leaves"]): void => {
    if (vlans === undefined) return;
    const clash = members.find((member) => member.leaves !== leaves && overlap(member, vlans));
    if (clash !== undefined) reportBothWays(vlans, span, clash, findings);
    for (const run of uncovered(vlans, members)) members.push({ ...run, leaves, origin: writtenAt(span) });
  };
  const { untagged, leavesUntagged, tagged } = written;
  if (leavesUntagged === undefined && untagged !== undefined && shorthand !== undefined) {
    take({ first: shorthand, last: shorthand }, untagged.span, "untagged");
  }
  for (const word of leavesUntagged?.value ?? []) take(resolveVlans(word, names, findings), word.span, "untagged");
  for (const word of tagged?.value ?? []) take(resolveVlans(word, names, findings), word.span, "tagged");
  return members;
}

type Run = { readonly first: number; readonly last: number };

function overlap(a: Run, b: Run): boolean {
  return a.first <= b.last && b.first <= a.last;
}

/** The pieces of a run that no member covers yet. */
function uncovered(run: Run, members: readonly Run[]): readonly Run[] {
  const clash = members.find((member) => overlap(member, run));
  if (clash === undefined) return [run];
  const pieces: Run[] = [];
  if (run.first < clash.first) pieces.push({ first: run.first, last: clash.first - 1 });
  if (run.last > clash.last) pieces.push({ first: clash.last + 1, last: run.last });
  return pieces.flatMap((piece) => uncovered(piece, members));
}

function reportBothWays(run: Run, span: Span, clash: SiteMember, findings: Findings): void {
  const vlan = Math.max(run.first, clash.first);
  findings.report("ranges-overlap", span, `VLAN ${vlan} leaves this port both tagged and untagged`, {
    also: [{ span: clash.origin.span, text: `${clash.leaves} here` }],
  });
}

function otherwiseOf(written: Membership): SiteMembership["otherwise"] {
  const { tagged, untagged, leavesUntagged } = written;
  if (tagged !== undefined) return absentAt(tagged.span, "the network in this list of tagged networks");
  const span = leavesUntagged?.span ?? untagged?.span ?? written.span;
  return absentAt(span, "the network among those that this port carries");
}

/** What a port does out of the box: VLAN 1 untagged, all frames admitted (802.1Q, kernel fact 33). `place` shows where it would be told otherwise. */
export function unboxedMembership(place: Span, wanted: string): SiteMembership {
  const origin = defaultAt(place, "as unboxed: VLAN 1 untagged", "RFC 4363 dot1qPvid");
  return {
    portVlan: { value: 1, origin },
    admit: { value: "all", origin },
    leasesTrusted: { value: true, origin },
    isolated: { value: false, origin },
    members: [{ first: 1, last: 1, leaves: "untagged", origin }],
    otherwise: absentAt(place, wanted),
  };
}
