/**
 * Who holds which address at rest.
 */
import type { Address } from "../address/index.ts";
import type { Evaluation } from "../evaluate/index.ts";
import { deviceOf, type Id, lastName, type Settled } from "../network/index.ts";
import type { PictureAddress } from "../result/index.ts";

/** An address of an interface. */
export type Held = Address & {
  /** Name of the device. */
  readonly device: string;
  /** Name of the interface. */
  readonly interface: string;
  /** Length of the on-link prefix. */
  readonly prefixLength: number;
  /** How it came there. */
  readonly by: PictureAddress["by"];
};

/** Every address of the site's own devices, in their order; those that every link has of itself are left out. */
export function heldAddresses({ network }: Evaluation, { stacks, bindings }: Settled): readonly Held[] {
  const given = new Map(bindings.map(({ interface: at, family, value }) => [`${at} ${value}`, family] as const));
  const standIns = new Set(network.devices.flatMap(({ id, standIn }) => (standIn ? [id] : [])));
  return stacks.flatMap(({ interfaces }) =>
    interfaces.flatMap(({ interface: at, addresses }): readonly Held[] => {
      const device = deviceOf(at);
      if (standIns.has(device)) return [];
      return addresses
        .filter((address) => !isLinkLocal(address))
        .map(({ family, value, prefixLength }) => {
          const by = { 4: "leased", 6: "advertised" } as const;
          const source = given.get(`${at} ${value}`);
          return {
            device,
            interface: interfaceName(at),
            family,
            value,
            prefixLength,
            by: source === undefined ? "stated" : by[source],
          };
        });
    }),
  );
}

/** RFC 4291 section 2.5.6: fe80::/10. */
function isLinkLocal({ family, value }: Address): boolean {
  return family === 6 && value >> 118n === 0x3fan;
}

/** As written: an interface named like a word of ours has a `~` before it in its id. */
export function interfaceName(id: Id): string {
  return lastName(id).replace(/^~/, "");
}
