/**
 * Filters: what each rule asks of a packet, with names resolved.
 */
import type { Span } from "../diagnose/index.ts";
import type { Filter, FilterAction, List, Located, Rule, RuleList, RuleMatch } from "../document/index.ts";
import type { Lookup } from "./address-names.ts";
import type { Configured } from "./configured.ts";
import { isWritten } from "./lenders.ts";
import type { SiteTarget } from "./references.ts";
import { type Setting, settingOf, writtenAt } from "./setting.ts";
import type { SiteAction, SiteFilter, SiteList, SiteMatch, SiteRule, SiteRuleList } from "./site-filter.ts";
import type { Targets } from "./targets.ts";

/** What rules are resolved against. */
export type RuleContext = Lookup & {
  /** The device whose rules they are. */
  readonly device: Configured;
  /** Whom names mean. */
  readonly targets: Targets;
};

/** Resolves the filter lists of a device. */
export function resolveFilter(written: Filter, context: RuleContext): SiteFilter {
  const { to, through, from, midStream } = written;
  return {
    origin: writtenAt(written.span),
    ...(to === undefined ? {} : { to: resolveList(to, context) }),
    ...(through === undefined ? {} : { through: resolveList(through, context) }),
    ...(from === undefined ? {} : { from: resolveList(from, context) }),
    ...(midStream === undefined ? {} : { midStream: settingOf(midStream) }),
  };
}

function resolveList(list: RuleList, context: RuleContext): SiteRuleList {
  return {
    origin: writtenAt(list.span),
    rules: list.rules.map((rule) => resolveRule(rule, context)),
    otherwise: actionOf(list.otherwise, ""),
  };
}

function resolveRule(rule: Rule, context: RuleContext): SiteRule {
  const { state, sourceMac, action, note } = rule;
  return {
    ...resolveMatch(rule, context),
    ...(state === undefined ? {} : { states: plainList(state) }),
    ...(sourceMac === undefined ? {} : { sourceHardware: plainList(sourceMac) }),
    action: actionOf(action, note?.value ?? ""),
  };
}

function actionOf({ value, span }: Located<FilterAction>, note: string): Setting<SiteAction> {
  const origin = writtenAt(span);
  if (value.do === "unknown") return { value: { do: "unknown", note }, origin };
  if (value.do !== "reject") return { value: { do: value.do }, origin };
  // A plain reject is a port unreachable (kernel fact 14).
  return { value: { do: "reject", with: value.with?.value ?? "port-unreachable" }, origin };
}

/** What rules of every list have in common. */
export function resolveMatch(rule: RuleMatch, context: RuleContext): SiteMatch {
  const { family, in: ingress, out: egress, source, dest, service, sourcePort } = rule;
  return {
    name: rule.name.value,
    origin: writtenAt(rule.name.span),
    ...(family === undefined ? {} : { family: settingOf(family) }),
    ...(ingress === undefined ? {} : { ingress: interfaceList(ingress, context.device, context) }),
    ...(egress === undefined ? {} : { egress: interfaceList(egress, context.device, context) }),
    ...(source === undefined ? {} : { source: targetList(source, context) }),
    ...(dest === undefined ? {} : { dest: targetList(dest, context) }),
    ...(service === undefined ? {} : { services: plainList(service) }),
    ...(sourcePort === undefined ? {} : { sourcePorts: plainList(sourcePort) }),
  };
}

function plainList<T>({ value, span }: List<T>): SiteList<T> {
  return { value: value.map((item) => settingOf(item)), origin: writtenAt(span) };
}

/** Interfaces of the device itself, by name. */
export function interfaceList(written: List<string>, device: Configured, { findings }: Lookup): SiteList<string> {
  const value = written.value.flatMap((item) => {
    if (device.interfaces.some(({ name }) => name === item.value)) return [settingOf(item)];
    reportInterface(item, device, findings);
    return [];
  });
  return { value, origin: writtenAt(written.span) };
}

/** Reports a name that no interface of the device bears. */
export function reportInterface(item: Located<string>, device: Configured, findings: Lookup["findings"]): void {
  // An interface that was left out after a diagnostic of its own is not reported again.
  if (isWritten(device, item.value)) return;
  const kind = device.rack.topology.is.value === "host" ? "leg" : "interface";
  const candidates = device.interfaces.map(({ name }) => name);
  findings.unknown({ kind, of: device.rack.name, name: item.value, span: item.span, candidates });
}

function targetList(
  written: NonNullable<RuleMatch["source"]>,
  { targets, findings }: RuleContext,
): SiteList<SiteTarget> {
  const value = written.value.flatMap((item) => {
    const members = targets.resolve(item);
    for (const member of members) warnUncertain(member, item.span, targets, findings);
    return members;
  });
  return { value, origin: writtenAt(written.span) };
}

function warnUncertain(
  { value }: Setting<SiteTarget>,
  span: Span,
  targets: Targets,
  findings: Lookup["findings"],
): void {
  const leg = targets.uncertain(value);
  if (leg === undefined) return;
  const name = `${leg.device.rack.name}/${leg.interface.name}`;
  const lease = leg.interface.lease;
  const pooled = leg.pools.some((pool) => pool.length > 0);
  findings.report("lease-unknown", span, `nobody knows which address \`${name}\` will have`, {
    also: lease === undefined ? [] : [{ span: lease.span, text: "it comes from a lease without a reservation" }],
    notes: [
      pooled
        ? "the rule is taken for every address of the pool"
        : "no server lends it any, so the rule matches no address of it",
    ],
    about: "anything",
  });
}
