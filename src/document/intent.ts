/**
 * The intent kind: what the configuration should be. The document and what all devices share; a device's own
 * settings are in `intent-device.ts` and the files it names.
 */
import type { Prefix } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { IntentDevice } from "./intent-device.ts";
import type { Membership } from "./intent-switching.ts";
import type { List, Located, NameReference, Target } from "./values.ts";

/** A loaded `intent/1` document. */
export type IntentDocument = {
  /** Tells the kinds of documents apart. */
  readonly kind: "intent";
  /** The whole document. */
  readonly span: Span;
  /** Networks, in document order. */
  readonly networks: readonly NetworkEntry[];
  /** Named sets, in document order. */
  readonly sets: readonly SetEntry[];
  /** Port roles, in document order. */
  readonly portRoles: readonly PortRole[];
  /** What each device is told, in document order. */
  readonly devices: readonly IntentDevice[];
};

/** A network: a name for a VLAN and its prefixes. */
export type NetworkEntry = {
  /** Its name; devices, networks and sets share one namespace. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** Its VLAN number, 1-4094. Not written: it is never tagged and crosses no managed switch. */
  readonly vlan?: Located<number>;
  /** Its IPv4 prefixes; host numbers count in the first. */
  readonly ipv4?: List<Prefix>;
  /** Its IPv6 prefixes, or where they are delegated from; host numbers count in each. */
  readonly ipv6?: List<NetworkPrefix6>;
  /** Words for people. */
  readonly note?: Located<string>;
};

/** An IPv6 prefix, written, or cut from what an uplink was delegated. */
export type NetworkPrefix6 =
  | ({ /** The prefix was written. */ readonly by: "prefix" } & Prefix)
  | {
      /** Cut from a delegated prefix. */
      readonly by: "delegated";
      /** The interface that asks for the prefix, `edge/wan`. */
      readonly delegated: Located<NameReference>;
      /** Which /64 of the delegated prefix, counted from 0. */
      readonly subnet: Located<number>;
    };

/** What a set may count over. */
export type SetKind = "network" | "device" | "router" | "switch" | "access-point" | "host" | "upstream";

/** A named set of networks, devices, addresses and other sets. */
export type SetEntry = {
  /** Its name. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** Listed members; undefined when `every` was written. */
  readonly members?: List<Target>;
  /** Everything of one kind; undefined when members are listed. */
  readonly every?: Located<SetKind>;
  /** What is left out of `every`. */
  readonly except?: List<Target>;
};

/** A port membership with a name, used by `switching.ports`. */
export type PortRole = {
  /** Its name. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** What a port in this role does. */
  readonly membership: Membership;
};
