/**
 * Addresses of interfaces, as entries with their lines.
 */
import { formatAddress, linkLocal } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Id, InterfaceAddress } from "../network/index.ts";
import type { SiteInterface } from "../site/index.ts";

function addressEntry(id: Id, family: 4 | 6, value: bigint, prefixLength: number, origin: Origin): InterfaceAddress {
  return { id: `${id}/${formatAddress({ family, value })}`, origin, family, value, prefixLength };
}

/** Addresses of an interface: those stated, and the link-local one where IPv6 is spoken on a link and none is stated. */
export function addressesOf(one: SiteInterface, id: Id): readonly InterfaceAddress[] {
  const stated = one.addresses.map(({ family, value, length, origin }) =>
    addressEntry(id, family, value, length, origin),
  );
  const own = linkLocal(one.hardware.value);
  const known = one.addresses.some(({ family, value }) => family === 6 && value >> 118n === own.value >> 118n);
  if (!one.speaks6.value || known || one.footing.on === "tunnel") return stated;
  const { span } = one.speaks6.origin;
  const rule = "a link-local address of the hardware address";
  return [...stated, addressEntry(id, 6, own.value, 64, { by: "default", span, rule, source: "RFC 2464 section 5" })];
}
