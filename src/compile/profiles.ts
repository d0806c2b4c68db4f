/**
 * The two profiles: `linux` does what the kernel was seen to do, `rfc` what the standards ask. This table lists every
 * difference between them, each with its source; what is not in it, both do alike.
 */
import { type Ranges, ranges } from "../address/index.ts";
import type { Mapping, Tracking } from "../network/index.ts";

/** A setting of a profile, and who says so. */
export type Sourced<T> = {
  /** What it does. */
  readonly value: T;
  /** RFC and section, kernel fact, or "common practice". */
  readonly source: string;
};

/** IPv4 addresses that a packet must not bear, as numbers. */
export type Martians = {
  /** As a source; 0.0.0.0 may still speak to everybody, as who asks for a lease does. */
  readonly sources: Ranges;
  /** As a destination. */
  readonly destinations: Ranges;
};

/** Everything in which the profiles differ. */
export type Profile = {
  /** Whether a bridge port drops at entry what it is no member of. */
  readonly ingressFilter: Sourced<boolean>;
  /** Whether LACP comes up when both ends are passive. */
  readonly passiveMayPair: Sourced<boolean>;
  /** IPv4 addresses that end a packet wherever it arrives. */
  readonly martians: Sourced<Martians>;
  /** When martians are looked at: first of all, or with the routes, after destination translation. */
  readonly martiansFirst: Sourced<boolean>;
  /** When sources are held against the routes back: before the route is looked up, or once it is known and leads on. */
  readonly sourcesChecked: Sourced<Readonly<Record<4 | 6, "before-route" | "after-route">>>;
  /** Whether the broadcast address of an own network ends a packet as its source, without a check against the routes too. */
  readonly discardsBroadcastSources: Sourced<boolean>;
  /** Whether packets to the all-zeros host of an own prefix are discarded. */
  readonly discardsAllZeros: Sourced<boolean>;
  /** IPv4 addresses that no router forwards from or to, as numbers; IPv6 link-local ones are handed back to their own link alone. */
  readonly unforwardable: Sourced<Ranges>;
  /** Whether a route is passed over while its interface has no carrier. */
  readonly routesNeedCarrier: Sourced<boolean>;
  /** Whether who forwards IPv6 hears what is sent to all routers of the site, `ff05::2`. */
  readonly hearsSiteRouters: Sourced<boolean>;
  /** What a TCP packet amid an unknown connection is. */
  readonly midStream: Sourced<"new" | "invalid">;
  /** Idle lifetimes of connections. */
  readonly tracking: Sourced<Tracking>;
  /** How source translation maps endpoints; `undefined`: each connection alone. */
  readonly mapping: Sourced<Mapping | undefined>;
  /** Whether a source port that lies in the ports to choose from is kept if free; else the lowest free one is taken. */
  readonly keepsPort: Sourced<boolean>;
};

type Pair = readonly [bigint, bigint];

const UNSPECIFIED: Pair = [0n, 0n]; // 0.0.0.0
const NETWORK_0: Pair = [0n, 0x00ffffffn]; // 0.0.0.0/8
const LOOPBACK: Pair = [0x7f000000n, 0x7fffffffn]; // 127.0.0.0/8
const LINK_LOCAL: Pair = [0xa9fe0000n, 0xa9feffffn]; // 169.254.0.0/16
const MULTICAST: Pair = [0xe0000000n, 0xefffffffn]; // 224.0.0.0/4
const CLASS_E: Pair = [0xf0000000n, 0xfffffffen]; // 240.0.0.0/4 without the broadcast address
const BROADCAST: Pair = [0xffffffffn, 0xffffffffn]; // 255.255.255.255

const LINUX: Profile = {
  ingressFilter: { value: true, source: "kernel fact 34" },
  passiveMayPair: { value: true, source: "kernel fact 42" },
  martians: {
    value: {
      sources: ranges(UNSPECIFIED, LOOPBACK, MULTICAST, BROADCAST),
      destinations: ranges(UNSPECIFIED, LOOPBACK),
    },
    source: "linux, kernel fact 9",
  },
  martiansFirst: { value: false, source: "linux, kernel fact 1" },
  // The kernel has no such check of its own for IPv6: rules of prerouting do it, so they come first.
  sourcesChecked: {
    value: { 4: "after-route", 6: "before-route" },
    source: "linux, seen on 6.18: a refusing route wins",
  },
  discardsBroadcastSources: { value: false, source: "linux, seen on 6.18: the check of the way back does it" },
  discardsAllZeros: { value: false, source: "kernel fact 9" },
  unforwardable: { value: ranges(), source: "kernel fact 9" },
  routesNeedCarrier: { value: false, source: "linux default (ignore_routes_with_linkdown 0), seen on 6.18" },
  hearsSiteRouters: {
    value: false,
    source: "linux, seen on 6.18: only where an interface was there when it was told to forward",
  },
  midStream: { value: "new", source: "linux default" },
  tracking: {
    value: {
      tcpEstablishedSeconds: 432000,
      tcpTransitorySeconds: 120,
      tcpPhaseSeconds: { "syn-received": 60, "close-wait": 60, "last-ack": 30, closed: 10 },
      udpSeconds: 30,
      udpAnsweredSeconds: 120,
      icmpSeconds: 30,
      otherSeconds: 600,
    },
    source: "kernel fact 25",
  },
  mapping: { value: undefined, source: "kernel fact 20" },
  keepsPort: { value: true, source: "kernel fact 21" },
};

const RFC: Profile = {
  ingressFilter: { value: false, source: "RFC 4363 dot1qPortIngressFiltering" },
  passiveMayPair: { value: false, source: "IEEE 802.1AX, LACP activity" },
  martians: {
    value: {
      sources: ranges(NETWORK_0, LOOPBACK, MULTICAST, CLASS_E, BROADCAST),
      destinations: ranges(NETWORK_0, LOOPBACK, CLASS_E),
    },
    source: "RFC 1812 section 5.3.7",
  },
  martiansFirst: { value: true, source: "RFC 1812 section 5.2.1" },
  sourcesChecked: {
    value: { 4: "before-route", 6: "before-route" },
    source: "RFC 1812 section 5.3.8, RFC 3704 section 2.2",
  },
  discardsBroadcastSources: { value: true, source: "RFC 1812 section 5.3.7" },
  discardsAllZeros: { value: true, source: "RFC 1812 section 4.2.3.1" },
  unforwardable: { value: ranges(LINK_LOCAL), source: "RFC 6890 table 5" },
  routesNeedCarrier: { value: true, source: "common practice" },
  hearsSiteRouters: { value: true, source: "RFC 4291 section 2.8" },
  midStream: { value: "invalid", source: "RFC 8520 section 4.8: a connection begins with its SYN" },
  tracking: {
    value: {
      tcpEstablishedSeconds: 7440, // 2 h 4 min
      tcpTransitorySeconds: 240,
      udpSeconds: 300,
      udpAnsweredSeconds: 300,
      icmpSeconds: 60,
      otherSeconds: 300,
    },
    source: "RFC 5382 REQ-5, RFC 4787 REQ-5, RFC 5508 REQ-2, RFC 6092 REC-12",
  },
  mapping: {
    value: { scope: "endpoint", filtering: "endpoint-independent", hairpin: true },
    source: "RFC 4787 REQ-1, REQ-8 and REQ-9",
  },
  keepsPort: { value: false, source: "RFC 3022 section 2.2" },
};

/** The profiles, by name. */
export const PROFILES: Readonly<Record<"linux" | "rfc", Profile>> = { linux: LINUX, rfc: RFC };
