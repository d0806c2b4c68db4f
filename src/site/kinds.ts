/**
 * What may be said of which kind of device: a key that can have no meaning on it is an error.
 */
import type { Span } from "../diagnose/index.ts";
import type { DeviceKind, IntentDevice } from "../document/index.ts";
import type { Findings } from "./findings.ts";
import type { Rack } from "./rack.ts";

type Key = Exclude<keyof IntentDevice, "name" | "span" | "note">;

/** Keys that no intent but these kinds' may hold; keys not listed fit every kind that has a stack. */
const ONLY: Partial<Record<Key, readonly DeviceKind[]>> = {
  legs: ["host"],
  joins: ["host"],
  interfaces: ["router", "switch", "access-point"],
  ssids: ["router", "access-point"],
  switching: ["router", "switch", "access-point", "host"],
  handsOut: ["upstream"],
  trusted: ["host"],
};

/** All that an upstream can be told; an unmanaged switch can be told nothing. */
const OF_UPSTREAM: readonly Key[] = ["handsOut", "profile", "saves", "mtu"];

/** How each key is written. */
const WRITTEN: Record<Key, string> = {
  profile: "profile",
  mac: "mac",
  mtu: "mtu",
  bonds: "bonds",
  switching: "switching",
  ssids: "ssids",
  interfaces: "interfaces",
  legs: "legs",
  joins: "joins",
  routes: "routes",
  forwarding: "forwarding",
  reversePath: "reverse-path",
  hostModel: "host-model",
  admin: "admin",
  serves: "serves",
  trusted: "trusted",
  dhcp: "dhcp",
  relay: "relay",
  advertise: "advertise",
  resolver: "resolver",
  names: "names",
  filter: "filter",
  translate: "translate",
  tunnels: "tunnels",
  handsOut: "hands-out",
  rescue: "rescue",
  saves: "saves",
};

const KEYS = Object.keys(WRITTEN) as Key[]; // a `Record<Key, …>` has exactly these keys

/** Reports every key that has no meaning on the device. */
export function checkKind({ name, topology, intent }: Rack, findings: Findings): void {
  if (intent === undefined) return;
  const kind = topology.is.value;
  for (const key of KEYS) {
    const span = spanOf(intent, key);
    if (span === undefined || fits(key, kind)) continue;
    findings.report("wrong-kind", span, `\`${WRITTEN[key]}\` has no meaning on ${article(kind)}`, {
      also: [{ span: topology.is.span, text: `\`${name}\` is ${article(kind)}` }],
      help: helpFor(key, kind),
    });
  }
}

/** Whether a key has a meaning on a kind of device. */
export function fits(key: Key, kind: DeviceKind): boolean {
  if (kind === "unmanaged-switch") return false;
  if (kind === "upstream") return OF_UPSTREAM.includes(key);
  return ONLY[key]?.includes(kind) ?? true;
}

function spanOf(intent: IntentDevice, key: Key): Span | undefined {
  return intent[key]?.span;
}

function article(kind: DeviceKind): string {
  return kind === "access-point" || kind === "unmanaged-switch" || kind === "upstream" ? `an ${kind}` : `a ${kind}`;
}

/** What a cable between managed devices carries is theirs anyhow. */
function whyNobodyIsTrusted(kind: DeviceKind): string {
  if (kind === "unmanaged-switch")
    return "anybody can plug in there: cable the host that is meant to a managed switch, and say it of the host";
  return "drop it: only the cable of a host is taken for one that anybody may plug in at";
}

function helpFor(key: Key, kind: DeviceKind): string | undefined {
  if (key === "interfaces" && kind === "host") return "a host has `legs`";
  if (key === "legs") return "every device but a host has `interfaces`";
  if (key === "trusted") return whyNobodyIsTrusted(kind);
  return undefined;
}
