/**
 * The differences of the profiles in words, one row each: what `PROFILES` holds as values, and what servers of leases do. A
 * test shows each row by a site whose answers differ, and asks a real kernel what its column says.
 */
import { PROFILES, type Profile, type Sourced } from "./profiles.ts";

/** What one profile does, and who says so. */
export type ProfileSide = {
  /** A sentence without its end. */
  readonly does: string;
  /** RFC and section, kernel fact, or "common practice". */
  readonly source: string;
};

/** One difference. */
export type ProfileRow = {
  /** A setting of a profile, or a name of its own. */
  readonly id: keyof Profile | "refusesOthers" | "adoptsUnknown";
  /** What it is about, as a phrase. */
  readonly about: string;
  /** What the Linux kernel, and dnsmasq on it, do. */
  readonly linux: ProfileSide;
  /** What the standards ask for. */
  readonly rfc: ProfileSide;
};

type Words = readonly [about: string, linux: string, rfc: string];

const WORDS: Readonly<Record<keyof Profile, Words>> = {
  ingressFilter: [
    "a tag that the port of a switch does not carry",
    "is refused at the port",
    "is taken in, unless `filter-ingress` says otherwise",
  ],
  passiveMayPair: ["LACP that is passive on both ends", "comes up all the same", "never comes up"],
  martians: [
    "addresses of 0.0.0.0/8 and 240.0.0.0/4",
    "are addresses like others, but 0.0.0.0 and 255.255.255.255",
    "end a packet",
  ],
  martiansFirst: [
    "a packet to an address that ends it, such as 127.0.0.1",
    "is saved by a forward that translates its destination",
    "ends before any translation",
  ],
  sourcesChecked: [
    "a packet whose source fails the check of the way back, to where a route refuses",
    "is refused by the route, aloud (IPv6: it is dropped)",
    "is dropped",
  ],
  discardsBroadcastSources: [
    "a packet from the broadcast address of an own network",
    "is forwarded where no check of the way back drops it",
    "is dropped",
  ],
  discardsAllZeros: ["the all-zeros address of an own network", "is a host like others", "ends a packet"],
  unforwardable: ["169.254.0.0/16", "is forwarded like other addresses", "is never forwarded"],
  routesNeedCarrier: [
    "a route by an interface without a carrier",
    "is taken, and nobody answers",
    "is passed over for the next best",
  ],
  hearsSiteRouters: [
    "a packet to all routers of the site, `ff05::2`",
    "is for nobody",
    "is for a device that forwards",
  ],
  midStream: [
    "a TCP packet amid a connection that is not known",
    "is `new`, unless `mid-stream` says otherwise",
    "is `invalid`, unless `mid-stream` says otherwise",
  ],
  tracking: ["a connection is forgotten when idle for", secondsOf("linux"), secondsOf("rfc")],
  mapping: [
    "what comes to a port that source translation has given away",
    "gets in from the asked address and port alone, unless `mapping` and `filtering` say otherwise",
    "gets in from everybody, unless `mapping` and `filtering` say otherwise",
  ],
  keepsPort: [
    "a source port that lies among those to choose from",
    "is kept while it is free",
    "gives way to the lowest that is free",
  ],
};

function secondsOf(profile: keyof typeof PROFILES): string {
  const { tracking } = PROFILES[profile];
  const { tcpEstablishedSeconds, tcpTransitorySeconds, tcpPhaseSeconds = {} } = tracking.value;
  const { udpSeconds, udpAnsweredSeconds, icmpSeconds, otherSeconds } = tracking.value;
  const apart = Object.entries(tcpPhaseSeconds).map(([phase, seconds]) => `, ${seconds} s in ${phase}`);
  return [
    `${tcpEstablishedSeconds} s (TCP)`,
    `${tcpTransitorySeconds} s (TCP that begins or ends${apart.join("")})`,
    `${udpSeconds} s (UDP)`,
    `${udpAnsweredSeconds} s (UDP that was answered and went on)`,
    `${icmpSeconds} s (ICMP)`,
    `${otherSeconds} s (the rest)`,
  ].join(", ");
}

const OF_LEASES: readonly ProfileRow[] = [
  {
    id: "refusesOthers",
    about: "a request for the lease of another server, to one that is authoritative",
    linux: { does: "is refused", source: "kernel fact 27" },
    rfc: { does: "is passed over in silence", source: "RFC 2131 section 4.3.2" },
  },
  {
    id: "adoptsUnknown",
    about: "a client that asks an authoritative server for a lease that is not on its list",
    linux: { does: "gets it if the address is free", source: "kernel fact 28" },
    rfc: { does: "hears nothing", source: "RFC 2131 section 4.3.2" },
  },
];

/** Every difference, in the order of the settings. */
export const PROFILE_TABLE: readonly ProfileRow[] = [
  ...settings().map((id): ProfileRow => {
    const [about, linux, rfc] = WORDS[id];
    return { id, about, linux: sideOf(linux, PROFILES.linux[id]), rfc: sideOf(rfc, PROFILES.rfc[id]) };
  }),
  ...OF_LEASES,
];

function settings(): readonly (keyof Profile)[] {
  // The record has no other keys: it is written above.
  return Object.keys(WORDS) as (keyof Profile)[];
}

function sideOf(does: string, { source }: Sourced<unknown>): ProfileSide {
  return { does, source };
}

/** The table as plain text, a few lines a row. */
export function profileText(): string {
  const rows = PROFILE_TABLE.map(
    ({ about, linux, rfc }) =>
      `  ${about}\n    linux: ${linux.does} (${linux.source})\n    rfc:   ${rfc.does} (${rfc.source})`,
  );
  return ["in what the profiles differ:", ...rows].join("\n\n");
}
