/**
 * Reservations: which client's hardware address gets which address. A client named by its device means the leg in
 * the server's network.
 */
import { type Address, hostAddress, prefixContains } from "../address/index.ts";
import type { Located, Reservation } from "../document/index.ts";
import type { Configured } from "./configured.ts";
import { legKey } from "./directory.ts";
import type { Findings } from "./findings.ts";
import type { RackInterface } from "./interfaces.ts";
import { isWritten, type Lender, reportOutside } from "./lenders.ts";
import { type Setting, writtenAt } from "./setting.ts";
import type { SiteReservation } from "./site-service.ts";

/** What reservations are resolved against. */
export type ReservationContext = {
  /** Every device. */
  readonly devices: ReadonlyMap<string, Configured>;
  /** Networks of every interface, by `device/interface`. */
  readonly networks: ReadonlyMap<string, readonly string[]>;
  /** Where diagnostics go. */
  readonly findings: Findings;
};

/** The reservations of one server. */
export function resolveReservations(lender: Lender, context: ReservationContext): readonly SiteReservation[] {
  return (lender.entry.reservations?.value ?? []).flatMap((entry) => resolveReservation(entry, lender, context) ?? []);
}

function resolveReservation(
  entry: Reservation,
  lender: Lender,
  context: ReservationContext,
): SiteReservation | undefined {
  const value = reservedAddress(entry, lender, context.findings);
  const client = clientOf(entry, lender, context);
  if (value === undefined || client === undefined) return undefined;
  return { client: entry.client.value, origin: writtenAt(entry.client.span), ...client, value };
}

function reservedAddress(
  { host, address, client }: Reservation,
  { subnet, device }: Lender,
  findings: Findings,
): Setting<bigint> | undefined {
  const written: Located<Address | undefined> | undefined =
    address ?? (host && { value: hostAddress(subnet.value, BigInt(host.value)), span: host.span });
  if (written === undefined) {
    findings.report("no-address", client.span, `the reservation of \`${client.value}\` names no address`, {
      about: [device.rack.name],
    });
    return undefined;
  }
  const { value, span } = written;
  if (value !== undefined && prefixContains(subnet.value, value))
    return { value: value.value, origin: writtenAt(span) };
  reportOutside(`the address reserved for \`${client.value}\``, span, subnet, findings);
  return undefined;
}

type Client = Pick<SiteReservation, "hardware" | "for">;

function clientOf(entry: Reservation, lender: Lender, context: ReservationContext): Client | undefined {
  const { client, mac } = entry;
  const device = context.devices.get(client.value);
  if (device === undefined) {
    if (mac !== undefined) return { hardware: { value: mac.value, origin: writtenAt(mac.span) } };
    const candidates = context.devices.keys();
    context.findings.unknown({ kind: "device", name: client.value, span: client.span, candidates });
    return undefined;
  }
  const leg = legOf(entry, device, lender, context);
  if (leg === undefined) return mac && { hardware: { value: mac.value, origin: writtenAt(mac.span) } };
  const hardware =
    mac === undefined
      ? matched(leg, device, entry, context.findings)
      : { value: mac.value, origin: writtenAt(mac.span) };
  // A stated hardware address that is not the leg's own is a label for something else.
  const meant = hardware.value === leg.hardware.value;
  return { hardware, ...(meant ? { for: { device: device.rack.name, interface: leg.name } } : {}) };
}

function legOf(
  { client, leg: written }: Reservation,
  device: Configured,
  lender: Lender,
  { networks, findings }: ReservationContext,
): RackInterface | undefined {
  const { name } = device.rack;
  if (written !== undefined) {
    const leg = device.interfaces.find((one) => one.name === written.value);
    if (leg === undefined && !isWritten(device, written.value)) {
      const candidates = device.interfaces.map((one) => one.name);
      findings.unknown({ kind: "leg", of: name, name: written.value, span: written.span, candidates });
    }
    return leg;
  }
  const { network } = lender;
  const here = device.interfaces.filter(
    (one) => network !== undefined && networks.get(legKey(name, one.name))?.includes(network),
  );
  const leased = here.filter((one) => one.lease !== undefined);
  const [first, second] = leased.length > 0 ? leased : here.length > 0 ? here : device.interfaces;
  if (second === undefined) {
    if (first !== undefined && here.length === 0 && network !== undefined)
      reportElsewhere(client, name, network, findings);
    return first;
  }
  const legs = [...here, ...(here.length > 0 ? [] : device.interfaces)].map((one) => one.name);
  findings.report("ambiguous-leg", client.span, `\`${name}\` has several legs that this reservation may mean`, {
    notes: [`they are ${legs.join(", ")}`],
    help: "name its `leg`",
    about: [name],
  });
  return undefined;
}

function reportElsewhere(client: Located<string>, name: string, network: string, findings: Findings): void {
  findings.report(
    "reservation-unmatched",
    client.span,
    `\`${name}\` is on no leg in \`${network}\`, so it never asks for this address`,
    { about: "anything" },
  );
}

/** The hardware address kept for a client by its name: that of the socket, which a private address hides. */
function matched(leg: RackInterface, device: Configured, { client }: Reservation, findings: Findings): Setting<bigint> {
  if (!leg.privateHardware) return leg.hardware;
  findings.report(
    "reservation-unmatched",
    client.span,
    `\`${device.rack.name}/${leg.name}\` shows a private hardware address, which this reservation does not match`,
    {
      also: [{ span: leg.hardware.origin.span, text: "private here" }],
    },
  );
  const below = leg.footing.on === "port" ? device.rack.ports.get(leg.footing.port)?.hardware : undefined;
  return below ?? leg.hardware;
}
