/**
 * Radio networks: what access points offer, and which of them each client joins. A client hears every access point
 * that offers its SSID.
 */
import type { List, Located } from "../document/index.ts";
import type { Findings } from "./findings.ts";
import { fits } from "./kinds.ts";
import { resolveVlan } from "./membership.ts";
import type { Names } from "./names.ts";
import type { Rack } from "./rack.ts";
import { defaultAt, type Setting, settingOf, settingOr, writtenAt } from "./setting.ts";
import type { SiteBridge, SiteSsid } from "./site-switching.ts";

/** Radio networks that a device offers. */
export function resolveSsids(
  rack: Rack,
  bridge: SiteBridge | undefined,
  names: Names,
  findings: Findings,
): readonly SiteSsid[] {
  const written = fits("ssids", rack.topology.is.value) ? (rack.intent?.ssids?.value ?? []) : [];
  return written.flatMap((ssid) => {
    const { name, radio, network, clients } = ssid;
    if (bridge === undefined) reportUnbridged(rack, name, findings);
    const vlan = bridge?.tags.value === "ignored" ? vlanIfAny(network, names) : resolveVlan(network, names, findings);
    if (vlan === undefined || bridge === undefined) return [];
    const free = defaultAt(name.span, "clients of a radio network reach one another", "common practice");
    return [
      {
        name: name.value,
        origin: writtenAt(name.span),
        radios: radiosOf(rack, radio, findings),
        vlan: { value: vlan, origin: writtenAt(network.span) },
        isolated: settingOr(clients && { ...clients, value: clients.value === "isolated" }, false, free),
      },
    ];
  });
}

/** A bridge that ignores tags takes clients of any network; VLAN 1 stands for its only domain. */
function vlanIfAny(network: Parameters<typeof resolveVlan>[0], names: Names): number {
  const { value } = network;
  return value.by === "vlans" ? value.first : (names.networks.get(value.name)?.vlan?.value ?? 1);
}

function reportUnbridged(rack: Rack, name: Located<string>, findings: Findings): void {
  findings.report("no-footing", name.span, `the radio network \`${name.value}\` of \`${rack.name}\` leads nowhere`, {
    notes: [`\`${rack.name}\` does not switch, so its clients would be joined to nothing`],
    help: "add `switching` to the device",
    about: [rack.name],
  });
}

function radiosOf(rack: Rack, written: List<string>, findings: Findings): readonly Setting<string>[] {
  const racked = (rack.topology.radios?.value ?? []).map((radio) => radio.value);
  return written.value.flatMap((radio) => {
    if (racked.includes(radio.value)) return [settingOf(radio)];
    findings.unknown({ kind: "radio", of: rack.name, name: radio.value, span: radio.span, candidates: racked });
    return [];
  });
}

/** SSIDs that a client joins; one that nobody offers is a warning. */
export function resolveJoins(rack: Rack, offered: ReadonlySet<string>, findings: Findings): readonly Setting<string>[] {
  if (!fits("joins", rack.topology.is.value)) return [];
  const joins = rack.intent?.joins?.value ?? [];
  for (const { value, span } of joins) {
    if (offered.has(value)) continue;
    findings.report("ssid-nowhere", span, `no access point offers \`${value}\``, {
      notes: offered.size === 0 ? ["no SSID is offered at all"] : [`offered are ${[...offered].join(", ")}`],
      about: "anything",
    });
  }
  checkRadio(rack, joins[0], findings);
  return joins.map((join) => settingOf(join));
}

function checkRadio(rack: Rack, join: Located<string> | undefined, findings: Findings): void {
  if (join === undefined || (rack.topology.radios?.value.length ?? 0) > 0) return;
  findings.report("wrong-kind", join.span, `\`${rack.name}\` has no radio to join \`${join.value}\` with`, {
    also: [{ span: rack.topology.name.span, text: "declared without `radios`" }],
    about: [rack.name],
  });
}

/** The SSID that a client is on: the first of its list that somebody offers. */
export function ssidJoined(
  joins: readonly Setting<string>[],
  offered: ReadonlySet<string>,
): Setting<string> | undefined {
  return joins.find(({ value }) => offered.has(value));
}
