/**
 * Pools that have no address for all who ask them: which of their clients hold a lease and which go without is decided by who
 * asked first. At rest one order is taken, and every verdict that looked at one of these clients says which; the orders
 * themselves are tried by `recovers: from-dark`.
 */
import { isSameSpan, type Origin } from "../diagnose/index.ts";
import { directoryOf, type Evaluation, type Footprint, type World } from "../evaluate/index.ts";
import { type DhcpServer, deviceOf, type Id, type Network, type Service } from "../network/index.ts";
import { inWords, isAskedBefore, tellAskedBefore, type Verdict } from "../result/index.ts";

/** Interfaces that contend for the addresses of one pool. */
type Short = {
  readonly server: Service & DhcpServer;
  /** Those that hold a lease of it which is not reserved for them. */
  readonly early: readonly Id[];
  /** Those that it had no address for. */
  readonly late: readonly Id[];
};

/** The same verdict with what it takes for granted of who asked first, as the site is now. */
export function withAskedBefore(verdict: Verdict, footprint: Footprint, evaluation: Evaluation): Verdict {
  const told = askedBefore(footprint, evaluation);
  if (told.length === 0 && !verdict.assumptions.some(isAskedBefore)) return verdict;
  return { ...verdict, assumptions: [...withoutAskedBefore(verdict).assumptions, ...told] };
}

/** The same verdict, which holds whoever asked first. */
export function withoutAskedBefore(verdict: Verdict): Verdict {
  return { ...verdict, assumptions: verdict.assumptions.filter((each) => !isAskedBefore(each)) };
}

/** Of each short pool that a verdict looked at a client of: who is taken to have asked it first. At a moment of a course that is known. */
function askedBefore(footprint: Footprint, evaluation: Evaluation): readonly string[] {
  if (!evaluation.isLeftAlone) return [];
  const { network } = evaluation;
  const { stackOf, tunnels } = directoryOf(network);
  // Of outer packets of tunnels no notes are taken: there it may have looked at anybody.
  const isLookedAt = (leg: Id): boolean =>
    tunnels.length > 0 || footprint.leases.has(leg) || footprint.stacks.has(stackOf.get(leg)?.id ?? "");
  const told = evaluation.worlds().worlds.flatMap((world) =>
    shortIn(world, network)
      .filter(({ early, late }) => early.length > 0 && [...early, ...late].some(isLookedAt))
      .map(({ server, early, late }) => tellAskedBefore(namesOf(early), namesOf(late), poolName(server))),
  );
  return [...new Set(told)];
}

/** Stand-ins are no clients of the site: they come when all others have what they get. */
function shortIn({ settled, failures }: World, network: Network): readonly Short[] {
  const { devices } = directoryOf(network);
  const servers = new Set(failures.flatMap(({ exhausted }) => exhausted ?? []));
  return network.services.flatMap((server): Short[] => {
    if (server.kind !== "dhcp-server" || !servers.has(server.id)) return [];
    const late = failures.flatMap(({ exhausted, interface: leg }) =>
      exhausted === server.id && devices.get(deviceOf(leg))?.standIn !== true ? [leg] : [],
    );
    if (late.length === 0) return [];
    const kept = new Set(server.reservations.map(({ value }) => value));
    const early = settled.bindings.flatMap(({ server: id, family, value, interface: leg }) =>
      id === server.id && family === 4 && !kept.has(value) && devices.get(deviceOf(leg))?.standIn !== true ? [leg] : [],
    );
    return [{ server, early, late }];
  });
}

function namesOf(legs: readonly Id[]): readonly string[] {
  return [...new Set(legs.map(deviceOf))];
}

function poolName({ interface: leg, id }: Service & DhcpServer): string {
  return leg ?? id;
}

/** What would mend it where the line of a pool that is too short decided; undefined: it is no such line. */
export function shortPoolAdvice(line: Origin, evaluation: Evaluation): string | undefined {
  const { network } = evaluation;
  const { worlds } = evaluation.worlds();
  const short = worlds
    .flatMap((world) => shortIn(world, network))
    .find(({ server }) => isSameSpan(server.origin.span, line.span));
  return short && largerPool(namesOf(short.late));
}

/** What gives these clients of a pool that is too small an address. */
export function largerPool(late: readonly string[]): string {
  return late.length === 1
    ? `a larger pool, or a reservation for ${late[0]}, would give it an address whoever starts first`
    : `a larger pool, or reservations for ${inWords(late)}, would give them addresses whoever starts first`;
}
