/**
 * Ways out of a domain of a bridge, for frames that come in anywhere: worked out once for each domain, since most ports of
 * a large switch have no part in it. Ports that let nothing out and where nothing is missing are left out.
 */
import { intersectRanges, type Ranges } from "../address/index.ts";
import type { Bridge, BridgePort, Id } from "../network/index.ts";
import type { Atlas } from "./atlas.ts";
import { type Blocks, type BridgeExit, type BridgeStop, type Domain, leaveByPort, type TagSet } from "./bridge.ts";
import { carriedBeyond } from "./wiring.ts";

/** What becomes of a domain's frames at one port. */
export type WayOut = {
  /** The port. */
  readonly port: BridgePort;
  /** How frames leave there. */
  readonly exits: readonly BridgeExit[];
  /** What is kept from leaving, as far as it is worth telling. */
  readonly kept: readonly BridgeStop[];
};

const NO_BLOCKS: Blocks = new Map();
const known = new WeakMap<Atlas, Map<Id, Map<string, readonly WayOut[]>>>();

/** Ways out of a domain for frames that came in at a port. */
export function waysOut(atlas: Atlas, bridge: Bridge, ingress: BridgePort, domain: Domain): readonly WayOut[] {
  return everyWayOut(atlas, bridge, ingress.isolation, domain).filter(({ port }) => port.id !== ingress.id);
}

/** Ways out of a domain for frames that came in at a port of an isolation group, that port among them. */
export function everyWayOut(
  atlas: Atlas,
  bridge: Bridge,
  isolation: string | undefined,
  domain: Domain,
): readonly WayOut[] {
  const bridges = known.get(atlas) ?? new Map<Id, Map<string, readonly WayOut[]>>();
  known.set(atlas, bridges);
  const domains = bridges.get(bridge.id) ?? new Map<string, readonly WayOut[]>();
  bridges.set(bridge.id, domains);
  const key = `${isolation ?? ""} ${keyOf(domain)}`;
  const ways = domains.get(key) ?? findWays(atlas, bridge, isolation, domain);
  domains.set(key, ways);
  return ways;
}

/** Domains with equal keys leave alike; how they came in matters only where tags are ignored. */
function keyOf({ vlans, inner, came }: Domain): string {
  if (vlans !== undefined) return `${textOf(vlans)} ${inner}`;
  return `any ${tagsKey(came)}`;
}

/** A set of tags in letters. */
export function tagsKey({ untagged, vlans, inner }: TagSet): string {
  return `${untagged} ${textOf(vlans)} ${inner}`;
}

function textOf(vlans: Ranges): string {
  return vlans.map(([low, high]) => `${low}-${high}`).join(",");
}

function findWays(atlas: Atlas, bridge: Bridge, isolation: string | undefined, domain: Domain): readonly WayOut[] {
  const blocks = atlas.blocks.get(bridge.id) ?? NO_BLOCKS;
  return bridge.ports.flatMap((port) => {
    const { exits, kept } = leaveByPort(port, { bridge, isolation, blocks, domain });
    const told = kept.flatMap((stop) => tellable(atlas, port, stop) ?? []);
    return exits.length === 0 && told.length === 0 ? [] : [{ port, exits, kept: told }];
  });
}

/** Where a network ends by design there is nothing to tell; where the far side would take it, there is a gap. */
function tellable(atlas: Atlas, { on }: BridgePort, stop: BridgeStop): BridgeStop | undefined {
  if (stop.reason !== "not-member") return stop;
  const vlans = intersectRanges(stop.tags.vlans, carriedBeyond(atlas, on));
  return vlans.length === 0 ? undefined : { ...stop, tags: { ...stop.tags, vlans } };
}
