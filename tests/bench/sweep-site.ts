/** What the sweep survey asks: 100 assertions over the site of the speed survey (200 devices). */
import { numbersFrom } from "./speed-lists.ts";
import { HOUSE_NETWORKS, type RoutedSite } from "./speed-site.ts";

const ASSERTIONS = 100;

/** The site. */
export const SWEPT_SITE: RoutedSite = { prefixes: 900, filtered: 0, rules: 0 };

/** The assertions, each about two hosts; `survives`: what is said beside each of them. */
export function sweptAssertions(survives: string): string {
  const next = numbersFrom(17);
  const host = (): string => (HOUSE_NETWORKS[next(HOUSE_NETWORKS.length)] ?? "n0-0").replace("n", "c");
  const lines = Array.from({ length: ASSERTIONS }, (_, index) => {
    const from = host();
    let to = host();
    while (to === from) to = host();
    return `  - { name: "${index}", from: ${from}, to: ${to}, service: tcp/443, expect: connects${survives} }`;
  });
  return ["dryrack: assertions/1", "assertions:", ...lines, ""].join("\n");
}
