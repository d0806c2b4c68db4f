/**
 * What an interface was given, as one word: two that are alike but for their times have the same.
 */
import type { Binding } from "../../network/index.ts";

/** Interface, server, address and whether that is deprecated, routes and resolvers. */
export function bindingWord(binding: Binding): string {
  const { interface: at, server, value, prefixLength, routes, resolvers } = binding;
  const ways = routes.map(({ prefix, length, via }) => `${prefix}/${length} ${via}`);
  const isOld = binding.family === 6 && binding.deprecated === true;
  return [at, server, value, prefixLength, isOld, ...ways, ...resolvers].join(" ");
}
