/**
 * The key table of what devices serve besides leases, in an intent: advertisements, names, tunnels.
 */
import type { Advertise, DeviceName, NameRecord, Resolver, Tunnel, TunnelPeer } from "./intent-services.ts";
import { addressOrName, prefix6, reference, target } from "./leaf-addresses.ts";
import { duration, mtu, wholeNumber } from "./leaf-numbers.ts";
import { declaredPart, nameOf, PORT_NAME_SCHEMA, title, words, yesNo } from "./leaf-words.ts";
import type { Shape } from "./shape.ts";
import { addressesOrNone } from "./shape-addresses.ts";
import { entries, list } from "./shape-collection.ts";
import { named, optional, record, required } from "./shape-record.ts";
import type { Located } from "./values.ts";

const addressList = list(addressOrName, "an address, a name, or a list of these", 1);

/** Router advertisements of a device. */
export const advertise: Shape<Located<readonly Advertise[]>> = entries({
  says: "a mapping of interfaces to settings",
  key: declaredPart,
  keySchema: PORT_NAME_SCHEMA,
  value: record<Omit<Advertise, "name">>({
    id: "advertise",
    says: "a mapping such as `{ router-lifetime: 30m }`",
    rows: {
      routerLifetimeSeconds: optional("router-lifetime", duration, {
        says: "How long hosts may use it as default router; `0s`: not at all.",
        default:
          "1800s (RFC 4861 section 6.2.1); of a router that takes its prefix by an uplink, 0 while it has no default route itself (RFC 7084 G-4, G-5)",
        example: "0s",
      }),
      resolvers: optional(
        "resolvers",
        addressesOrNone("a list of addresses or names, or `none`", "hosts are told no resolver"),
        {
          says: "The resolvers that hosts are told (RFC 8106).",
          default: "`none`",
          example: "[edge/crew]",
        },
      ),
      prefixes: optional("prefixes", list(prefix6, "a list of IPv6 prefixes"), {
        says: "The prefixes that are advertised.",
        default: "those of the interface's network",
        example: '["fd71:2c9e:5a04:30::/64"]',
      }),
      autonomous: optional("autonomous", yesNo, {
        says: "Whether hosts make addresses of the prefixes (RFC 4862).",
        default: "`yes`",
        example: "no",
      }),
      onLink: optional("on-link", yesNo, {
        says: "Whether hosts reach addresses of the prefixes without a router.",
        default: "`yes`",
        example: "no",
      }),
      preference: optional("preference", words({ high: "before others", medium: "like others", low: "after others" }), {
        says: "Which of several routers hosts use (RFC 4191).",
        default: "`medium`",
        example: "high",
      }),
      mtu: optional("mtu", mtu(1280), {
        says: "The MTU that hosts are told, in bytes.",
        default: "not told",
        example: "1420",
      }),
    },
  }),
  build: named<Advertise>,
});

const records: Shape<Located<readonly NameRecord[]>> = entries({
  says: "a mapping of names to addresses: `{ archive.station.example: archive/a }`",
  key: title,
  value: addressList,
  build: (name, addresses, span): NameRecord => ({ name, addresses, span }),
});

/** Resolver of a device. */
export const resolver: Shape<Resolver> = record<Resolver>({
  id: "resolver",
  says: "a mapping with `listen` and `forward`",
  rows: {
    listen: optional("listen", list(nameOf("an interface"), "a list of interfaces", 1), {
      says: "The interfaces whose addresses it answers on; who may ask is the filter's affair.",
      default: "all",
      example: "[crew, visitors]",
    }),
    forward: optional("forward", addressList, {
      says: "The resolvers it asks for what it does not know, in their order. A name means both versions of IP, as for `resolvers` of an interface.",
      default: "none",
      example: "[198.51.100.53]",
    }),
    records: optional("records", records, {
      says: "Names that it answers itself.",
      default: "none",
      example: "{ archive.station.example: archive/a }",
    }),
  },
});

/** Names of a device. */
export const deviceNames: Shape<Located<readonly DeviceName[]>> = entries({
  says: "a mapping of names to legs: `{ archive.station.example: a }`",
  key: title,
  value: list(nameOf("a leg"), "a leg or a list of them", 1),
  build: (name, legs, span): DeviceName => ({ name, legs, span }),
});

const peers: Shape<Located<readonly TunnelPeer[]>> = entries({
  says: "a mapping of far ends to settings: `{ hill/link: { allowed: [10.80.0.0/16] } }`",
  key: reference,
  value: record<Omit<TunnelPeer, "to">>({
    id: "peer",
    says: "a mapping with `allowed`",
    rows: {
      allowed: required("allowed", list(target, "a list of prefixes or networks", 1), {
        says: "The addresses behind the peer: where outbound packets pick it, and all that its packets may come from.",
        example: "[10.80.0.0/16]",
      }),
      endpoint: optional("endpoint", addressOrName, {
        says: "The address that outer packets are sent to.",
        default: "learned when the peer starts",
        example: "203.0.113.9",
      }),
    },
  }),
  build: (to, value, span): TunnelPeer => ({ ...value, to, span }),
});

/** Tunnels of a device. */
export const tunnels: Shape<Located<readonly Tunnel[]>> = entries({
  says: "a mapping of names to tunnels",
  key: declaredPart,
  keySchema: PORT_NAME_SCHEMA,
  value: record<Omit<Tunnel, "name">>({
    id: "tunnel",
    says: "a mapping with `peers`",
    rows: {
      listen: optional("listen", wholeNumber("a UDP port", { low: 1, high: 65535 }), {
        says: "The UDP port that outer packets come to.",
        default: "any free one, so that this end must start",
        example: "4701",
      }),
      overheadBytes: optional("overhead", wholeNumber("a number of bytes", { low: 0, high: 500 }), {
        says: "How many bytes the outer packet is longer than the inner one.",
        default: "60 over IPv4, 80 over IPv6 (common practice)",
        example: "60",
      }),
      peers: required("peers", peers, {
        says: "The far ends, by device and tunnel.",
        example: "{ hill/link: { endpoint: 203.0.113.9, allowed: [10.80.0.0/16] } }",
      }),
    },
  }),
  build: named<Tunnel>,
});
