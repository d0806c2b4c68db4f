/**
 * Translation tables: one for each end that a device translates.
 */
import { addressKey, type Ranges, ranges, single } from "../address/index.ts";
import type { Condition, Mapping, Rule, TranslateAction, TranslateTable } from "../network/index.ts";
import { type Id, idOf } from "../network/index.ts";
import type { SiteDestTranslation, SiteDevice, SiteSourceTranslation, SiteTranslate } from "../site/index.ts";
import { withDigest } from "./digest.ts";
import { alternativesOf, familyIs } from "./matches.ts";
import { profileOf, ruleOf } from "./plant.ts";

/** An end of a connection, as documents name it. */
export type TranslatedEndName = "source" | "dest";

/** `edge/translate/source`. */
export function translateId(device: string, end: TranslatedEndName): Id {
  return idOf(device, "translate", end);
}

/** The translation tables of a device: one for each end, as soon as it translates at one. */
export function translationsOf(device: SiteDevice): readonly TranslateTable[] {
  const { translate } = device;
  if (translate === undefined) return [];
  const { source, dest } = translate;
  if (source.length + dest.length === 0) return [];
  const sources = source.map((rule) => sourceRule(device, rule));
  const dests = dest.map((rule) => destRule(device, rule));
  return [tableOf(device, "source", translate, sources), tableOf(device, "dest", translate, dests)];
}

function tableOf(
  device: SiteDevice,
  end: TranslatedEndName,
  { origin }: SiteTranslate,
  rules: readonly Rule<TranslateAction>[],
): TranslateTable {
  const otherwise = {
    action: { do: "keep" } as const,
    origin: ruleOf(device, "what no translation fits stays as it is", "common practice"),
  };
  return withDigest({ id: translateId(device.name, end), origin, kind: "translate" as const, rules, otherwise });
}

function portsOf(written: { readonly first: number; readonly last: number } | undefined): Ranges | undefined {
  return written && ranges([BigInt(written.first), BigInt(written.last)]);
}

function sourceRule(device: SiteDevice, rule: SiteSourceTranslation): Rule<TranslateAction> {
  const { to, toPorts } = rule;
  const { value } = to;
  const id = idOf(device.name, "translate", "source", rule.name);
  if (value.by === "unchanged") {
    return { id, origin: rule.origin, when: alternativesOf(rule, device), action: { do: "keep" } };
  }
  const ports = portsOf(toPorts?.value);
  const rewritten = value.by === "addresses" ? ranges([addressKey(value.first), addressKey(value.last)]) : undefined;
  // An address stands for its family: packets of the other one are not translated.
  const family = value.by === "addresses" ? [familyIs(value.first.family, to.origin)] : [];
  return {
    id,
    origin: rule.origin,
    when: alternativesOf(rule, device, family),
    action: {
      do: "rewrite",
      to: rewritten ?? "egress-address",
      ...(ports === undefined ? {} : { ports, keepPort: profileOf(device).keepsPort.value }),
      oneToOne: false,
    },
  };
}

function destRule(device: SiteDevice, rule: SiteDestTranslation): Rule<TranslateAction> {
  const { to, toPorts } = rule;
  const id = idOf(device.name, "translate", "dest", rule.name);
  if (to.value === "unchanged") {
    return { id, origin: rule.origin, when: alternativesOf(rule, device), action: { do: "keep" } };
  }
  const family: readonly Condition[] = [familyIs(to.value.family, to.origin)];
  const ports = portsOf(toPorts?.value);
  return {
    id,
    origin: rule.origin,
    when: alternativesOf(rule, device, family),
    action: {
      do: "rewrite",
      to: single(addressKey(to.value)),
      ...(ports === undefined ? {} : { ports }),
      // One new port takes all that was matched.
      ...(toPorts !== undefined && toPorts.value.first === toPorts.value.last ? { byOffset: false } : {}),
      oneToOne: false,
    },
  };
}

/** How source translation remembers endpoints: as written, else as the profile does; undefined: each connection alone. */
export function mappingOf(device: SiteDevice): Mapping | undefined {
  const { translate } = device;
  const usual = profileOf(device).mapping.value;
  if (translate === undefined || translate.source.length === 0) return undefined;
  const mapping =
    translate.mapping?.value ?? (usual === undefined ? "address-and-port-dependent" : "endpoint-independent");
  if (mapping === "address-and-port-dependent") return undefined;
  const filtering = translate.filtering?.value ?? usual?.filtering ?? "address-and-port-dependent";
  const scope = mapping === "endpoint-independent" ? "endpoint" : "peer-address";
  return { scope, filtering, hairpin: usual?.hairpin ?? false };
}
