/**
 * Resolved references: whatever these name is part of the same site.
 */
import type { Family, Ranges } from "../address/index.ts";

/** An interface of a device. */
export type InterfaceReference = {
  /** Name of the device. */
  readonly device: string;
  /** Name of its interface or leg. */
  readonly interface: string;
};

/** A port of a device. */
export type PortOf = {
  /** Name of the device. */
  readonly device: string;
  /** Name of its port or radio. */
  readonly port: string;
};

/** Whom packets come from or go to, resolved. */
export type SiteTarget = {
  /** Its addresses as keys; empty where it has none. A lease without a reservation counts with its whole pool. */
  readonly addresses: Ranges;
} & (
  | {
      /** A network. */
      readonly is: "network";
      /** Its name. */
      readonly network: string;
    }
  | {
      /** A device, with all its interfaces. */
      readonly is: "device";
      /** Its name. */
      readonly device: string;
    }
  | ({ /** One interface or leg of a device. */ readonly is: "interface" } & InterfaceReference)
  | {
      /** A run of addresses. */
      readonly is: "addresses";
      /** Version of the protocol. */
      readonly family: Family;
    }
  | {
      /** Every address that lies in no network of the site; `public`: of these, the globally reachable ones. */
      readonly is: "internet";
      /** Which of the two. */
      readonly scope: "all" | "public";
    }
);
