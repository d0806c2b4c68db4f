/**
 * Public prefixes that two upstreams hand out: an address of the internet is at one place, so that what others send there comes
 * to one of both. Private and shared space is each provider's own (RFC 1918 section 3, RFC 6598 section 4).
 */
import {
  formatPrefix,
  intersectRanges,
  type Prefix,
  PUBLIC_KEYS,
  prefixesOverlap,
  prefixKeys,
  ranges,
} from "../address/index.ts";
import type { Located } from "../document/index.ts";
import type { Configured } from "./configured.ts";
import type { Findings } from "./findings.ts";

/** What an upstream hands out. */
type Handed = { readonly upstream: string; readonly prefix: Located<Prefix> };

/** Warns of each public prefix that shares addresses with one of another upstream. */
export function warnServedTwice(devices: Iterable<Configured>, findings: Findings): void {
  const earlier: Handed[] = [];
  for (const { rack } of devices) {
    const own = rack.topology.is.value === "upstream" ? (rack.intent?.handsOut?.value ?? []) : [];
    const handed = own
      .flatMap(({ ipv4, ipv6 }) => [ipv4, ipv6].flatMap((prefix) => prefix ?? []))
      .filter(({ value }) => intersectRanges(ranges(prefixKeys(value)), PUBLIC_KEYS).length > 0)
      .map((prefix): Handed => ({ upstream: rack.name, prefix }));
    for (const one of handed) {
      const other = earlier.find(({ prefix }) => prefixesOverlap(prefix.value, one.prefix.value));
      if (other !== undefined) reportTwice(one, other, findings);
    }
    earlier.push(...handed);
  }
}

function reportTwice(one: Handed, other: Handed, findings: Findings): void {
  const message = `upstreams \`${other.upstream}\` and \`${one.upstream}\` hand out the same public addresses`;
  findings.report("served-twice", one.prefix.span, message, {
    label: formatPrefix(one.prefix.value),
    also: [{ span: other.prefix.span, text: formatPrefix(other.prefix.value) }],
    notes: ["an address of the internet is at one place: each of them leads it to its own customers"],
    help: `give \`${one.upstream}\` a prefix of its own`,
  });
}
