/**
 * What every loaded value carries, and the typed leaves that documents are made of.
 *
 * Guarantees: each value keeps the span it was written at for life; a mapping keyed by the user's own words is an
 * array of entries in document order, never a record ("10" and "__proto__" are names); names stay text, since
 * resolving them is the work of `site/`.
 */
import type { Address, Family } from "../address/index.ts";
import type { Span } from "../diagnose/index.ts";

/** A value and the place it was written at. */
export type Located<T> = {
  /** What was written, typed. */
  readonly value: T;
  /** Where it stands. */
  readonly span: Span;
};

/** A written list; its own span is the place to show when something is absent from it. A single value is a list of one. */
export type List<T> = Located<readonly Located<T>[]>;

/** A run of addresses of one family, both ends inclusive. */
export type AddressRange = {
  /** Version of the protocol. */
  readonly family: Family;
  /** First address as an unsigned number. */
  readonly first: bigint;
  /** Last address as an unsigned number, not below the first. */
  readonly last: bigint;
};

/** A run of whole numbers (ports, host numbers, VLANs), both ends inclusive. */
export type NumberRange = {
  /** First number. */
  readonly first: number;
  /** Last number, not below the first. */
  readonly last: number;
};

/**
 * Something that packets come from or go to, as written: an address, prefix or range, the internet, or a name
 * (network, device, set) with an optional part (`archive/a`: that leg; `edge/crew`: that interface).
 */
export type Target =
  | {
      /** Addresses, written as an address, a prefix or a range. */
      readonly by: "addresses";
      /** Version of the protocol. */
      readonly family: Family;
      /** First address as an unsigned number. */
      readonly first: bigint;
      /** Last address as an unsigned number, inclusive. */
      readonly last: bigint;
    }
  | {
      /** Whatever leaves by an upstream port (`internet`), or that without RFC 6890 space (`internet/public`). */
      readonly by: "internet";
      /** Which of the two was written. */
      readonly scope: "all" | "public";
    }
  | NameReference;

/** A name used, not declared: still to be resolved. */
export type NameReference = {
  /** A name was written. */
  readonly by: "name";
  /** Device, network or set. */
  readonly name: string;
  /** What follows the first `/`: a leg or an interface of that device. */
  readonly part?: string;
};

/** One address, written as such or by the name of who owns it. */
export type AddressOrName = ({ /** An address was written. */ readonly by: "address" } & Address) | NameReference;

/** A list of addresses, or the word `none`. */
export type AddressesOrNone =
  | {
      /** The word `none`. */
      readonly by: "none";
    }
  | {
      /** Addresses or names of who owns them. */
      readonly by: "list";
      /** In the order written. */
      readonly items: readonly Located<AddressOrName>[];
    };

/** A network by its name, or VLANs by number (`10`, `10-19`): numbers are legal wherever a network's name is. */
export type NetworkOrVlans =
  | {
      /** A network was named. */
      readonly by: "name";
      /** Its name. */
      readonly name: string;
    }
  | ({ /** VLAN numbers were written; one number is a run of one. */ readonly by: "vlans" } & NumberRange);

/** A port of a device, written `device:port`. */
export type PortReference = {
  /** Name of the device. */
  readonly device: Located<string>;
  /** Name of its port. */
  readonly port: Located<string>;
};

/** Port names, written as one name (`wan`) or a run (`lan1..7`), already expanded. */
export type PortNames = {
  /** As written. */
  readonly text: string;
  /** Every name meant, in order. */
  readonly names: readonly string[];
};
