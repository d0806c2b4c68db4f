/**
 * What an interface was given, as one word: two that are alike but for their times have the same.
 */
import type { Binding } from "../../network/index.ts";

/** Interface, server, address, routes and resolvers. */
export function bindingWord({
  interface: at,
  server,
  value,
  prefixLength,
  routes,
  resolvers,
}: Omit<Binding, "seconds">): string {
  const ways = routes.map(({ prefix, length, via }) => `${prefix}/${length} ${via}`);
  return [at, server, value, prefixLength, ...ways, ...resolvers].join(" ");
}
