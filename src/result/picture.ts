/**
 * The picture of a site as plain data: what is drawn, worked out beforehand, and what is lit on it. It says nothing of
 * places or colours. Lists keep document order; every text is as it was written, unescaped and of any length.
 */

/** What is drawn of a site. */
export type SitePicture = {
  /** Name of the site. */
  readonly site: string;
  /** Networks, in document order; each is a thread. */
  readonly networks: readonly PictureNetwork[];
  /** Devices, in document order. */
  readonly devices: readonly PictureDevice[];
  /** What joins them: cables and bonds in document order, then radios, then tunnels. */
  readonly wires: readonly PictureWire[];
  /** Sentences that belong to the whole drawing: loops that nothing cuts, what the plan leaves open. */
  readonly notes: readonly string[];
};

/** A network. */
export type PictureNetwork = {
  /** Its name. */
  readonly name: string;
  /** `A` to `Z`, then `AA`; unique in the picture. */
  readonly letter: string;
  /** VLAN number; absent: it is never tagged. */
  readonly vlan?: number;
  /** Prefixes as text. */
  readonly prefixes: readonly string[];
};

/** A device. */
export type PictureDevice = {
  /** Its name, unique among devices. */
  readonly name: string;
  /** What it is. */
  readonly is: "router" | "switch" | "unmanaged-switch" | "access-point" | "host" | "upstream";
  /** Sockets and the radios of hosts, in document order. */
  readonly ports: readonly PicturePort[];
  /** Addresses of its interfaces at rest, in document order. */
  readonly addresses: readonly PictureAddress[];
  /** Networks that reach it, by name, in document order. */
  readonly networks: readonly string[];
};

/** A socket or radio. */
export type PicturePort = {
  /** Its name, unique in its device. */
  readonly name: string;
  /** Rate in Mbit/s; 0 for a radio. */
  readonly rateMbps: number;
  /** `used`: something is plugged in or joined; `free`: nothing is; `off`: switched off, whatever is plugged in. */
  readonly state: "used" | "free" | "off";
  /** The bond it is a member of; absent: none. */
  readonly bond?: string;
  /** Of a free one: networks that it carries and no wire does, by name, in document order. Absent: there are none. */
  readonly alone?: readonly string[];
};

/** An address of an interface. */
export type PictureAddress = {
  /** Name of the interface. */
  readonly interface: string;
  /** Address and length as text: `10.71.10.1/24`. */
  readonly text: string;
  /** How it came there. */
  readonly by: "stated" | "leased" | "advertised";
};

/** What joins two devices: one line of the drawing. */
export type PictureWire = {
  /** Id of the only or first of `parts`, unique among wires. */
  readonly id: string;
  /** What it is; a bond is several cables between the same two devices, of which one end or both make one port. */
  readonly kind: "cable" | "bond" | "radio" | "tunnel";
  /** Its ends, in the order written; for a radio the client first. */
  readonly ends: readonly [PictureEnd, PictureEnd];
  /** Ids of the links it is made of, one for each strand. */
  readonly parts: readonly string[];
  /** Rate of one strand in Mbit/s; 0 where it has none. */
  readonly rateMbps: number;
  /** Networks on it, in document order; empty: none that has a name. */
  readonly threads: readonly PictureThread[];
  /** False when no strand has carrier at rest. */
  readonly up: boolean;
};

/** An end of a wire. */
export type PictureEnd = {
  /** Name of the device. */
  readonly device: string;
  /** Names of the ports, one for each strand; of an access point's radio the SSID, of a tunnel its name. */
  readonly ports: readonly string[];
  /** Name of the bond they make; absent: none. */
  readonly bond?: string;
  /** True where the spanning tree keeps it from forwarding. */
  readonly blocked: boolean;
};

/** A network on a wire. */
export type PictureThread = {
  /** Name of the network. */
  readonly network: string;
  /** Which ends carry it; `neither`: both devices have the network, and this wire lacks it. */
  readonly carriedBy: "both" | "first" | "second" | "neither";
  /** True where an end that carries it tags it. */
  readonly tagged: boolean;
};

/** What is lit on a picture; nothing of it: all is drawn alike. */
export type PictureLights = {
  /** Name of the network whose broadcast domain is lit. */
  readonly network?: string;
  /** A way through the site. */
  readonly path?: PicturePath;
  /** Names of devices and ids of wires' parts that are marked as broken. */
  readonly broken?: readonly string[];
};

/** A way of a packet, flagged step by step. */
export type PicturePath = {
  /** Steps in their order. */
  readonly steps: readonly PictureStep[];
  /** What became of the packet, in a sentence. */
  readonly sentence: string;
  /** True when it got where it was meant to. */
  readonly works: boolean;
};

/** One step of a way. */
export type PictureStep = {
  /** Name of the device where it happened. */
  readonly device: string;
  /** The place in it: `edge:lan1` for a port or bond, the id of a part else; absent: not known. */
  readonly at?: string;
  /** A sentence fragment. */
  readonly text: string;
};
