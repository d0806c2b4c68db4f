/**
 * Which ports the rules of some sites tell apart, and another site does not. A class of packets that one site treats alike may come to
 * several ends on another one, so that one packet does not stand for all of it: each stretch between two such ports needs one of its own.
 */
import type { Match, Network } from "../network/index.ts";

/** Lowest ports of all stretches between which rules of the others tell apart, in order, where those of `here` do not. */
export function portsToldApart(others: readonly Network[], here: Network): readonly bigint[] {
  const known = new Set(portsIn(here));
  return [...new Set(others.flatMap(portsIn))].filter((port) => !known.has(port)).sort((a, b) => (a < b ? -1 : 1));
}

const portsKnown = new WeakMap<Network, readonly bigint[]>();

function portsIn(network: Network): readonly bigint[] {
  const known = portsKnown.get(network);
  if (known !== undefined) return known;
  const matches = network.tables.flatMap((table): readonly Match[] =>
    table.kind === "routes" ? [] : table.rules.flatMap(({ when }) => when),
  );
  const ports = matches.flatMap((match) =>
    match.flatMap((condition) =>
      condition.field === "destinationPort" && "within" in condition
        ? condition.within.flatMap(([low, high]) => [low, high + 1n])
        : [],
    ),
  );
  const found = ports.filter((port) => port <= HIGHEST_PORT);
  portsKnown.set(network, found);
  return found;
}

const HIGHEST_PORT = 65_535n;
