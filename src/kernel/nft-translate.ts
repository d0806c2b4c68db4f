/**
 * Address translation as nft chains: destinations before routing (a device's own traffic skips them, kernel fact 22),
 * sources after it. The first rule that matches decides, for the first packet of each connection.
 */
import { type Address, formatAddress } from "../address/index.ts";
import type { SiteDestTranslation, SiteSourceTranslation, SiteTranslate } from "../site/index.ts";
import type { DeviceNames } from "./names.ts";
import { commentOf } from "./nft-filter.ts";
import { matchesOf, type NftMatch } from "./nft-match.ts";

/** The chains of a device's translation; none for lists that are empty. */
export function translationChains({ source, dest }: SiteTranslate, names: DeviceNames): readonly string[] {
  return [
    ...chain(
      "translate_dest",
      "prerouting priority -100",
      dest.flatMap((rule) => destLines(rule, names)),
    ),
    ...chain(
      "translate_source",
      "postrouting priority 100",
      source.flatMap((rule) => sourceLines(rule, names)),
    ),
  ];
}

function chain(name: string, hook: string, rules: readonly string[]): readonly string[] {
  if (rules.length === 0) return [];
  return [`  chain ${name} {`, `    type nat hook ${hook}; policy accept;`, ...rules, "  }"];
}

function line(match: NftMatch, verdict: string, name: string): string {
  return `    ${match.text}${match.text === "" ? "" : " "}${verdict} ${commentOf(name)}`;
}

function destLines(rule: SiteDestTranslation, names: DeviceNames): readonly string[] {
  const to = rule.to.value;
  const matches = matchesOf(rule, names);
  if (to === "unchanged") return matches.map((match) => line(match, "accept", rule.name));
  return matchesFor(matches, to).map((match) =>
    line(withPorts(match, rule.toPorts), `dnat ${target(to)}${portsOf(rule, match)}`, rule.name),
  );
}

function sourceLines(rule: SiteSourceTranslation, names: DeviceNames): readonly string[] {
  const to = rule.to.value;
  const { toPorts } = rule;
  const ports = toPorts === undefined ? "" : `:${toPorts.value.first}-${toPorts.value.last}`;
  const matches = matchesOf(rule, names);
  if (to.by === "addresses") {
    const last = to.first.value === to.last.value ? "" : `-${plainText(to.last)}`;
    const verdict = `snat ${target(to.first)}${last}${ports}`;
    return matchesFor(matches, to.first).map((match) => line(withPorts(match, toPorts), verdict, rule.name));
  }
  const masquerade = ports === "" ? "masquerade" : `masquerade to ${ports}`;
  const verdict = to.by === "unchanged" ? "accept" : masquerade;
  return matches.map((match) => line(withPorts(match, toPorts), verdict, rule.name));
}

/** Only packets of the new address's version can be translated to it. */
function matchesFor(matches: readonly NftMatch[], to: Address): readonly NftMatch[] {
  return matches.flatMap((match) => {
    if (match.family === to.family) return [match];
    if (match.family !== undefined) return [];
    return [{ ...match, family: to.family, text: joined(`meta nfproto ipv${to.family}`, match.text) }];
  });
}

/** A rule that gives ports must be limited to protocols that have some. */
function withPorts(match: NftMatch, ports: unknown): NftMatch {
  if (ports === undefined || match.protocol !== undefined) return match;
  return { ...match, text: joined(match.text, "meta l4proto { tcp, udp }") };
}

function joined(...texts: readonly string[]): string {
  return texts.filter((text) => text !== "").join(" ");
}

function target(to: Address): string {
  return `${to.family === 4 ? "ip" : "ip6"} to ${plainText(to)}`;
}

/** IPv6 addresses stand in brackets, so that a port may follow. */
function plainText(to: Address): string {
  return to.family === 4 ? formatAddress(to) : `[${formatAddress(to)}]`;
}

/** The nth port of the matched run becomes the nth of the new run; one new port takes all. */
function portsOf({ toPorts, services }: SiteDestTranslation, match: NftMatch): string {
  if (toPorts === undefined) return "";
  const { first, last } = toPorts.value;
  if (first === last) return `:${first}`;
  const asked = services?.value.find(({ value }) => value.protocol === match.protocol)?.value.ports?.[0];
  if (asked === undefined || Number(asked[1] - asked[0]) !== last - first) return `:${first}-${last}`;
  const pairs = Array.from({ length: last - first + 1 }, (_, nth) => `${Number(asked[0]) + nth} : ${first + nth}`);
  return `:th dport map { ${pairs.join(", ")} }`;
}
