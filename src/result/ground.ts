/**
 * What a proof rests on, in words of the trade: each end of a packet that did not get there is owed to a rule, a route, the
 * networks that a port carries, and so on.
 */
import type { DropReason, Fate } from "../network/index.ts";

/**
 * What decided: a `rule` of a filter or the end of its list, a `route` or that there is none, a `tag` (which networks a port
 * carries), a `translation`, a `tunnel`, a `link` (cable, bond, tree, loop), an `address` that is refused, or a `host` that is
 * not meant, does not answer or sends nothing on. `assumed`: nothing decided it, somebody said so.
 */
export type Ground = "rule" | "route" | "tag" | "translation" | "tunnel" | "link" | "address" | "host" | "assumed";

const GROUNDS: { readonly [reason in DropReason]: Ground } = {
  "link-down": "link",
  "nobody-connected": "link",
  "no-taker": "tag",
  "reserved-group": "address",
  "tree-blocked": "link",
  "kind-not-admitted": "tag",
  "no-port-vlan": "tag",
  "not-member": "tag",
  "lease-guarded": "tag",
  isolated: "tag",
  "same-port": "link",
  "frame-too-big": "link",
  "member-idle": "link",
  "not-for-this-station": "host",
  storm: "link",
  martian: "address",
  "own-source": "address",
  "wrong-leg": "host",
  "reverse-path": "address",
  filter: "rule",
  "unknown-action": "rule",
  "no-address-to-translate-to": "translation",
  "no-free-port": "translation",
  "no-route": "route",
  unreachable: "route",
  prohibited: "route",
  blackhole: "route",
  "no-transit": "host",
  "hop-limit": "route",
  "too-big": "link",
  "no-neighbour": "host",
  "tunnel-down": "tunnel",
  "upstream-down": "link",
  "foreign-source": "tunnel",
  "not-public": "address",
  "not-forwardable": "address",
  "interface-down": "link",
  "no-source-address": "address",
  "no-listener": "host",
  stray: "rule",
};

/** What an end is owed to. */
export function groundOf(fate: Fate): Ground {
  if (fate.end === "looped") return "route";
  if (fate.end === "unknown") return "rule";
  return "reason" in fate ? GROUNDS[fate.reason] : "host";
}
