/**
 * Devices and servers that go off and come back. A device runs what it had saved when it has power again.
 */
import { type Diagnostic, diagnosticAt, nearestWord, type Span } from "../diagnose/index.ts";
import type { Located, ServerReference } from "../document/index.ts";
import { type Id, idOf, type Network, type Service } from "../network/index.ts";
import type { Site, SiteDevice } from "../site/index.ts";
import { type EventOf, type Happened, impossible, unknownDevice } from "./cabling.ts";
import type { Intents } from "./intent.ts";
import type { Rig } from "./rig.ts";

/** A device loses its power. */
export function poweredOff(rig: Rig, device: Located<string>, site: Site, span: Span): Happened {
  const found = running(rig, device, site);
  if ("problem" in found) return found;
  return { rig: { ...rig, off: new Map([...rig.off, [device.value, span]]) } };
}

/** A device has power again. */
export function poweredOn(rig: Rig, device: Located<string>, site: Site): Happened {
  const found = deviceIn(device, site);
  if ("problem" in found) return found;
  if (!rig.off.has(device.value))
    return { problem: impossible(device.span, `\`${device.value}\` has power at that moment`) };
  return { rig: returned(rig, device.value) };
}

/** A device runs what it had saved. */
export function returned(rig: Rig, device: string): Rig {
  const off = new Map([...rig.off].filter(([each]) => each !== device));
  return { ...rig, off, runs: runsOf(rig, device, rig.saved.get(device) ?? rig.first) };
}

function runsOf({ runs, intents }: Rig, device: string, state: Intents): ReadonlyMap<string, Intents> {
  const others = [...runs].filter(([each]) => each !== device);
  return new Map(state === intents ? others : [...others, [device, state]]);
}

/** A device saves what it runs. */
export function saved(rig: Rig, device: Located<string>, site: Site): Happened {
  const found = running(rig, device, site);
  if ("problem" in found) return found;
  if (found.device.saves.value === "nothing")
    return {
      problem: impossible(device.span, `\`${device.value}\` saves nothing`, found.device.saves.origin.span),
    };
  const state = rig.runs.get(device.value) ?? rig.intents;
  return { rig: { ...rig, saved: new Map([...rig.saved, [device.value, state]]) } };
}

/** Other intent is in force, on every device that has power; those that save at once have saved it. */
export function changed(rig: Rig, intents: Intents, site: Site): Rig {
  const away = [...rig.off.keys()].map((device) => [device, rig.runs.get(device) ?? rig.intents] as const);
  const atOnce = site.devices.filter(({ name, saves }) => saves.value === "at-once" && !rig.off.has(name));
  const kept = atOnce.map(({ name }) => [name, intents] as const);
  return { ...rig, intents, runs: new Map(away), saved: new Map([...rig.saved, ...kept]) };
}

/** Whether a device that restarts at this moment comes back with another intent than it ran. */
export function losesChanges(rig: Rig, device: string): boolean {
  return (rig.runs.get(device) ?? rig.intents) !== (rig.saved.get(device) ?? rig.first);
}

/** A server stops, or runs again. */
export function served(
  rig: Rig,
  { kind, server }: EventOf<"server-off" | "server-on">,
  { site, network }: { readonly site: Site; readonly network: Network },
): Happened {
  const services = servicesMeant(server, network);
  if (services.length === 0) return { problem: noServer(server, site, network) };
  const names = services.map(({ id }) => id);
  const since = names.flatMap((id) => rig.silent.get(id) ?? [])[0];
  const told = tellServer(server);
  if (kind === "server-off") {
    if (since !== undefined) return { problem: impossible(server.span, `${told} is off at that moment`, since) };
    const off = names.map((id) => [id, server.span] as const);
    return { rig: { ...rig, silent: new Map([...rig.silent, ...off]) } };
  }
  if (since === undefined) return { problem: impossible(server.span, `${told} is not off at that moment`) };
  return { rig: { ...rig, silent: new Map([...rig.silent].filter(([id]) => !names.includes(id))) } };
}

const KINDS = { dhcp: "dhcp-server", relay: "dhcp-relay", advertise: "advertise", resolver: "resolve" } as const;
const TOLD = {
  dhcp: "the DHCP server",
  relay: "the DHCP relay",
  advertise: "the advertiser",
  resolver: "the resolver",
} as const;

/** A server as people call it. */
export function tellServer({ serves, on: { value } }: ServerReference): string {
  return `${TOLD[serves]} on ${value.part === undefined ? value.name : `${value.name}/${value.part}`}`;
}

/** The services that a server named in a story stands for. */
export function servicesMeant(
  { serves, on: { value } }: ServerReference,
  { services, stacks }: Network,
): readonly Service[] {
  const stack = stacks.find(({ device }) => device === idOf(value.name));
  const at = value.part === undefined ? undefined : idOf(value.name, value.part);
  return services.filter(
    (service) =>
      service.kind === KINDS[serves] && service.stack === stack?.id && (at === undefined || isAt(service, at)),
  );
}

function isAt(service: Service, at: Id): boolean {
  if (service.kind === "resolve") return service.listen.includes(at);
  return "interface" in service && service.interface === at;
}

function noServer(server: ServerReference, site: Site, network: Network): Diagnostic {
  const { name, part } = server.on.value;
  const names = site.devices.map((device) => device.name);
  if (!names.includes(name)) return unknownDevice({ value: name, span: server.on.span }, names);
  const words = network.services.flatMap((service) => {
    if (service.kind !== KINDS[server.serves]) return [];
    if (service.kind === "resolve") return service.listen;
    return "interface" in service && service.interface !== undefined ? [service.interface] : [];
  });
  const nearest = nearestWord(part === undefined ? name : idOf(name, part), words);
  const own = words.filter((word) => word.startsWith(`${idOf(name)}/`));
  const notes = own.length === 0 ? [] : [`there is one on ${own.join(", ")}`];
  const message = `nothing of the kind \`${server.serves}\` runs on \`${part === undefined ? name : `${name}/${part}`}\``;
  return diagnosticAt("unknown-name", server.on.span, message, {
    notes,
    help: nearest === undefined ? undefined : `try \`${nearest}\``,
  });
}

type Found = { readonly device: SiteDevice } | { readonly problem: Diagnostic };

/** A device that has power; a problem: nobody is called so, or it is off. */
export function running(rig: Rig, device: Located<string>, site: Site): Found {
  const found = deviceIn(device, site);
  const since = rig.off.get(device.value);
  return since === undefined || "problem" in found
    ? found
    : { problem: impossible(device.span, `\`${device.value}\` is off at that moment`, since) };
}

function deviceIn(device: Located<string>, { devices }: Site): Found {
  const found = devices.find(({ name }) => name === device.value);
  return found === undefined
    ? {
        problem: unknownDevice(
          device,
          devices.map(({ name }) => name),
        ),
      }
    : { device: found };
}
