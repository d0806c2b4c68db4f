/**
 * Filter tables: one for each list that a device has.
 */
import { normalizeRanges } from "../address/index.ts";
import type { Condition, FilterAction, FilterTable, Refusal, Rule } from "../network/index.ts";
import { type Id, idOf } from "../network/index.ts";
import type { SiteAction, SiteDevice, SiteRule, SiteRuleList } from "../site/index.ts";
import { withDigest } from "./digest.ts";
import { alternativesOf, within } from "./matches.ts";
import { icmpRefusal, resetRefusal } from "./refusals.ts";

/** The lists of a device's filter, in the order of their hooks. */
export const FILTER_LISTS = ["to", "through", "from"] as const;

/** One of the lists. */
export type FilterList = (typeof FILTER_LISTS)[number];

/** `edge/filter/to`. */
export function filterId(device: string, list: FilterList): Id {
  return idOf(device, "filter", list);
}

/** The filter tables of a device. */
export function filtersOf(device: SiteDevice): readonly FilterTable[] {
  return FILTER_LISTS.flatMap((list) => {
    const written = device.filter?.[list];
    return written === undefined ? [] : [filterTable(device, list, written)];
  });
}

function filterTable(device: SiteDevice, list: FilterList, { origin, rules, otherwise }: SiteRuleList): FilterTable {
  return withDigest({
    id: filterId(device.name, list),
    origin,
    kind: "filter" as const,
    rules: rules.map((rule) => filterRule(device, list, rule)),
    otherwise: { action: actionOf(otherwise.value, list), origin: otherwise.origin },
  });
}

function filterRule(device: SiteDevice, list: FilterList, rule: SiteRule): Rule<FilterAction> {
  return {
    id: idOf(device.name, "filter", list, rule.name),
    origin: rule.origin,
    when: alternativesOf(rule, device, furtherConditions(rule)),
    action: actionOf(rule.action.value, list),
  };
}

function furtherConditions({ states, sourceHardware }: SiteRule): readonly Condition[] {
  const stateOf = states && {
    field: "state" as const,
    oneOf: states.value.map(({ value }) => value),
    origin: states.origin,
  };
  const hardware = sourceHardware?.value.map(({ value }) => [value, value] as const);
  const hardwareOf =
    sourceHardware && hardware && within("sourceHardware", normalizeRanges(hardware), sourceHardware.origin);
  return [stateOf, hardwareOf].filter((condition) => condition !== undefined);
}

function actionOf(action: SiteAction, list: FilterList): FilterAction {
  switch (action.do) {
    case "accept":
    case "drop":
      return { do: action.do };
    case "unknown":
      return { do: "unknown", note: action.note };
    case "reject":
      return { do: "refuse", with: refusalOf(action.with, list) };
  }
}

/** An error for a packet addressed to the device carries the address it was sent to (kernel fact 5). */
function refusalOf(answer: Extract<SiteAction, { readonly do: "reject" }>["with"], list: FilterList): Refusal {
  const from = list === "to" ? "addressed" : "towards-sender";
  return answer === "tcp-reset" ? resetRefusal(from) : icmpRefusal(answer, from);
}
