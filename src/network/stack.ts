/**
 * The network layer as data: interfaces, and the steps that a packet takes through a device's stack. The order of
 * hooks is data, written by `compile/` from the device's profile; engines know only what one step does.
 *
 * Four sequences. `received`: from an interface to `route`, which sends a packet on to `local` or `onward`.
 * `local`: to this device, ends in `deliver`. `onward`: through it, ends in `transmit`. `sent`: begun here (answers,
 * errors, resets and refusals too), ends in `transmit`; a packet of its own to one of its own addresses turns round
 * at `transmit` into `received`.
 */
import type { Ranges } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Entry, Id, Part } from "./entry.ts";
import type { Alternatives } from "./match.ts";

/** An address of an interface. */
export type InterfaceAddress = Entry & {
  /** 4 or 6. */
  readonly family: 4 | 6;
  /** The address as a number of its family's width. */
  readonly value: bigint;
  /** Length of the on-link prefix; 32 or 128 for none. */
  readonly prefixLength: number;
  /** Any other source is preferred to it (RFC 4862 section 5.5.4). Default: it is preferred. */
  readonly deprecated?: true;
};

/** A leg of a stack in one segment. */
export type Interface = Entry & {
  /** The attachment: a port, a bond, or a bridge's own port. */
  readonly on: Id;
  /** Takes and sends frames with this tag; absent: untagged ones. */
  readonly vlan?: number;
  /** Id of the network it was declared in, for naming and for groups; absent: none. */
  readonly network?: Id;
  /**
   * Its packets travel in a PPPoE session (RFC 2516): it sends session frames to its peers and takes nothing else; peers are
   * known, not asked for. Absent: bare frames.
   */
  readonly session?: Session;
  /**
   * Its packets travel to one peer, which is known, not asked for: inside others, or over the internet between two upstreams.
   * Absent: it has neighbours.
   */
  readonly tunnel?: TunnelEnd;
  /** Its hardware address. */
  readonly hardware: bigint;
  /** Largest IP packet in bytes. */
  readonly mtu: number;
  /** Speaks IPv6: has a link-local address, answers neighbour solicitations. */
  readonly speaks6: boolean;
  /** Keys of the multicast groups that it hears besides those of its own addresses. */
  readonly hears: Ranges;
  /** Where further addresses come from. */
  readonly awaits: readonly Awaits[];
  /** Addresses stated; link-local ones included. */
  readonly addresses: readonly InterfaceAddress[];
  /** Keys of the addresses of resolvers that are written for it, in the place of those that it is told there. Absent: it asks those that it is told. */
  readonly resolvers?: readonly { readonly address: bigint; readonly origin: Origin }[];
  /** Prefix that a provider delegated to it: one for documentation stands for it, which is an assumption. Absent: none. */
  readonly delegated?: DelegatedPrefix;
};

/** An end of a tunnel, or of the internet between two upstreams, to one peer. What comes in from the peer is checked by a step `require`. */
export type TunnelEnd = {
  /** Keys of the destinations that go to the peer; other packets find nobody here. */
  readonly allowed: Ranges;
  /** While the tunnel is down: sent into the void, or, where nobody knows where the peer is, turned away. */
  readonly whenDown: "silent" | "refused";
  /** How that is told. */
  readonly reason: "tunnel-down" | "upstream-down";
  /** The line that names the peer. */
  readonly origin: Origin;
};

/** An end of PPPoE sessions. A client has one session; a server one with each client that it hears. */
export type Session = {
  /** Who calls, and who is called. */
  readonly role: "client" | "server";
  /** The line that says so. */
  readonly origin: Origin;
};

/** A stand-in for a prefix that only a provider knows. */
export type DelegatedPrefix = {
  /** Its first address as a number. */
  readonly value: bigint;
  /** Its length in bits. */
  readonly length: number;
  /** Id of the upstream's interface. */
  readonly from: Id;
  /** The line that says that it is delegated. */
  readonly origin: Origin;
};

/** A source of addresses that only settling knows. */
export type Awaits = Entry & {
  /** A DHCPv4 client, or stateless IPv6 addresses from advertisements. */
  readonly from: "lease" | "advertisement";
  /** Takes the default route offered. */
  readonly gateway: boolean;
};

/** A device as a sender and receiver of packets. */
export type Stack = Part & {
  /** Id of its device. */
  readonly device: Id;
  /** In document order; the first is preferred where order decides. */
  readonly interfaces: readonly Interface[];
  /**
   * Which addresses it answers for on a leg: every own one (weak host, kernel facts 3 and 4), that leg's only (strong
   * host), or, for an upstream, every address it has no route for: it stands for the internet.
   */
  readonly answersFor: "any-own-address" | "this-leg" | "everywhere";
  /** The line that says so. Absent: nobody wrote it. */
  readonly hostModel?: Origin;
  /** Steps of a packet that came in, up to and with `route`. */
  readonly received: readonly Step[];
  /** Steps after `route` for this device. */
  readonly local: readonly Step[];
  /** Steps after `route` through this device. */
  readonly onward: readonly Step[];
  /** Steps of a packet begun here. */
  readonly sent: readonly Step[];
  /** Whether a route is passed over while its interface has no carrier; else packets go there and find no neighbour. */
  readonly routesNeedCarrier: boolean;
  /** Id of the table of routes. */
  readonly routes: Id;
  /** Idle lifetimes of connections. */
  readonly tracking: Tracking;
  /**
   * Source translation gives an inside endpoint one outside endpoint for several connections (RFC 4787 section 4.1);
   * absent: each connection is translated alone and only its own answers come back, as in the kernel.
   */
  readonly mapping?: Mapping;
  /** Clients inside may open forwards by a protocol of their own: voids every proof about the internet. */
  readonly clientsMayOpenForwards?: Origin;
};

/** How a source translation remembers inside endpoints (RFC 4787 section 4.1). */
export type Mapping = {
  /** What shares an outside endpoint: all that an inside endpoint sends (REQ-1), or all that it sends to one address. */
  readonly scope: "endpoint" | "peer-address";
  /** Who may send to an outside endpoint: anyone, addresses it has sent to, or addresses and ports (RFC 4787 section 5). */
  readonly filtering: "endpoint-independent" | "address-dependent" | "address-and-port-dependent";
  /** Inside endpoints reach one another by outside endpoints, seen from outside ones (RFC 4787 REQ-9a). */
  readonly hairpin: boolean;
};

/** What a TCP connection that opens or closes is waiting for, as seen in the middle. */
export type TcpPhase = "syn-sent" | "syn-received" | "fin-wait" | "close-wait" | "last-ack" | "time-wait" | "closed";

/** Idle lifetimes of tracked connections, in seconds (kernel fact 25; RFC 4787 and 5382 for the `rfc` profile). */
export type Tracking = {
  /** A TCP connection that is open. */
  readonly tcpEstablishedSeconds: number;
  /** Opening and closing. */
  readonly tcpTransitorySeconds: number;
  /** Phases of these that have a time of their own. Default: none has. */
  readonly tcpPhaseSeconds?: Readonly<Partial<Record<TcpPhase, number>>>;
  /** No answer seen yet, or answered and then silent. */
  readonly udpSeconds: number;
  /** Both ends have gone on speaking. */
  readonly udpAnsweredSeconds: number;
  /** An ICMP query. */
  readonly icmpSeconds: number;
  /** Any other protocol. */
  readonly otherSeconds: number;
};

/** How a packet is turned away; the answer runs through `sent`. */
export type Refusal = {
  /** Nothing, a TCP reset (TCP only, others get the ICMP error), or an ICMP error for each family. */
  readonly answer:
    | { readonly kind: "silent" }
    | { readonly kind: "tcp-reset"; readonly others: IcmpPair }
    | { readonly kind: "icmp"; readonly error: IcmpPair };
  /**
   * Source address of an ICMP error: facing the sender (kernel fact 5), or the address the packet was sent to. A TCP reset
   * always comes from the latter (kernel fact 14).
   */
  readonly from: "towards-sender" | "addressed";
  /** Packets of this version end in silence all the same: no route while forwarding is off, in IPv4 only (fact 3). */
  readonly silentFor?: 4 | 6;
};

/** An ICMP error in both families. */
export type IcmpPair = {
  /** The ICMP error. */
  readonly v4: { readonly type: number; readonly code: number };
  /** The ICMPv6 error. */
  readonly v6: { readonly type: number; readonly code: number };
};

/** One step of a packet through a stack. */
export type Step = {
  /** Why this step is here. */
  readonly origin: Origin;
} & (
  | {
      /** Packets that fit go on, the others end. */
      readonly op: "require";
      /** Packets of the stack's own that turned round are let be. Absent: they are not. */
      readonly fromOutside?: true;
      /** What has to fit. */
      readonly that: Alternatives;
      /** Kebab word for the trace: "martian". */
      readonly reason: DropReason;
      /** The answer to what does not. */
      readonly otherwise: Refusal;
    }
  | {
      /** An IPv4 packet from outside whose source is an own address of the stack ends here, silently (kernel fact 7). */
      readonly op: "own-source";
    }
  | {
      /** An IPv4 packet from outside whose source is the broadcast address of an own network ends here, silently. */
      readonly op: "broadcast-source";
    }
  | {
      /** `strict`: the best route to the source leaves by the ingress interface; `loose`: there is a route (RFC 3704). */
      readonly op: "reverse-path";
      /** How strict. */
      readonly mode: "strict" | "loose";
      /** Packets of this version only; absent: of both. */
      readonly family?: 4 | 6;
    }
  | {
      /** First match of the table; accept goes on to the next step. */
      readonly op: "filter";
      /** Id of the table. */
      readonly table: Id;
    }
  | {
      /** Finds or begins the connection and so the packet's state. */
      readonly op: "track";
      /** A TCP packet in the middle of a connection without an entry is new (kernel default) or invalid (strict). */
      readonly midStream: "new" | "invalid";
      /** These stay untracked (neighbour discovery: kernel fact 18). */
      readonly except: Alternatives;
    }
  | {
      /** The first packet asks the table, later ones follow the connection. */
      readonly op: "translate";
      /** Which end is rewritten. */
      readonly end: "source" | "destination";
      /** Id of the table. */
      readonly table: Id;
    }
  | {
      /** A connection lives on only if its first packet gets here. */
      readonly op: "confirm";
    }
  | {
      /** Own addresses to `local`, else the longest prefix of the table: a hop, or a refusal. Sets `egress`. */
      readonly op: "route";
    }
  | {
      /** Only packets whose egress the stack may use: forwarding is off, so transit ends here silently (kernel fact 3). */
      readonly op: "no-transit";
    }
  | {
      /** Lowers the hop limit; at 0 answers time exceeded 11/0 or 3/0. */
      readonly op: "hop-limit";
    }
  | {
      /**
       * Larger than the egress MTU: what may not be cut is answered 3/4 or too big 2/0. The kernel looks at that with the
       * hop limit, before the filter, and cuts last of all.
       */
      readonly op: "fit";
      /** Whether what may be cut is cut here; else it goes on whole. */
      readonly cuts: boolean;
    }
  | {
      /** Asks for the next hop's hardware address; no answer: host unreachable 3/1 or address unreachable 1/3. */
      readonly op: "neighbour";
    }
  | {
      /** `transmit`: onto the egress interface. `deliver`: to a service, else port unreachable 3/3, 1/4 or a reset. */
      readonly op: "transmit" | "deliver";
    }
);

/** Why a frame or packet went no further. Sentences for people are made from these elsewhere. */
export type DropReason =
  // link layer
  | "link-down"
  | "nobody-connected"
  | "no-taker"
  | "reserved-group"
  | "tree-blocked"
  | "kind-not-admitted"
  | "no-port-vlan"
  | "not-member"
  | "lease-guarded"
  | "isolated"
  | "same-port"
  | "frame-too-big"
  | "member-idle"
  | "not-for-this-station"
  | "storm"
  // network layer
  | "martian"
  | "own-source"
  | "wrong-leg"
  | "reverse-path"
  | "filter"
  | "unknown-action"
  | "no-address-to-translate-to"
  | "no-free-port"
  | "no-route"
  | "unreachable"
  | "prohibited"
  | "blackhole"
  | "no-transit"
  | "hop-limit"
  | "too-big"
  | "no-neighbour"
  | "tunnel-down"
  | "upstream-down"
  | "foreign-source"
  | "not-public"
  | "not-forwardable"
  | "interface-down"
  | "no-source-address"
  | "no-listener"
  | "stray";
