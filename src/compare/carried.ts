/**
 * A device that is replaced: what the old one did for others, and whether its successor does it too. Addresses kept for
 * clients, forwards, names, administration, leases, relays; what is missing is named with the line that says it.
 */
import { formatAddress, formatHardware, formatService, formatServices } from "../address/index.ts";
import type { Origin } from "../diagnose/index.ts";
import type { Loss, Replacement } from "../result/index.ts";
import type { Site, SiteDestTranslation, SiteDevice } from "../site/index.ts";
import { renamedNetworks } from "./alongside.ts";

/** One thing that a device does: `key` is the same where another one does the same. */
type Duty = Loss & { readonly key: string };

/** What is carried over from one device to another. */
export function replacementOf(old: string, successor: string, base: Site, head: Site): Replacement {
  const before = base.devices.find(({ name }) => name === old);
  const after = head.devices.find(({ name }) => name === successor);
  const renamed = renamedNetworks(base, head);
  const duties = before === undefined ? [] : dutiesOf(before, (name) => renamed.get(name) ?? name);
  const kept = new Set(after === undefined ? [] : dutiesOf(after, (name) => name).map(({ key }) => key));
  const lost = duties.filter(({ key }) => !kept.has(key));
  return {
    old,
    successor,
    kept: duties.length - lost.length,
    lost: lost.map(({ kind, text, origin }) => ({ kind, text, origin })),
  };
}

/** `called` tells what a network is called in the head. */
function dutiesOf(device: SiteDevice, called: (network: string) => string): readonly Duty[] {
  return [
    ...reservationsOf(device),
    ...(device.translate?.dest ?? []).map(forwardOf),
    ...namesOf(device),
    ...administrationOf(device, called),
    ...device.dhcp.map((server): Duty => {
      const network = networkAt(device, server.name);
      return duty("leases", called(network), `leases in \`${network}\``, server.origin);
    }),
    ...device.relays.map((relay): Duty => {
      const network = networkAt(device, relay.interface);
      return duty("relay", called(network), `the relay for \`${network}\``, relay.origin);
    }),
  ];
}

function duty(kind: Loss["kind"], key: string, text: string, origin: Origin): Duty {
  return { kind, key: `${kind} ${key}`, text, origin };
}

function reservationsOf({ dhcp }: SiteDevice): readonly Duty[] {
  return dhcp.flatMap(({ reservations }) =>
    reservations.map(({ client, hardware, value, origin }) => {
      const address = formatAddress({ family: 4, value: value.value });
      const key = `${formatHardware(hardware.value)} ${address}`;
      return duty("reservation", key, `the reservation of ${address} for \`${client}\``, origin);
    }),
  );
}

function forwardOf({ origin, services, to, toPorts }: SiteDestTranslation): Duty {
  const asked = services === undefined ? "every service" : formatServices(services.value);
  const target = to.value === "unchanged" ? "the same address" : formatAddress(to.value);
  const port = toPorts === undefined ? "" : ` port ${toPorts.value.first}`;
  return duty("forward", `${asked} ${target}${port}`, `the forward of ${asked} to ${target}${port}`, origin);
}

function namesOf({ names }: SiteDevice): readonly Duty[] {
  return names.map(({ name, origin }) => duty("name", name, `the name \`${name}\``, origin));
}

function administrationOf(device: SiteDevice, called: (network: string) => string): readonly Duty[] {
  const { admin } = device;
  if (admin === undefined) return [];
  const legs = admin.listen.value;
  const places = legs === "all" ? ["every interface"] : legs.map(({ value }) => networkAt(device, value));
  return admin.services.flatMap(({ value, origin }) =>
    places.map((place) => {
      const service = formatService(value);
      const text = `administration by ${service} in \`${place}\``;
      return duty("administration", `${service} ${called(place)}`, text, origin);
    }),
  );
}

function networkAt({ interfaces }: SiteDevice, name: string): string {
  return interfaces.find((one) => one.name === name)?.network?.value ?? name;
}
