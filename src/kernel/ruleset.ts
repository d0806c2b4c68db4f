/**
 * All rules of a device as one input of `nft`, which takes all of it or nothing (kernel fact 24).
 */
import type { SiteDevice } from "../site/index.ts";
import type { DeviceNames } from "./names.ts";
import { filterChains } from "./nft-filter.ts";
import { translationChains } from "./nft-translate.ts";

/** The ruleset; empty: the device has no rules. */
export function rulesetOf(device: SiteDevice, names: DeviceNames): string {
  const chains = [
    ...stackChains(device, names),
    ...(device.translate === undefined ? [] : translationChains(device.translate, names)),
    ...(device.filter === undefined ? [] : filterChains(device.filter, names)),
  ];
  return chains.length === 0 ? "" : ["table inet site {", ...chains, "}", ""].join("\n");
}

/**
 * What the kernel has no setting for: links that bear no interface of the site, a strong host, and for IPv6 the
 * check of a packet's source against the routes, and a router that sends no redirects.
 */
function stackChains(device: SiteDevice, names: DeviceNames): readonly string[] {
  const { hostModel, reversePath, interfaces, forwarding } = device;
  const check = { none: [], strict: [reversePath6("saddr . iif")], loose: [reversePath6("saddr")] };
  const deaf = interfaces.length === 0 ? [] : names.mute.map((name) => `    iifname "${name}" drop`);
  return [
    ...chain("stack", "prerouting priority -150", [...deaf, ...check[reversePath.value]]),
    // After destination translation, like every decision about who a packet is for, and before the list `to`.
    ...chain("strong_host", "input priority -10", hostModel.value === "strong" ? STRONG : []),
    ...chain(
      "quiet",
      "output priority -400",
      forwarding.value && interfaces.some(({ speaks6 }) => speaks6.value) ? [QUIET] : [],
    ),
  ];
}

/** As of IPv4, where a setting does: what a redirect asks for neighbours makes the router known to them. */
const QUIET = "    icmpv6 type nd-redirect drop";

const STRONG = ["local", "broadcast"].map(
  (type) => `    iifname != "lo" fib daddr type ${type} fib daddr . iif type != ${type} drop`,
);

function chain(name: string, hook: string, rules: readonly string[]): readonly string[] {
  if (rules.length === 0) return [];
  return [`  chain ${name} {`, `    type filter hook ${hook}; policy accept;`, ...rules, "  }"];
}

function reversePath6(question: string): string {
  return `    meta nfproto ipv6 iifname != "lo" ip6 saddr != fe80::/10 ip6 saddr != :: fib ${question} oif missing drop`;
}
