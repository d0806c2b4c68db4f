/**
 * Which ports the rules of some sites tell apart. A class of packets that a site treats alike while they are new may come to several
 * ends where rules of another time, or those for what is open already, look at their ports: one packet does not stand for all of it,
 * and each stretch between two such ports needs one of its own.
 */
import type { Ranges } from "../address/index.ts";
import type { Condition, Network } from "../network/index.ts";

/** Lowest ports of all stretches between which rules of these sites tell apart, in order. What comes back bears them as source ports. */
export function portsToldApart(networks: readonly Network[]): readonly bigint[] {
  const known = allKnown.get(networks);
  if (known !== undefined) return known;
  const found = [...new Set(networks.flatMap(portsIn))].sort((a, b) => (a < b ? -1 : 1));
  allKnown.set(networks, found);
  return found;
}

// Asked at each moment of a story, of the same networks.
const allKnown = new WeakMap<readonly Network[], readonly bigint[]>();
const portsKnown = new WeakMap<Network, readonly bigint[]>();

function portsIn(network: Network): readonly bigint[] {
  const known = portsKnown.get(network);
  if (known !== undefined) return known;
  const ports = [...rangesIn(network, "destinationPort"), ...rangesIn(network, "sourcePort")].flatMap(
    ([low, high]): readonly bigint[] => [low, high + 1n],
  );
  const found = [...new Set(ports)].filter((port) => port <= HIGHEST_PORT);
  portsKnown.set(network, found);
  return found;
}

/** Whether some rule of these sites looks at source ports: what bears one of them does not stand for what bears another. */
export function tellsSourcePorts(networks: readonly Network[]): boolean {
  return networks.some((network) => rangesIn(network, "sourcePort").length > 0);
}

function rangesIn({ tables }: Network, field: Condition["field"]): Ranges {
  const conditions = tables.flatMap((table): readonly Condition[] =>
    table.kind === "routes" ? [] : table.rules.flatMap(({ when }) => when.flat()),
  );
  return conditions.flatMap((each) => (each.field === field && "within" in each ? each.within : []));
}

const HIGHEST_PORT = 65_535n;
