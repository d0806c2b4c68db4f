/**
 * Cables of two hosts that change places: each may have been plugged into the other one's socket. Tried only where a host that
 * is asked about, or whose socket decided, hangs at a port of one VLAN, and the other one at a port of another; whoever has
 * its network written goes to no other.
 */
import { isSameSpan, type Origin, type Span } from "../diagnose/index.ts";
import { type BridgePort, deviceOf, type Id, idOf, portId } from "../network/index.ts";
import { type Candidate, candidate, type Ladder } from "./candidate.ts";
import { askedOf, type Ground } from "./ground.ts";
import { type Plan, placeIn } from "./plan.ts";

/** Of the swaps that one failure suggests so many are tried. */
const MOST_SWAPS = 8;

/** A host at a port of one VLAN. */
type Seated = {
  /** Its port, `lamp:nic`. */
  readonly host: Id;
  /** Where that is written in the line of the cable. */
  readonly span: Span;
  /** The port that it hangs at. */
  readonly at: BridgePort;
  /** The VLAN there. */
  readonly vlan: number;
  /** VLANs of networks that its legs are written to be in; none: it may be in any. */
  readonly homes: readonly number[];
};

/** Swaps of two cables, those first that put a host into the network that is written for it. */
export function cableLadders(ground: Ground): readonly Ladder[] {
  const seated = seatedIn(ground);
  const swaps = seated
    .filter((each) => isConcerned(each, ground))
    .flatMap((one) => seated.filter((other) => mayChange(one, other)).map((other) => [one, other] as const));
  const sure = ([one, other]: (typeof swaps)[number]): number => one.homes.length + other.homes.length;
  const ordered = swaps.toSorted((a, b) => Number(sure(b) > 0) - Number(sure(a) > 0)).slice(0, MOST_SWAPS);
  return ordered.flatMap(([one, other]) => swapped(one, other, ground.plan).map((each): Ladder => [each]));
}

function seatedIn({ plan, network }: Ground): readonly Seated[] {
  const hosts = new Set(network.devices.flatMap(({ id, is }) => (is === "host" ? [id] : [])));
  const ports = new Map(network.bridges.flatMap(({ ports: own }) => own.map((port) => [port.on, port] as const)));
  const cables = [...plan.documents.values()].flatMap((each) => (each.kind === "topology" ? each.cables : []));
  return cables.flatMap(({ ends }) => {
    const [near, far] = ends.map(({ value, span }) => ({ id: portId(value.device.value, value.port.value), span }));
    if (near === undefined || far === undefined) return [];
    return [[near, far] as const, [far, near] as const].flatMap(([host, { id }]) => {
      const at = ports.get(id);
      const vlan = at && soleVlan(at);
      if (at === undefined || vlan === undefined || !hosts.has(deviceOf(host.id))) return [];
      return [{ host: host.id, span: host.span, at, vlan, homes: homesAt(host.id, { plan, network }) }];
    });
  });
}

/** The VLAN of a port that carries that one alone, untagged; undefined: it carries several, or none. */
function soleVlan({ untagged: { vlan }, members }: BridgePort): number | undefined {
  if (vlan === "refused") return undefined;
  const only = BigInt(vlan);
  const isAlone = members.every(({ vlans, leaves }) => {
    return leaves === "untagged" && vlans.every(([first, last]) => first === only && last === only);
  });
  return isAlone ? vlan : undefined;
}

function homesAt(port: Id, { plan, network }: Pick<Ground, "plan" | "network">): readonly number[] {
  const legs = network.stacks.flatMap(({ interfaces }) => interfaces.filter(({ on }) => on === port));
  const names = legs.flatMap((leg) => leg.network ?? []);
  return plan.site.networks.flatMap(({ name, vlan }) =>
    names.includes(idOf(name)) && vlan !== undefined ? [vlan.value] : [],
  );
}

/** Whether it is one of whom something is asked, or hangs at a port whose line decided. */
function isConcerned({ host, at }: Seated, ground: Ground): boolean {
  const { from, to } = askedOf(ground);
  const { assertion, failure } = ground;
  const client = assertion.kind === "lease" ? [assertion.lease.client.value.name] : [];
  if ([...from, ...to, ...client].some((word) => deviceOf(word) === deviceOf(host))) return true;
  return failure.evidence.some(({ origin }) => isSameSpan(lineOf(origin), lineOf(at.untagged.origin)));
}

/** Where a port has its role, not where the role is defined. */
function lineOf({ span, through }: Origin): Span {
  return through?.[0] ?? span;
}

/** Whether two stand in different networks, and neither in one that is not written for it after they changed places. */
function mayChange(one: Seated, other: Seated): boolean {
  const suits = ({ homes }: Seated, { vlan }: Seated): boolean => homes.length === 0 || homes.includes(vlan);
  return one.vlan !== other.vlan && suits(one, other) && suits(other, one);
}

function swapped(one: Seated, other: Seated, plan: Plan): readonly Candidate[] {
  const place = placeIn(plan, one.span);
  if (place === undefined || one.span.file !== other.span.file) return [];
  const textAt = ({ span }: Seated): string => place.document.text.slice(span.start, span.end);
  const edits = [
    { span: one.span, text: textAt(other) },
    { span: other.span, text: textAt(one) },
  ].sort((a, b) => a.span.start - b.span.start);
  return [candidate("cable", `let the cables of ${one.host} and ${other.host} change places`, place, edits)];
}
