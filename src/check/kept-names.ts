/**
 * The names that resolvers of a site have themselves: written as records, or those of its devices. One of a device that is lent its
 * address counts as well.
 */
import { nearestWord, type Origin } from "../diagnose/index.ts";
import type { Id, Network, Resolve, Service } from "../network/index.ts";

/** A resolver that has a name, with the line of it. */
export type Keeper = {
  /** Where it runs. */
  readonly stack: Id;
  /** The line of the name. */
  readonly origin: Origin;
};

/** The resolvers of a site. */
export function resolversIn({ services }: Network): readonly (Resolve & Service)[] {
  return services.flatMap((service) => (service.kind === "resolve" ? [service] : []));
}

/** Resolvers that have a name, which is written plainly (`plainName`). */
export function keepersOf(name: string, network: Network): readonly Keeper[] {
  return resolversIn(network).flatMap(({ stack, records, lent }) =>
    [...records, ...lent].flatMap((each) => (plainName(each.name) === name ? [{ stack, origin: each.origin }] : [])),
  );
}

/** The name of the site that somebody may have meant; undefined: none is near. */
export function nearestKept(name: string, network: Network): string | undefined {
  const kept = resolversIn(network).flatMap(({ records, lent }) => [...records, ...lent]);
  return nearestWord(name, new Set(kept.map((each) => each.name)));
}

/** Names are the same in whatever case, with a dot at the end or without (RFC 4343, RFC 1034 section 3.1; from memory). */
export function plainName(name: string): string {
  return name.toLowerCase().replace(/\.$/, "");
}
