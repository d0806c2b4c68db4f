/**
 * `segment`: exactly these edge ports carry a network, and frames get from each of them to each other one.
 */
import type { Origin } from "../diagnose/index.ts";
import type { SegmentAssertion } from "../document/index.ts";
import type { Evaluation, World } from "../evaluate/index.ts";
import { type BridgePort, type Group, type Id, type Network, portId } from "../network/index.ts";
import { type DomainMap, type DomainPoint, domainMapOf, reachOf } from "../settle/index.ts";
import type { CheckContext, Finding } from "./context.ts";
import { lackOf } from "./lack.ts";

type Fault = { readonly text: string; readonly origins: readonly Origin[] };

/** Judges a `segment` assertion. */
export function checkSegment({ segment, span }: SegmentAssertion, context: CheckContext): Finding {
  const { evaluation } = context;
  const group = evaluation.network.groups.find((each) => each.id === segment.network.value);
  if (group === undefined) throw new Error(`no network ${segment.network.value}, though it was looked for`);
  const listed = segment.ports.value.flatMap(({ value, span: at }) =>
    value.ports.value.names.map((name) => ({ id: portId(value.device.value, name), span: at })),
  );
  for (const { id } of listed) evaluation.footprint.wiring(id);
  noteGroup(group, evaluation);
  const { worlds, limit } = evaluation.worlds();
  const fault =
    membershipFault(listed, group, { network: evaluation.network, list: segment.ports.span }) ??
    worlds.map((world) => splitFault(listed, group, world, evaluation.network)).find((each) => each !== undefined);
  if (fault !== undefined) return failed(fault);
  const origin: Origin = { by: "written", span };
  if (limit !== undefined) {
    return {
      status: "undecided",
      by: "simulation",
      headline: `nobody can tell: ${limit}`,
      decidedBy: [{ origin, text: limit }],
      limit,
    };
  }
  const name = segment.network.value;
  const text =
    listed.length === 1 ? `exactly this port carries ${name}` : `exactly these ${listed.length} ports share ${name}`;
  return { status: "passed", by: "simulation", headline: text, decidedBy: [] };
}

/** Who carries a network rests on its group, and on the wiring around all its places. */
function noteGroup(group: Group, { footprint }: Evaluation): void {
  footprint.groups.add(group.id);
  for (const at of [...placesOf(group), ...group.segments.map((point) => point.at)]) footprint.wiring(at);
}

/** Where frames enter, whoever is trusted there. */
function placesOf({ entrances, vouched }: Group): readonly Id[] {
  return [...new Set([...entrances, ...vouched].map(({ at }) => at))].sort();
}

function failed({ text, origins }: Fault): Finding {
  return { status: "failed", by: "simulation", headline: text, decidedBy: origins.map((origin) => ({ origin, text })) };
}

// -- who carries it ----------------------------------------------------------------------------------------------

type Listed = { readonly id: Id; readonly span: Origin["span"] };

function membershipFault(
  listed: readonly Listed[],
  group: Group,
  { network, list }: { readonly network: Network; readonly list: Origin["span"] },
): Fault | undefined {
  const carrying = new Set(placesOf(group).filter((at) => isSocket(at, network)));
  const named = new Set(listed.map(({ id }) => id));
  const extra = [...carrying].find((id) => !named.has(id));
  const missing = listed.find(({ id }) => !carrying.has(id));
  // Where nothing stands on the port that was meant, the line to change is that of the port that has the network.
  const isMoved = extra !== undefined && missing !== undefined && bridgePortOn(missing.id, network) === undefined;
  if (missing !== undefined && !isMoved) return missingFault(missing, group, network);
  if (extra === undefined) return undefined;
  const origins = carrierOrigins(extra, group, network);
  if (missing !== undefined)
    return { text: `\`${extra}\` carries ${group.id}, and \`${missing.id}\` does not`, origins };
  const absent: Origin = { by: "absent", span: list, wanted: `\`${extra}\` in this list` };
  return { text: `\`${extra}\` carries ${group.id}, too`, origins: [...origins, absent] };
}

/** A port or bond, no wireless association. */
function isSocket(id: Id, network: Network): boolean {
  return !id.includes("/ssids/") && [...network.ports, ...network.bonds].some((port) => port.id === id);
}

function missingFault({ id, span }: Listed, group: Group, network: Network): Fault {
  const port = bridgePortOn(id, network);
  const written: Origin = { by: "written", span };
  const cabled = network.links.find((link) => link.ends.includes(id));
  if (port !== undefined && carries(port, group, network)) {
    return {
      text: `\`${id}\` is no edge port: it leads to another device of the site`,
      origins: [cabled?.origin ?? port.origin],
    };
  }
  return { text: `\`${id}\` does not carry ${group.id}`, origins: [lackOf(port?.otherwise ?? written, group.id)] };
}

function bridgePortOn(id: Id, network: Network): BridgePort | undefined {
  return network.bridges.flatMap((bridge) => bridge.ports).find((port) => port.on === id);
}

function carries(port: BridgePort, group: Group, network: Network): boolean {
  return membersOf(port, group, network).length > 0;
}

function membersOf(port: BridgePort, group: Group, network: Network): BridgePort["members"] {
  const vlan = vlanAt(port, group, network);
  return vlan === undefined
    ? []
    : port.members.filter((member) => member.vlans.some(([low, high]) => low <= BigInt(vlan) && BigInt(vlan) <= high));
}

function vlanAt(port: BridgePort, group: Group, network: Network): number | undefined {
  const bridge = network.bridges.find((each) => each.ports.some((candidate) => candidate.id === port.id));
  const point = group.segments.find(({ at }) => at === bridge?.id);
  return point === undefined ? undefined : (point.vlan ?? 0);
}

function carrierOrigins(id: Id, group: Group, network: Network): readonly Origin[] {
  const port = bridgePortOn(id, network);
  if (port === undefined)
    return network.stacks.flatMap((stack) => stack.interfaces.filter((leg) => leg.on === id).map((leg) => leg.origin));
  const origins = [port.untagged.origin, ...membersOf(port, group, network).map((member) => member.origin)];
  return origins.slice(port.untagged.vlan === vlanAt(port, group, network) ? 0 : 1);
}

// -- whether they share it ---------------------------------------------------------------------------------------

function splitFault(listed: readonly Listed[], group: Group, world: World, network: Network): Fault | undefined {
  const map = domainMapOf(network, world.settled);
  const points = listed.map(({ id }) => ({ id, point: pointOf(id, group, network) }));
  const storm = stormFault(group, world);
  if (storm !== undefined) return storm;
  for (const from of points) {
    const fault = from.point === undefined ? undefined : unreached({ id: from.id, point: from.point }, points, map);
    if (fault !== undefined) return fault;
  }
  return undefined;
}

function stormFault(group: Group, { settled }: World): Fault | undefined {
  const storm = settled.storms.find(({ domains }) =>
    domains.some(({ bridge, vlan }) => group.segments.some((point) => point.at === bridge && point.vlan === vlan)),
  );
  return storm === undefined
    ? undefined
    : { text: "a loop that nothing cuts drowns this network", origins: [storm.origin] };
}

function pointOf(id: Id, group: Group, network: Network): DomainPoint | undefined {
  const port = bridgePortOn(id, network);
  if (port === undefined) return legPoint(id, network);
  const bridge = network.bridges.find((each) => each.ports.some((candidate) => candidate.id === port.id));
  const domain = vlanAt(port, group, network);
  if (bridge === undefined || domain === undefined) return undefined;
  return { at: { kind: "bridge", bridge: bridge.id, port: port.id }, domain };
}

function legPoint(id: Id, network: Network): DomainPoint | undefined {
  for (const stack of network.stacks) {
    const leg = stack.interfaces.find((each) => each.on === id);
    if (leg !== undefined) return { at: { kind: "interface", stack: stack.id, interface: leg.id }, domain: 0 };
  }
  return undefined;
}

type Placed = { readonly id: Id; readonly point: DomainPoint };

/** The first listed port that frames from another one never get to. */
function unreached(
  from: Placed,
  others: readonly { readonly id: Id; readonly point: DomainPoint | undefined }[],
  map: DomainMap,
): Fault | undefined {
  const { points, stopped } = reachOf(map, from.point);
  const reached = new Set(points.map(domainKey));
  const lost = others.find(({ point }) => point !== undefined && !reached.has(domainKey(point)));
  if (lost === undefined) return undefined;
  const origins = stopped.map(({ origin }) => origin);
  return { text: `frames from \`${from.id}\` never get to \`${lost.id}\``, origins };
}

/** A bridge's domain, whichever port of it was used, or an interface. */
function domainKey({ at, domain }: DomainPoint): string {
  return at.kind === "bridge" ? `${at.bridge} ${domain}` : at.interface;
}
