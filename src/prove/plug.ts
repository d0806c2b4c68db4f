/**
 * A site with something plugged into ports that are dark. A port where arbitrary frames enter has carrier as soon as
 * somebody plugs in; an interface that stands on it comes up then, with its addresses and routes. Where that changes
 * nothing there is nothing to ask again.
 */
import type { Device, Id, Link, Network, Port, Settled } from "../network/index.ts";
import { isRaised, settle, withBindings, withoutDelegated, withRoutersGivenUp } from "../settle/index.ts";

/** A network at rest. */
export type AtRest = {
  /** The network, with a link to each port that was dark. */
  readonly network: Network;
  /** What it becomes. */
  readonly settled: Settled;
};

/** The network with stations plugged into those of its entrances that are dark; undefined: no interface comes up by that. */
export function pluggedIn(network: Network, settled: Settled, entrances: readonly Id[]): AtRest | undefined {
  const down = downOf(settled);
  const unlit = new Set(entrances.filter((id) => down.has(id)));
  if (unlit.size === 0) return undefined;
  // Nobody has an end of somebody else's tunnel.
  const ends = new Set(network.links.flatMap(({ kind, ends: both }) => (kind === "tunnel" ? both : [])));
  const dark = network.ports.filter(({ id, enabled }) => enabled && unlit.has(id) && !ends.has(id));
  if (dark.length === 0 || !dark.some((port) => wakesSomething(network, settled, port.id))) return undefined;
  const grown = withStations(network, dark);
  const raised = network.links.filter((link) => isRaised(link) && !down.has(link.id)).map(({ id }) => id);
  const failed = network.links.filter((link) => !isRaised(link) && down.has(link.id)).map(({ id }) => id);
  const again = settle(grown, { picks: settled.picks, up: raised, down: failed });
  const bound = withBindings(grown, withoutDelegated(grown, again, settled.undelegated ?? []), settled.bindings);
  return { network: grown, settled: withRoutersGivenUp(grown, bound, settled.givenUp) };
}

const without = new WeakMap<Settled, ReadonlySet<Id>>();

function downOf(settled: Settled): ReadonlySet<Id> {
  const known = without.get(settled) ?? new Set(settled.down);
  without.set(settled, known);
  return known;
}

/** Whether an interface that is down stands on a port: on itself, its bond, or the bridge that it is a port of. */
function wakesSomething(network: Network, settled: Settled, port: Id): boolean {
  const bond = network.bonds.find(({ members }) => members.includes(port))?.id;
  const on = bond ?? port;
  const bridge = network.bridges.find(({ ports }) => ports.some((each) => each.on === on));
  const own = bridge?.ports.filter((each) => each.own).map((each) => each.id) ?? [];
  const sleeping = new Set(
    settled.stacks.flatMap(({ interfaces }) => interfaces.flatMap((leg) => (leg.up ? [] : [leg.interface]))),
  );
  const places = new Set([on, ...own]);
  return network.stacks.some(({ interfaces }) => interfaces.some((leg) => places.has(leg.on) && sleeping.has(leg.id)));
}

/** A device of its own that only gives carrier: `~` is no name that a document can have. */
function withStations(network: Network, dark: readonly Port[]): Network {
  const device: Device = {
    id: "~",
    origin: { by: "default", rule: "something plugged in", source: "dryrack", span: dark[0]?.origin.span ?? NOWHERE },
    digest: "~",
    is: "host",
    profile: "linux",
    poweredBy: [],
    standIn: true,
  };
  const ports = dark.map(
    (port, index): Port => ({ ...port, id: `~:${index}`, device: device.id, digest: "~", hardware: STATION }),
  );
  const links = dark.map(({ id, origin }, index): Link => {
    return {
      id: `~/${index}`,
      origin,
      digest: "~",
      ends: [id, `~:${index}`],
      kind: "cable",
      downWith: [],
      onDemand: false,
    };
  });
  return {
    ...network,
    devices: [...network.devices, device],
    ports: [...network.ports, ...ports],
    links: [...network.links, ...links],
  };
}

const NOWHERE = { file: 0, start: 0, end: 0 };
/** Locally administered; nothing is ever sent to it. */
const STATION = 0x0200000000fcn;
