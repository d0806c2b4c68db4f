/**
 * The key table of one device in an intent.
 */
import type { IntentDevice } from "./intent-device.ts";
import { hardware } from "./leaf-addresses.ts";
import { mtu } from "./leaf-numbers.ts";
import { freeText, nameOf, onOff, words } from "./leaf-words.ts";
import type { Shape } from "./shape.ts";
import { list } from "./shape-collection.ts";
import { optional, record } from "./shape-record.ts";
import { filter, translate } from "./table-filter.ts";
import { admin, interfaces, legs, rescue, routes, serves, trusted } from "./table-interfaces.ts";
import { dhcp, handsOut, relay } from "./table-leases.ts";
import { advertise, deviceNames, resolver, tunnels } from "./table-services.ts";
import { bonds, ssids, switching } from "./table-switching.ts";

/** What one device is told. */
export const device: Shape<Omit<IntentDevice, "name">> = record<Omit<IntentDevice, "name">>({
  id: "device",
  says: "a mapping with what the device is told",
  rows: {
    profile: optional("profile", words({ linux: "what the Linux kernel does", rfc: "what the standards ask for" }), {
      says: "Whose behaviour the device has where the two differ.",
      default: "`linux`",
      example: "rfc",
    }),
    mac: optional("mac", hardware, {
      says: "The hardware address of its switching.",
      default: "the lowest of its ports",
      example: "02:00:5e:00:53:30",
    }),
    mtu: optional("mtu", mtu(68), {
      says: "The largest payload of a frame on its ports, in bytes.",
      default: "1500 (RFC 894)",
      example: "9000",
    }),
    bonds: optional("bonds", bonds, {
      says: "Ports that act as one, by name; the bond is then a port like any other.",
      default: "none",
      example: "{ pair: { members: [lan1, lan2], mode: lacp } }",
    }),
    switching: optional("switching", switching, {
      says: "The switching part: which ports carry which networks.",
      default: "as unboxed on a switch: every port up, VLAN 1, untagged; on a router no port is switched",
      example: "{ ports: { p1..8: { untagged: crew } } }",
    }),
    ssids: optional("ssids", ssids, {
      says: "The radio networks that an access point offers.",
      default: "none",
      example: "{ Guest: { radio: band5, network: visitors } }",
    }),
    interfaces: optional("interfaces", interfaces, {
      says: "Where the device has addresses, by name; rules and services refer to these names.",
      default: "none",
      example: "{ crew: { network: crew, host: 1 } }",
    }),
    legs: optional("legs", legs, {
      says: "Where a host has addresses, by the port or radio.",
      default: "none",
      example: "{ nic: lease }",
    }),
    joins: optional("joins", list(nameOf("an SSID"), "an SSID or a list of them", 1), {
      says: "The SSIDs that a host joins by radio, at any access point that offers them.",
      default: "none",
      example: "Guest",
    }),
    routes: optional("routes", routes, {
      says: "Routes beside those to its own networks.",
      default: "none",
      example: "[{ to: default, via: 10.71.10.1 }]",
    }),
    forwarding: optional("forwarding", onOff, {
      says: "Whether it forwards packets that are not for itself.",
      default: "`on` for `is: router`, else `off`",
      example: "on",
    }),
    reversePath: optional(
      "reverse-path",
      words({
        none: "no check",
        loose: "a packet is dropped when no route leads back to its source",
        strict: "a packet is dropped when the route back to its source leaves by another interface",
      }),
      {
        says: "Whether a packet's source is checked against the routes (RFC 3704).",
        default: "`none`",
        example: "strict",
      },
    ),
    hostModel: optional("host-model", words({ weak: "on any leg", strong: "only on the leg that has the address" }), {
      says: "Where it answers for an address of its own (RFC 1122 section 3.3.4.2, issue A). What it sends goes by its routes all the same, whichever leg has the source (issue B is not modelled).",
      default: "`weak`",
      example: "strong",
    }),
    admin: optional("admin", admin, {
      says: "How it is administered: what listens, and where. A replaced device is told by it whether its administration was carried over.",
      default: "it cannot be administered over the network",
      example: "{ services: [tcp/22], listen: [management] }",
    }),
    serves: optional("serves", serves, {
      says: "The services that it offers, each with the legs it listens on.",
      default: "a host is taken to listen on everything, which is printed as an assumption",
      example: "{ tcp/445: [a], tcp/443: all }",
    }),
    trusted: optional("trusted", trusted, {
      says: "The ports of a host by whose cables nobody but the host sends, and by which it sends only as itself: nobody else is plugged in at the other end, and the host is not taken over. What is proved `blocked` from a network then does not count who might plug in there, and says so as an assumption. Where `from` names the host it is the host itself that is asked about: there it may be taken over, and make up any source and tag, as every sender of what must be `blocked`.",
      default: "none: whatever frames one likes can come by the cable of a host",
      example: "[a]",
    }),
    dhcp: optional("dhcp", dhcp, {
      says: "DHCPv4 servers, by the interface they sit on, or by a network that relays bring.",
      default: "none",
      example: "{ crew: { hosts: 100-199, lease: 12h } }",
    }),
    relay: optional("relay", relay, {
      says: "DHCPv4 relays, by the interface that clients are on.",
      default: "none",
      example: "{ crew: { to: edge/management } }",
    }),
    advertise: optional("advertise", advertise, {
      says: "IPv6 router advertisements, by interface.",
      default: "none",
      example: "{ crew: { resolvers: [edge/crew] } }",
    }),
    resolver: optional("resolver", resolver, {
      says: "A resolver on the device.",
      default: "none",
      example: "{ listen: [crew], forward: [198.51.100.53] }",
    }),
    names: optional("names", deviceNames, {
      says: "Names of the device, each with the legs whose addresses every resolver of the site gives for it.",
      default: "none",
      example: "{ archive.station.example: a }",
    }),
    filter: optional("filter", filter, {
      says: "Which packets may go to, through and from the device.",
      default: "accepts all",
      example: "{ through: { otherwise: drop } }",
    }),
    translate: optional("translate", translate, {
      says: "Address translation.",
      default: "none",
      example: "{ source: [{ name: behind one address, out: wan, to: external-address }] }",
    }),
    tunnels: optional("tunnels", tunnels, {
      says: "Tunnels to other sites, by name; an interface stands on one with `port`.",
      default: "none",
      example: "{ link: { peers: { hill/link: { allowed: [10.80.0.0/16] } } } }",
    }),
    handsOut: optional("hands-out", handsOut, {
      says: "What an upstream gives its customers, by port.",
      default: "nothing",
      example: "{ drop: { ipv4: 203.0.113.0/24, router: 203.0.113.1, hosts: 100-110 } }",
    }),
    rescue: optional("rescue", rescue, {
      says: "An access that must work when all else fails. It is written down and nothing is proved of it by itself: an assertion from the network at that port to these devices asks for that.",
      default: "none",
      example: "{ at: lan7, address: lease, reaches: [edge] }",
    }),
    saves: optional(
      "saves",
      words({
        "at-once": "every change, as it is made",
        "when-told": "changes only once it is told to save; a restart loses the others",
        nothing: "nothing: a restart brings back the intent as written before the change",
      }),
      { says: "What of a change survives a restart.", default: "`at-once`", example: "when-told" },
    ),
    note: optional("note", freeText, {
      says: "Words for people; nothing depends on them.",
      example: "to be replaced in spring",
    }),
  },
});
