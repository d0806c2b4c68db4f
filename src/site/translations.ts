/**
 * Address translation, with names resolved.
 */
import type { Address } from "../address/index.ts";
import type { DestTranslation, SourceTranslation, Translate } from "../document/index.ts";
import { resolveAddress } from "./address-names.ts";
import { type RuleContext, resolveMatch } from "./filters.ts";
import { type Setting, settingOf, writtenAt } from "./setting.ts";
import type { SiteDestTranslation, SiteSourceTranslation, SiteTranslate } from "./site-filter.ts";

/** Resolves the translation lists of a device. */
export function resolveTranslate(written: Translate, context: RuleContext): SiteTranslate {
  const { clientsMayOpenForwards: open, mapping, filtering } = written;
  return {
    origin: writtenAt(written.span),
    source: (written.source?.value ?? []).map((rule) => sourceRule(rule, context)),
    dest: (written.dest?.value ?? []).flatMap((rule) => destRule(rule, context) ?? []),
    ...(mapping === undefined ? {} : { mapping: settingOf(mapping) }),
    ...(filtering === undefined ? {} : { filtering: settingOf(filtering) }),
    ...(open?.value === true ? { clientsMayOpenForwards: writtenAt(open.span) } : {}),
  };
}

function sourceRule(rule: SourceTranslation, context: RuleContext): SiteSourceTranslation {
  const { to, toPort } = rule;
  const { value } = to;
  const address = (number: bigint): Address => ({ family: value.by === "addresses" ? value.family : 4, value: number });
  return {
    ...resolveMatch(rule, context),
    to: {
      value:
        value.by === "addresses"
          ? { by: "addresses", first: address(value.first), last: address(value.last) }
          : { by: value.by },
      origin: writtenAt(to.span),
    },
    ...(toPort === undefined ? {} : { toPorts: settingOf(toPort) }),
  };
}

function destRule(rule: DestTranslation, context: RuleContext): SiteDestTranslation | undefined {
  const to = newDestination(rule, context);
  if (to === undefined) return undefined;
  const { toPort } = rule;
  return { ...resolveMatch(rule, context), to, ...(toPort === undefined ? {} : { toPorts: settingOf(toPort) }) };
}

function newDestination(
  { to, family }: DestTranslation,
  context: RuleContext,
): Setting<Address | "unchanged"> | undefined {
  const { value, span } = to;
  if (value.by === "unchanged") return { value: "unchanged", origin: writtenAt(span) };
  return resolveAddress({ value, span }, family?.value, context);
}
