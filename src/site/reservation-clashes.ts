/**
 * Reservations that cannot be kept: of an address that a station has for itself, or that is kept for another client, too, and of two
 * addresses for one client (RFC 2131 section 2.2: no address is lent to two clients at a time; common practice: one for each
 * hardware address). Some servers refuse to start on such a list, others keep one of the two in silence.
 */
import { formatAddress } from "../address/index.ts";
import { type Directory, type Leg, legKey } from "./directory.ts";
import type { Findings } from "./findings.ts";
import type { Lender } from "./lenders.ts";
import type { SiteReservation } from "./site-service.ts";
import { stationsNear } from "./stations-near.ts";

type Kept = { readonly lender: Lender; readonly reservation: SiteReservation };

/** Reports all of a site. */
export function reportClashes(
  reservations: ReadonlyMap<Lender, readonly SiteReservation[]>,
  directory: Directory,
  findings: Findings,
): void {
  const kept = [...reservations].flatMap(([lender, own]) => own.map((reservation) => ({ lender, reservation })));
  kept.forEach((one, index) => {
    reportHeld(one, directory, findings);
    const [other] = kept.slice(0, index).filter((earlier) => isClash(earlier, one));
    if (other !== undefined) reportTwice(one, other, directory, findings);
  });
}

/** Servers of one network may keep the same for the same client. */
function isClash(one: Kept, other: Kept): boolean {
  if (one.lender !== other.lender && (one.lender.network === undefined || one.lender.network !== other.lender.network))
    return false;
  const isOneClient = one.reservation.hardware.value === other.reservation.hardware.value;
  const isOneAddress = one.reservation.value.value === other.reservation.value.value;
  return isOneClient ? one.lender === other.lender : isOneAddress;
}

function reportTwice(
  { reservation: one }: Kept,
  { reservation: other }: Kept,
  directory: Directory,
  findings: Findings,
): void {
  const isOneClient = one.hardware.value === other.hardware.value;
  const names = `\`${other.client}\` and \`${one.client}\``;
  const [span, earlier] = isOneClient
    ? [one.hardware.origin.span, other.hardware.origin.span]
    : [one.value.origin.span, other.value.origin.span];
  findings.report(
    "reservation-shared",
    span,
    isOneClient
      ? `the reservations of ${names} are for one hardware address`
      : `${formatAddress({ family: 4, value: one.value.value })} is reserved for ${names}`,
    {
      also: [{ span: earlier, text: `for \`${other.client}\`` }],
      help: isOneClient ? "keep one of them" : "reserve another address for one of them",
      ...(isOneClient || !isOneDevice(one, other, directory) ? {} : { severity: "warning" as const }),
    },
  );
}

/** One device by cable or by radio, one at a time: it may ask by one client identifier from both (RFC 2131 section 2). */
function isOneDevice(one: SiteReservation, other: SiteReservation, directory: Directory): boolean {
  const device = deviceOf(one, directory);
  return device !== undefined && device === deviceOf(other, directory);
}

/** Stated addresses of the network; one's own is no clash, and is never asked for. */
function reportHeld({ lender, reservation }: Kept, directory: Directory, findings: Findings): void {
  const { value, client } = reservation;
  for (const leg of stationsNear(lender, directory)) {
    const isClient = isOf(leg, reservation);
    const held = leg.interface.addresses.find(({ family, value: own }) => family === 4 && own === value.value);
    const name = legKey(leg.device.rack.name, leg.interface.name);
    if (held !== undefined && !isClient) {
      const message = `${formatAddress(held)} is reserved for \`${client}\`, and \`${name}\` has it`;
      findings.report("reservation-taken", value.origin.span, message, {
        also: [{ span: held.origin.span, text: `the address of \`${name}\`` }],
        help: `reserve another address for \`${client}\``,
      });
    }
    const [own] = isClient && leg.interface.lease === undefined ? leg.interface.addresses : [];
    if (own?.family !== 4) continue;
    findings.report(
      "reservation-unmatched",
      reservation.origin.span,
      `\`${name}\` has ${formatAddress(own)} by itself, so it never asks for a lease`,
      { also: [{ span: own.origin.span, text: "its address" }], about: [leg.device.rack.name] },
    );
  }
}

function isOf({ device, interface: own }: Leg, { for: meant, hardware }: SiteReservation): boolean {
  if (own.hardware.value === hardware.value) return true;
  return meant?.device === device.rack.name && meant.interface === own.name;
}

/** The device whose legs a reservation is for; undefined: no leg has its hardware address. */
function deviceOf(reservation: SiteReservation, { legs }: Directory): string | undefined {
  return [...legs.values()].find((leg) => isOf(leg, reservation))?.device.rack.name;
}
