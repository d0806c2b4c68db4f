/**
 * What changed from one state of a site to the next, told part by part.
 */
import { formatAddress } from "../../address/index.ts";
import { type Id, isBeyond, type Network, type Router, type Settled, type SettledBond } from "../../network/index.ts";
import { routerChoice } from "../../settle/index.ts";
import type { CourseEvent } from "./records.ts";

/** A site at a moment. */
type Instant = {
  readonly network: Network;
  readonly settled: Settled;
  /** Ids of the choices about silent routers that their hosts have tried in vain. */
  readonly tried: ReadonlySet<Id>;
};

/** Carrier, bonds, storms, sessions and routers given up that are not what they were. */
export function differencesOf(before: Instant, after: Instant, atMs: number): readonly CourseEvent[] {
  return [
    ...carrierEvents(before, after, atMs),
    ...bondEvents(before, after, atMs),
    ...stormEvents(before, after, atMs),
    ...sessionEvents(before, after, atMs),
    ...routerEvents(before, after, atMs),
  ];
}

function carrierEvents(before: Instant, { network, settled }: Instant, atMs: number): CourseEvent[] {
  const [old, now] = [new Set(before.settled.down), new Set(settled.down)];
  const known = new Set(before.network.ports.map(({ id }) => id));
  return network.ports.flatMap(({ id, origin }): CourseEvent[] => {
    if (isBeyond(id)) return [];
    if (known.has(id) ? old.has(id) === now.has(id) : now.has(id)) return [];
    return [{ atMs, what: "carrier", at: id, text: now.has(id) ? "has no link" : "has a link", origin }];
  });
}

function bondEvents(before: Instant, { settled }: Instant, atMs: number): CourseEvent[] {
  const old = new Map(before.settled.bonds.map((bond) => [bond.bond, bond.sends.join(" ")]));
  return settled.bonds.flatMap((bond): CourseEvent[] => {
    if (old.get(bond.bond) === bond.sends.join(" ")) return [];
    return [{ atMs, what: "bond", at: bond.bond, text: carriesBy(bond), origin: bond.origin }];
  });
}

function carriesBy({ sends }: SettledBond): string {
  const names = sends.map((id) => id.slice(id.indexOf(":") + 1));
  if (names.length === 0) return "carries nothing";
  return names.length === 1 ? `carries by ${names[0]} alone` : `carries by ${names.join(" and ")}`;
}

function stormEvents(before: Instant, { settled }: Instant, atMs: number): CourseEvent[] {
  const [old, now] = [stormsIn(before.settled), stormsIn(settled)];
  return [
    ...[...now].flatMap(([key, storm]): CourseEvent[] =>
      old.has(key) ? [] : [{ ...storm, atMs, text: `frames circle here without end, through ${key}` }],
    ),
    ...[...old].flatMap(([key, storm]): CourseEvent[] =>
      now.has(key) ? [] : [{ ...storm, atMs, text: "frames no longer circle here" }],
    ),
  ];
}

function stormsIn({ storms }: Settled): ReadonlyMap<string, Pick<CourseEvent, "what" | "at" | "origin">> {
  return new Map(
    storms.map(({ ports, domains, origin }) => [
      ports.join(", "),
      { what: "storm", at: domains[0]?.bridge ?? "", origin } as const,
    ]),
  );
}

function sessionEvents(before: Instant, { network, settled }: Instant, atMs: number): CourseEvent[] {
  const [old, now] = [peersIn(before.settled), peersIn(settled)];
  return network.stacks.flatMap(({ interfaces }) =>
    interfaces.flatMap(({ id, origin, tunnel }): CourseEvent[] => {
      const [was, is] = [old.get(id) ?? "", now.get(id) ?? ""];
      if (was === is || isBeyond(id)) return [];
      const what = tunnel === undefined ? "session" : "tunnel";
      return [{ atMs, what, at: id, text: is === "" ? "has lost its peer" : `is joined to ${is}`, origin }];
    }),
  );
}

function peersIn({ stacks }: Settled): ReadonlyMap<Id, string> {
  return new Map(
    stacks.flatMap(({ interfaces }) =>
      interfaces.map(({ interface: id, peers = [] }) => [id, peers.join(" and ")] as const),
    ),
  );
}

/** One that counts as given up and was never sent to (RFC 4861 section 7.3.3: it is not probed) is not told: nobody noticed anything. */
function routerEvents(before: Instant, after: Instant, atMs: number): CourseEvent[] {
  const tell = ({ interface: at, via, origin }: Router, verb: string, end = ""): CourseEvent => {
    const text = `${verb} its router ${formatAddress({ family: 6, value: via })}${end}`;
    return { atMs, what: "neighbour", at, text, origin };
  };
  const isIn = (routers: readonly Router[], one: Router): boolean =>
    routers.some((other) => other.interface === one.interface && other.via === one.via);
  const { settled } = after;
  const [old, now] = [noticedIn(before), noticedIn(after)];
  return [
    ...now.flatMap((router) => (isIn(old, router) ? [] : [tell(router, "gives up")])),
    ...old.flatMap((router) => (isIn(now, router) || !isUsed(router, settled) ? [] : [tell(router, "uses", " again")])),
  ];
}

function noticedIn({ settled, tried }: Instant): readonly Router[] {
  return settled.givenUp.filter((router) => tried.has(routerChoice(router).id));
}

/** Whether a route leads by it. */
function isUsed({ interface: id, via }: Router, { stacks }: Settled): boolean {
  return stacks.some(({ routes }) =>
    routes.some(
      ({ family, action }) =>
        family === 6 && action.do === "forward" && action.hops.some((hop) => hop.egress === id && hop.via === via),
    ),
  );
}
