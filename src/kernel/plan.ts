/**
 * What a site is on a kernel: text for `ip`, `nft` and the settings under `/proc/sys`, a device at a time, in the order in
 * which it is carried out. Plain data: nothing here runs anything, and `showKernel` prints all of it.
 */
import type { Family } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id } from "../network/index.ts";

/** A whole site, or why it cannot be built here. */
export type KernelPlan = {
  /** Settings of every device, after those of its own: see `DevicePlan.settings`. */
  readonly settings: readonly string[];
  /** One namespace each, in document order. */
  readonly devices: readonly DevicePlan[];
  /** Virtual cables, in the order in which they are made, and a loose one for each port that carries an interface and has no cable. */
  readonly cables: readonly CablePlan[];
  /** Seconds until bonds have come to rest, and from then on spanning trees: at first, and once a cable was pulled. */
  readonly restSeconds: { readonly bonds: number; readonly trees: number; readonly pulled: number };
  /** What this way of building cannot do; a plan with any of these must not be built. */
  readonly unsupported: readonly Unsupported[];
};

/** Something that namespaces on this kernel cannot show. */
export type Unsupported = {
  /** The line that asks for it. */
  readonly origin: Origin;
  /** What it is, as a phrase: "tagged frames on `core:p1`". */
  readonly what: string;
};

/** A virtual cable. */
export type CablePlan = {
  /** Its two ends; a loose one has its second end on no device, where it stays down: the first has no carrier. */
  readonly ends: readonly [CableEnd, CableEnd | undefined];
};

/** One end of a cable. */
export type CableEnd = {
  /** Name of the device. */
  readonly device: string;
  /** Name of the interface in the kernel. */
  readonly name: string;
  /** Its hardware address. */
  readonly hardware: bigint;
  /** Largest IP packet in bytes. */
  readonly mtu: number;
};

/** One device: its steps in order. */
export type DevicePlan = {
  /** Name of the device. */
  readonly device: string;
  /** Settings before any cable is there: `net/ipv4/ip_forward = 1`; a leading `-` where a kernel may lack the file. */
  readonly settings: readonly string[];
  /** `ip -batch` once the cables are there: bridges and their ports; bonds and interfaces with tags where a kernel knows them. */
  readonly bridges: readonly string[];
  /** `bridge -batch`: which VLANs the ports of the bridge carry. */
  readonly vlans: readonly string[];
  /** Bonds whose cost in a spanning tree goes by the members that carry, which is known once bonds rest. */
  readonly weighed: readonly WeighedBond[];
  /** `ip -batch`: every link that is up. */
  readonly links: readonly string[];
  /** Lines for `ip -batch`, once the first members of bonds carry: the other members go up. */
  readonly late: readonly string[];
  /** Names of the kernel's interfaces that are switched on. */
  readonly up: ReadonlySet<string>;
  /** Settings of single interfaces. */
  readonly linkSettings: readonly string[];
  /** `ip -batch`: addresses. */
  readonly addresses: readonly string[];
  /** `ip -force -batch`: routes. A kernel may refuse one (a second equal one, a gateway off the link) and take the others. */
  readonly routes: readonly string[];
  /** Input of `nft -f`; empty: no rules. */
  readonly ruleset: string;
  /** Configuration of dnsmasq, which serves and relays leases; empty: none runs. */
  readonly dnsmasq: string;
  /**
   * Configuration of radvd, which sends router advertisements, and the kernel's interfaces it is for; empty: none runs.
   * `lasts`: all that it says holds longer than questions take, so that it need not say it again.
   */
  readonly radvd: { readonly text: string; readonly interfaces: readonly string[]; readonly lasts: boolean };
  /** Interfaces that make addresses of advertisements, in document order. */
  readonly awaiting: readonly AwaitingPlan[];
  /** Interfaces that take a lease once everything else stands, in document order. */
  readonly clients: readonly ClientPlan[];
  /** Who listens. */
  readonly listeners: readonly ListenerPlan[];
  /** Ends of tunnels, in document order. */
  readonly tunnels: readonly TunnelPlan[];
  /** Names of the kernel's interfaces by names of ports. */
  readonly portNames: ReadonlyMap<string, string>;
  /** Names of the kernel's interfaces by names of the site's. */
  readonly interfaceNames: ReadonlyMap<string, string>;
};

/** An end of a tunnel: the kernel's own, whose keys are made when it is built and told to its peers alone. */
export type TunnelPlan = {
  /** What its peers know it by: `mill/link`. */
  readonly id: string;
  /** Name of the interface in the kernel. */
  readonly name: string;
  /** UDP port; absent: the kernel chooses. */
  readonly port?: number;
  /** In document order. */
  readonly peers: readonly TunnelPeerPlan[];
};

/** A peer of a tunnel. */
export type TunnelPeerPlan = {
  /** Id of its end. */
  readonly to: string;
  /** Address and port that outer packets are sent to, as a kernel's tool takes them; absent: learned. */
  readonly endpoint?: string;
  /** Prefixes. */
  readonly allowed: readonly string[];
};

/** A bond that is a port of a bridge with a spanning tree. */
export type WeighedBond = {
  /** Name of the interface in the kernel. */
  readonly name: string;
  /** Rate of each member in Mbit/s, by its name in the kernel. */
  readonly rates: ReadonlyMap<string, number>;
};

/** An interface that waits to be told its addresses. */
export type AwaitingPlan = {
  /** As the description calls the interface. */
  readonly id: Id;
  /** Name of the device. */
  readonly device: string;
  /** Name of the interface in the kernel. */
  readonly name: string;
};

/** An interface that takes a lease. */
export type ClientPlan = AwaitingPlan & {
  /** Whether it takes the default route it is offered. */
  readonly takesGateway: boolean;
};

/** A listener of a device. */
export type ListenerPlan = {
  /** Protocol number: 6 or 17. */
  readonly protocol: number;
  /** The ports; `asked`: every port that a probe of the run names. */
  readonly ports: readonly (readonly [first: number, last: number])[] | "asked";
  /** Where: every address, or these. */
  readonly on: "every-address" | readonly ListenerAddress[];
};

/** An address that a listener is bound to. */
export type ListenerAddress = {
  /** 4 or 6. */
  readonly family: Family;
  /** Its text. */
  readonly address: string;
  /** Name of the kernel's interface, for a link-local address. */
  readonly interface?: string;
  /** Id of the interface that it is lent or advertised to; `address` is a phrase then. */
  readonly lentTo?: Id;
};
