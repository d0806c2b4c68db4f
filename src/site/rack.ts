/**
 * What is racked: each device's ports with their rates and hardware addresses, and the cables between them.
 */
import type { Span } from "../diagnose/index.ts";
import type { Cable, IntentDevice, List, Located, PortReference, TopologyDevice } from "../document/index.ts";
import type { Findings, UnknownName } from "./findings.ts";
import { derivedHardware } from "./hardware.ts";
import type { Names } from "./names.ts";
import type { PortOf } from "./references.ts";
import { defaultAt, type Setting, settingOf, writtenAt } from "./setting.ts";
import type { SiteCable } from "./site.ts";
import type { SitePort } from "./site-device.ts";

/** A port as racked, before anything is configured on it. */
export type RackPort = Pick<SitePort, "name" | "origin" | "radio" | "rateMbps" | "hardware">;

/** A device as racked, with what it is told. */
export type Rack = {
  /** Its name. */
  readonly name: string;
  /** Its entry in the topology. */
  readonly topology: TopologyDevice;
  /** What it is told. */
  readonly intent: IntentDevice | undefined;
  /** Ports by name, in document order; a host's radios behind them. */
  readonly ports: ReadonlyMap<string, RackPort>;
  /** What it has, in words: `wan, lan1..7, fibre`. */
  readonly portsText: string;
};

/** Every device as racked, by name. */
export function rackDevices(names: Names): ReadonlyMap<string, Rack> {
  const racks = new Map<string, Rack>();
  for (const [name, topology] of names.devices) {
    racks.set(name, {
      name,
      topology,
      intent: names.intents.get(name),
      ports: portsOf(topology),
      portsText: textOf(topology),
    });
  }
  return racks;
}

function textOf({ is, ports, radios }: TopologyDevice): string {
  const own = ports.map((group) => group.names.value.text);
  const air = is.value === "host" ? (radios?.value ?? []).map((radio) => radio.value) : [];
  return [...own, ...air].join(", ");
}

function portsOf(device: TopologyDevice): ReadonlyMap<string, RackPort> {
  const ports = new Map<string, RackPort>();
  // Overlapping runs were reported when the document was read; the first one holds.
  const add = (port: RackPort): void => {
    if (!ports.has(port.name)) ports.set(port.name, port);
  };
  let index = 0;
  for (const group of device.ports) {
    const rateMbps = settingOf(group.rateMbps);
    const origin = writtenAt(group.span);
    for (const [place, name] of group.names.value.names.entries()) {
      const hardware = hardwareOf(device, group.mac, place, index++, name);
      add({ name, origin, radio: false, rateMbps, hardware });
    }
  }
  if (device.is.value === "host") for (const radio of device.radios?.value ?? []) add(radioPort(device, radio));
  return ports;
}

function radioPort(device: TopologyDevice, radio: Located<string>): RackPort {
  const rateMbps = { value: 0, origin: defaultAt(radio.span, "the rate of a radio is not modelled", "dryrack") };
  return {
    name: radio.value,
    origin: writtenAt(radio.span),
    radio: true,
    rateMbps,
    hardware: derived(device, radio.value),
  };
}

/** Counts up from the group's address, else from the device's, else derives one from the names. */
function hardwareOf(
  device: TopologyDevice,
  ofGroup: Located<bigint> | undefined,
  place: number,
  index: number,
  name: string,
): Setting<bigint> {
  if (ofGroup !== undefined) return { value: ofGroup.value + BigInt(place), origin: writtenAt(ofGroup.span) };
  const { mac } = device;
  if (mac !== undefined) return { value: mac.value + BigInt(index), origin: writtenAt(mac.span) };
  return derived(device, name);
}

function derived(device: TopologyDevice, port: string): Setting<bigint> {
  const origin = defaultAt(device.name.span, "a hardware address derived from the names", "dryrack");
  return { value: derivedHardware(device.name.value, port), origin };
}

/** Finds a port that someone names, or reports that there is none. */
export function findPort(
  rack: Rack,
  name: string,
  span: Span,
  findings: Findings,
  more: Pick<UnknownName, "written" | "racked"> = {},
): RackPort | undefined {
  const port = rack.ports.get(name);
  if (port === undefined) {
    findings.unknown({
      kind: "port",
      of: rack.name,
      name,
      span,
      candidates: rack.ports.keys(),
      note: rack.portsText === "" ? `\`${rack.name}\` has no ports` : `\`${rack.name}\` has ${rack.portsText}`,
      ...more,
    });
  }
  return port;
}

/** Finds a device that someone names, or reports that there is none. */
export function findRack(
  racks: ReadonlyMap<string, Rack>,
  name: Located<string>,
  findings: Findings,
): Rack | undefined {
  const rack = racks.get(name.value);
  if (rack === undefined)
    findings.unknown({ kind: "device", name: name.value, span: name.span, racked: true, candidates: racks.keys() });
  return rack;
}

/** Resolves `device:port`. */
export function resolvePort(
  reference: PortReference,
  racks: ReadonlyMap<string, Rack>,
  findings: Findings,
): PortOf | undefined {
  const rack = findRack(racks, reference.device, findings);
  if (rack === undefined) return undefined;
  const { value, span } = reference.port;
  const port = findPort(rack, value, span, findings, {
    written: (candidate) => `${rack.name}:${candidate}`,
    racked: true,
  });
  return port === undefined ? undefined : { device: rack.name, port: value };
}

/** Every cable whose ends exist; a port takes one cable. */
export function resolveCables(
  cables: readonly Cable[],
  racks: ReadonlyMap<string, Rack>,
  names: Names,
  findings: Findings,
): readonly SiteCable[] {
  const taken = new Map<string, Span>();
  return cables.flatMap((cable) => {
    const [a, b] = cable.ends.map((end) => cableEnd(end, racks, taken, findings));
    if (a === undefined || b === undefined) return [];
    const rateMbps = cable.rateMbps === undefined ? {} : { rateMbps: settingOf(cable.rateMbps) };
    return [
      {
        origin: writtenAt(cable.span),
        ends: [a, b] as const,
        ...rateMbps,
        shares: resolveFates(cable.shares, names, findings),
      },
    ];
  });
}

function cableEnd(
  end: Located<PortReference>,
  racks: ReadonlyMap<string, Rack>,
  taken: Map<string, Span>,
  findings: Findings,
): PortOf | undefined {
  const port = resolvePort(end.value, racks, findings);
  if (port === undefined) return undefined;
  if (racks.get(port.device)?.ports.get(port.port)?.radio) {
    findings.report("wrong-kind", end.span, `\`${port.device}:${port.port}\` is a radio, which takes no cable`);
    return undefined;
  }
  const key = `${port.device}:${port.port}`;
  const earlier = taken.get(key);
  if (earlier === undefined) taken.set(key, end.span);
  else {
    findings.report("port-cabled-twice", end.span, `\`${key}\` is cabled twice`, {
      also: [{ span: earlier, text: "the other cable" }],
    });
  }
  return earlier === undefined ? port : undefined;
}

/** The fates that something shares. */
export function resolveFates(
  shares: List<string> | undefined,
  names: Names,
  findings: Findings,
): readonly Setting<string>[] {
  return (shares?.value ?? []).flatMap((share) => {
    if (names.fates.has(share.value)) return [settingOf(share)];
    findings.unknown({ kind: "shared fate", name: share.value, span: share.span, candidates: names.fates.keys() });
    return [];
  });
}
