/**
 * The plan of a random site that lends addresses: one to three routers in a tree, networks with clients behind each of
 * them, and who is meant to serve which network.
 */
import type { Dice } from "../dice.ts";

/** A network of clients, 10.50.ID.0/24. */
export type Lan = {
  /** Its number. */
  readonly id: number;
  /** Its router, by number. */
  readonly router: number;
  /** Interface of the router. */
  readonly leg: string;
  /** Host number of the router. */
  readonly host: number;
  /** Legs of clients, as `device:leg`. */
  readonly clients: string[];
  /** Who serves it: its router, another one by relay, or nobody. */
  readonly served: "here" | "relayed" | "nobody";
  /** For a relayed network: the router that serves it. */
  readonly server: number;
  /** Beside its router, a second server is plugged into it. */
  readonly second: boolean;
};

/** A router's way towards router 0: 10.60.CHILD.0/24, the parent is host 1, the child host 2. */
export type Uplink = { readonly child: number; readonly parent: number };

/** The site. */
export type LeaseDraft = {
  readonly dice: Dice;
  readonly routers: number;
  readonly uplinks: readonly Uplink[];
  readonly lans: readonly Lan[];
  /** Names of clients, each with its legs. */
  readonly hosts: ReadonlyMap<string, readonly string[]>;
};

const MOST_CLIENTS = 9; // of a site; each that fails costs seconds

/** A new site. */
export function draftLeases(dice: Dice): LeaseDraft {
  const routers = 1 + dice.below(3);
  const uplinks = Array.from({ length: routers - 1 }, (_, index) => ({
    child: index + 1,
    parent: dice.below(index + 1),
  }));
  const lans: Lan[] = [];
  for (let router = 0; router < routers; router++)
    for (let count = 1 + dice.below(routers === 1 ? 3 : 2); count > 0; count--)
      lans.push(drawLan(dice, lans.length + 1, router, routers));
  return { dice, routers, uplinks, lans, hosts: plugClients(dice, lans) };
}

function drawLan(dice: Dice, id: number, router: number, routers: number): Lan {
  const served = dice.chance(0.06) ? "nobody" : routers > 1 && dice.chance(0.5) ? "relayed" : "here";
  const server = (router + 1 + dice.below(Math.max(1, routers - 1))) % routers;
  const host = dice.chance(0.8) ? 1 : 254;
  return { id, router, leg: `e${id}`, host, clients: [], served, server, second: dice.chance(0.12) };
}

function plugClients(dice: Dice, lans: readonly Lan[]): ReadonlyMap<string, readonly string[]> {
  const hosts = new Map<string, string[]>();
  const plug = (name: string, lan: Lan): void => {
    const legs = hosts.get(name) ?? [];
    const leg = `n${legs.length}`;
    hosts.set(name, [...legs, leg]);
    lan.clients.push(`${name}:${leg}`);
  };
  for (const lan of lans) {
    for (let count = 1 + dice.below(4); count > 0 && hosts.size < MOST_CLIENTS; count--) {
      const name = `h${hosts.size + 1}`;
      plug(name, lan);
      const other = dice.pick(lans);
      if (other !== lan && dice.chance(0.15)) plug(name, other);
    }
  }
  return hosts;
}

/** An address of a network of clients. */
export function addressIn({ id }: Lan, host: number): string {
  return `10.50.${id}.${host}`;
}

/** An address between two routers. */
export function addressBetween({ child }: Uplink, end: "parent" | "child"): string {
  return `10.60.${child}.${end === "parent" ? 1 : 2}`;
}

/** Addresses of a router, its networks' first. */
export function addressesOf({ lans, uplinks }: LeaseDraft, router: number): readonly string[] {
  return [
    ...lans.filter((lan) => lan.router === router).map((lan) => addressIn(lan, lan.host)),
    ...uplinks.flatMap((uplink) => [
      ...(uplink.parent === router ? [addressBetween(uplink, "parent")] : []),
      ...(uplink.child === router ? [addressBetween(uplink, "child")] : []),
    ]),
  ];
}
