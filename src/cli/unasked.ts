/**
 * Why nothing would be asked: no assertions at all, or none of a name that was given.
 */
import { nearestWord } from "../diagnose/index.ts";
import type { LoadedSite } from "../load/index.ts";

/** Names of all assertions of a site. */
export function titlesOf({ assertions }: Pick<LoadedSite, "assertions">): readonly string[] {
  return assertions.flatMap(({ document }) => document.assertions.map(({ name }) => name.value));
}

/** Why there is nothing to judge; undefined: there is something. */
export function whatIsUnasked(
  sites: readonly Pick<LoadedSite, "name" | "assertions">[],
  only: readonly string[],
): string | undefined {
  const titles = sites.flatMap(titlesOf);
  if (titles.length === 0) {
    const names = sites.map((site) => `\`${site.name}\``).join(", ");
    const folders = sites.map((site) => `\`assertions/${site.name}\``).join(" or ");
    return `no assertions for ${names}\n   write some in ${folders}`;
  }
  const unknown = only.find((name) => !titles.includes(name));
  if (unknown === undefined) return undefined;
  const nearest = nearestWord(unknown, titles);
  return `no assertion is called \`${unknown}\`${nearest === undefined ? "" : `\n   try \`${nearest}\``}`;
}
