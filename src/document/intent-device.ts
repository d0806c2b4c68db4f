/**
 * Intent of one device: its stack, interfaces or legs, routes, administration, and the parts kept in the files
 * on switching, filters and services.
 */
import type { Address, Hardware, Prefix, Service } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";
import type { Filter, Translate } from "./intent-filter.ts";
import type { Advertise, DeviceName, DhcpRelay, DhcpServer, HandsOut, Resolver, Tunnel } from "./intent-services.ts";
import type { Bond, HardwareChoice, Ssid, Switching } from "./intent-switching.ts";
import type { AddressesOrNone, AddressOrName, List, Located, NetworkOrVlans, PortNames } from "./values.ts";

/** What one device is told. Every part that is not written is undefined. */
export type IntentDevice = {
  /** The device, declared in a topology. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** Whose behaviour its stack has. Default `linux`. */
  readonly profile?: Located<"linux" | "rfc">;
  /** Hardware address of its bridge. Default: the lowest of its members. */
  readonly mac?: Located<Hardware>;
  /** Largest payload of a frame on every port, in bytes. Default 1500. */
  readonly mtu?: Located<number>;
  /** Bonds. */
  readonly bonds?: Located<readonly Bond[]>;
  /** Switching. */
  readonly switching?: Switching;
  /** Radio networks. */
  readonly ssids?: Located<readonly Ssid[]>;
  /** Interfaces of its stack. */
  readonly interfaces?: Located<readonly InterfaceEntry[]>;
  /** A host's interfaces; one says `legs` for a host and `interfaces` for everything else. */
  readonly legs?: Located<readonly InterfaceEntry[]>;
  /** Hosts with a radio: the SSIDs it joins, first one in reach. */
  readonly joins?: List<string>;
  /** Routes beside the connected ones. */
  readonly routes?: Located<readonly RouteEntry[]>;
  /** Whether it forwards. Default: on for routers, off for the rest. */
  readonly forwarding?: Located<boolean>;
  /** Check of a packet's source against the routes. Default `none`. */
  readonly reversePath?: Located<"none" | "loose" | "strict">;
  /** Whether it answers for an own address on every leg (`weak`) or only on that one (`strong`). Default `weak`. */
  readonly hostModel?: Located<"weak" | "strong">;
  /** Its administration. */
  readonly admin?: Admin;
  /** What it serves besides. Not written: taken to listen on everything (an assumption that is printed). */
  readonly serves?: Located<readonly Serves[]>;
  /** Hosts only: the ports, or bonds, by whose cables nobody else sends. Default: none. */
  readonly trusted?: Located<Trusted>;
  /** DHCPv4 servers, one an interface. */
  readonly dhcp?: Located<readonly DhcpServer[]>;
  /** DHCPv4 relays, one an interface. */
  readonly relay?: Located<readonly DhcpRelay[]>;
  /** Router advertisements, one an interface. */
  readonly advertise?: Located<readonly Advertise[]>;
  /** Resolver. */
  readonly resolver?: Resolver;
  /** Names that the site's resolvers give for this device. */
  readonly names?: Located<readonly DeviceName[]>;
  /** Filter lists. */
  readonly filter?: Filter;
  /** Address translation. */
  readonly translate?: Translate;
  /** Tunnels. */
  readonly tunnels?: Located<readonly Tunnel[]>;
  /** Upstreams only: what each port hands out. */
  readonly handsOut?: Located<readonly HandsOut[]>;
  /** Accesses that are claimed to work when all else fails. */
  readonly rescue?: Located<readonly Rescue[]>;
  /** What survives a restart. Default `at-once`. */
  readonly saves?: Located<"at-once" | "when-told" | "nothing">;
  /** Words for people. */
  readonly note?: Located<string>;
};

/** An interface of a device, or a leg of a host. */
export type InterfaceEntry = {
  /** Its name. For a leg also the port or radio, unless `port` says otherwise. */
  readonly name: Located<string>;
  /** Its whole entry. */
  readonly span: Span;
  /** Set when the entry is the one word `lease`: IPv4 by lease, IPv6 as advertised. */
  readonly short?: Located<"lease">;
  /** Port, bond or tunnel it stands on. Not written: the device's bridge, in the VLAN of `network` (legs: the port named like the leg). */
  readonly port?: Located<string>;
  /** VLAN tag on that port. Default: untagged. */
  readonly tag?: Located<NetworkOrVlans>;
  /** The network it is in. */
  readonly network?: Located<string>;
  /** Host number in that network's prefixes. */
  readonly host?: Located<number>;
  /** IPv4 addresses beside that of `host`. */
  readonly ipv4?: List<AddressSource>;
  /** IPv6 addresses beside that of `host`. */
  readonly ipv6?: List<AddressSource>;
  /** Default router, at most one a family. Default: from the lease or advertisement, else none. */
  readonly gateway?: Located<AddressesOrNone>;
  /** Resolvers it asks. Default: from the lease or advertisement. */
  readonly resolvers?: Located<AddressesOrNone>;
  /** MTU in bytes. Default: that of what it stands on. */
  readonly mtu?: Located<number>;
  /** Hardware address. Default: that of what it stands on. */
  readonly mac?: Located<HardwareChoice>;
  /** A PPPoE session over the port; the addresses are the session's. */
  readonly pppoe?: Pppoe;
};

/** Where an address of an interface comes from. */
export type AddressSource =
  | {
      /** From a lease, from advertisements, or from a prefix that is asked for and delegated. */
      readonly by: "lease" | "advertised" | "delegated";
    }
  | ({
      /** Written. */
      readonly by: "address";
      /** Prefix length in bits, when written. Default: that of the network's prefix. */
      readonly length?: number;
    } & Address);

/** A PPPoE session (RFC 2516). */
export type Pppoe = {
  /** The word `yes`, or the whole mapping. */
  readonly span: Span;
  /** MTU of the session in bytes. Default 1492 (RFC 2516 section 7). */
  readonly mtu?: Located<number>;
  /** Whether TCP's segment size is lowered on the way. Default no. */
  readonly clampMss?: Located<boolean>;
};

/** A route. */
export type RouteEntry = {
  /** The whole entry. */
  readonly span: Span;
  /** Where to: a prefix, a network, or every address of the next hop's family. */
  readonly to: Located<
    | ({ /** A prefix. */ readonly by: "prefix" } & Prefix)
    | { /** A network. */ readonly by: "name" /** Its name. */; readonly name: string }
    | { /** The word `default`. */ readonly by: "default" }
  >;
  /** Next hops; several are equal paths. */
  readonly via?: List<AddressOrName>;
  /** Interface it leaves by. */
  readonly out?: Located<string>;
  /** Lower wins among equal prefixes. Default 0. */
  readonly metric?: Located<number>;
  /** What becomes of packets that are not sent on. */
  readonly action?: Located<"blackhole" | "unreachable" | "prohibit">;
  /** Words for people. */
  readonly note?: Located<string>;
};

/** How a device is administered. */
export type Admin = {
  /** The whole mapping. */
  readonly span: Span;
  /** The services it is administered by. */
  readonly services: List<Service>;
  /** Interfaces it listens on. Default: all. */
  readonly listen?: List<string>;
};

/** A service and the legs it listens on. */
export type Serves = {
  /** The service. */
  readonly service: Located<Service>;
  /** The whole entry. */
  readonly span: Span;
  /** The legs or interfaces, or all of them. */
  readonly on: Located<
    | { /** The word `all`. */ readonly by: "all" }
    | { /** Named. */ readonly by: "list" /** In order. */; readonly items: readonly Located<string>[] }
  >;
};

/** The ports of a host that it alone sends by. */
export type Trusted =
  | {
      /** The word `all`: every port that takes a cable. */
      readonly by: "all";
    }
  | {
      /** Ports and bonds. */
      readonly by: "list";
      /** In the order written. */
      readonly items: readonly Located<PortNames>[];
    };

/** An access that is claimed to work when all else fails. */
export type Rescue = {
  /** The whole mapping. */
  readonly span: Span;
  /** The port one plugs into. */
  readonly at: Located<string>;
  /** The address one takes there: by lease, or this one. */
  readonly address: Located<AddressSource>;
  /** The devices whose administration is reached from there. */
  readonly reaches: List<string>;
};
