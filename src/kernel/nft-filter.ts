/**
 * Filter lists as nft chains: `to` on input, `through` on forward, `from` on output, at priority 0. The closing word of a
 * list is the chain's policy, or for a rejection its last rule.
 */
import type { SiteAction, SiteFilter, SiteRule, SiteRuleList } from "../site/index.ts";
import type { DeviceNames } from "./names.ts";
import { matchesOf } from "./nft-match.ts";
import type { Unsupported } from "./plan.ts";

const LISTS = [
  { list: "to", hook: "input" },
  { list: "through", hook: "forward" },
  { list: "from", hook: "output" },
] as const;

/** The chains of a filter; none for lists that are not written. */
export function filterChains(filter: SiteFilter, names: DeviceNames): readonly string[] {
  return LISTS.flatMap(({ list, hook }) => {
    const rules = filter[list];
    return rules === undefined ? [] : chain(list, hook, rules, names);
  });
}

function chain(list: string, hook: string, rules: SiteRuleList, names: DeviceNames): readonly string[] {
  const policy = rules.otherwise.value.do === "drop" ? "drop" : "accept";
  const last = rules.otherwise.value.do === "reject" ? verdictsOf(rules.otherwise.value) : [];
  return [
    `  chain list_${list} {`,
    `    type filter hook ${hook} priority 0; policy ${policy};`,
    ...rules.rules.flatMap((rule) => ruleLines(rule, names)),
    ...last.map((verdict) => `    ${verdict}`),
    "  }",
  ];
}

function ruleLines(rule: SiteRule, names: DeviceNames): readonly string[] {
  const verdicts = verdictsOf(rule.action.value);
  return matchesOf(rule, names).flatMap(({ text }) =>
    verdicts.map((verdict) => `    ${text}${text === "" ? "" : " "}${verdict} ${commentOf(rule.name)}`),
  );
}

/** A comment may hold 128 bytes and no quotation mark. */
export function commentOf(name: string): string {
  const plain = name.replaceAll(/[^\x20-\x7e]|["\\]/g, "?");
  return `comment "${plain.slice(0, 120)}"`;
}

const ERRORS = {
  "port-unreachable": "port-unreachable",
  "host-unreachable": "host-unreachable",
  "network-unreachable": "no-route",
  prohibited: "admin-prohibited",
} as const;

/** A reset is for TCP only; what is not TCP gets an ICMP error by a second rule. */
function verdictsOf(action: SiteAction): readonly string[] {
  if (action.do === "unknown") return [];
  if (action.do !== "reject") return [action.do];
  if (action.with === "tcp-reset") {
    return ["meta l4proto tcp reject with tcp reset", `reject with icmpx type ${ERRORS["port-unreachable"]}`];
  }
  return [`reject with icmpx type ${ERRORS[action.with]}`];
}

/** Actions that nobody knows. */
export function unsupportedActions(filter: SiteFilter): readonly Unsupported[] {
  const lists = LISTS.flatMap(({ list }) => filter[list] ?? []);
  return lists
    .flatMap(({ rules, otherwise }) => [...rules.map(({ action }) => action), otherwise])
    .filter(({ value }) => value.do === "unknown")
    .map(({ origin }) => ({ origin, what: "an action that nobody knows" }));
}
