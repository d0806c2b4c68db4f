/**
 * The rig: a site at one moment of a story, from outside. What is cabled, which intent each device runs and which it has saved, what is
 * off. Immutable; events make another one (`cabling.ts`, `power.ts` and `intent.ts`), `siteOf` and `circumstancesOf` say what it comes to.
 *
 * Devices may run different states of the intent: one that restarts runs what it had saved. So each device is taken from the site
 * that its own state resolves to, names, roles and all.
 */
import { recompile } from "../compile/index.ts";
import type { Diagnostic, Span } from "../diagnose/index.ts";
import type { Cable, TopologyDocument } from "../document/index.ts";
import { type Id, type Network, portId } from "../network/index.ts";
import type { Circumstances } from "../simulate/index.ts";
import { type PortOf, resolveSite, type Site, type SiteDevice } from "../site/index.ts";
import type { Intents } from "./intent.ts";

/** The site at one moment. */
export type Rig = {
  /** What is racked; cables are in `cables`. */
  readonly topologies: readonly TopologyDocument[];
  /** What is cabled. */
  readonly cables: readonly Cable[];
  /** The intent in force: the last that was applied. */
  readonly intents: Intents;
  /** By device what it runs, where that is not the intent in force. */
  readonly runs: ReadonlyMap<string, Intents>;
  /** By device what it has saved. Default: what the story began with. */
  readonly saved: ReadonlyMap<string, Intents>;
  /** What the story began with. */
  readonly first: Intents;
  /** Ports that the story switched off, with the places of the steps. */
  readonly portsOff: ReadonlyMap<Id, Span>;
  /** Devices without power, with the places of the steps. */
  readonly off: ReadonlyMap<string, Span>;
  /** Services that do not run, likewise. */
  readonly silent: ReadonlyMap<Id, Span>;
  /** By `device/interface` who has delegated it a prefix: the upstream's port. */
  readonly delegated: ReadonlyMap<string, PortOf>;
};

/** The rig that a story begins with. */
export function firstRig(topologies: readonly TopologyDocument[], intents: Intents): Rig {
  return {
    topologies: topologies.map((document) => ({ ...document, cables: [] })),
    cables: topologies.flatMap(({ cables }) => cables),
    intents,
    runs: new Map(),
    saved: new Map(),
    first: intents,
    portsOff: new Map(),
    off: new Map(),
    silent: new Map(),
    delegated: new Map(),
  };
}

/** What a rig comes to; `site` is absent when an error is among the diagnostics. */
export function siteOf(rig: Rig): { readonly site?: Site; readonly diagnostics: readonly Diagnostic[] } {
  const { site, diagnostics } = resolvedWith(rig, rig.intents);
  if (site === undefined) return { diagnostics };
  const states = [...new Set(rig.runs.values())].map((runs) => [runs, resolvedWith(rig, runs)] as const);
  // A device goes on with what it runs: where that has no meaning any more, nothing can be said of the site.
  const senseless = states.find(([, older]) => older.site === undefined);
  if (senseless !== undefined) return { diagnostics: senseless[1].diagnostics };
  const others = new Map(states.map(([runs, older]) => [runs, devicesOf(older.site)]));
  const devices = site.devices.map((device) => {
    const runs = rig.runs.get(device.name);
    return (runs && others.get(runs)?.get(device.name)) ?? device;
  });
  return { site: { ...site, devices: devices.map((device) => withPortsOff(device, rig)) }, diagnostics };
}

function resolvedWith({ topologies, cables, delegated }: Rig, { documents }: Intents): ReturnType<typeof resolveSite> {
  const [first, ...rest] = topologies;
  const cabled = first === undefined ? [] : [{ ...first, cables }, ...rest];
  return resolveSite({ topologies: cabled, intents: documents, delegated });
}

/** The rig with who delegates prefixes in its site, so that a router goes on with its own when its uplink is pulled. */
export function withDelegated(rig: Rig, { devices }: Site): Rig {
  const now = devices.flatMap(({ name, interfaces }) =>
    interfaces.flatMap(({ name: own, delegation }) =>
      delegation?.granted === undefined ? [] : [[`${name}/${own}`, delegation.granted.by] as const],
    ),
  );
  return { ...rig, delegated: new Map([...rig.delegated, ...now]) };
}

function devicesOf(site: Site | undefined): ReadonlyMap<string, SiteDevice> {
  return new Map(site?.devices.map((device) => [device.name, device]));
}

function withPortsOff(device: SiteDevice, { portsOff }: Rig): SiteDevice {
  if (portsOff.size === 0) return device;
  const ports = device.ports.map((port) => {
    const span = portsOff.get(portId(device.name, port.name));
    return span === undefined ? port : { ...port, enabled: { value: false, origin: { by: "written", span } as const } };
  });
  return { ...device, ports };
}

/** What holds of the site from outside; parts that stay are those of `before`. */
export function circumstancesOf(rig: Rig, site: Site, before: Network): Circumstances {
  return {
    network: recompile(before, site),
    down: [],
    off: [...rig.off.keys()].sort(),
    silent: [...rig.silent]
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([id, span]) => ({ id, by: { by: "written", span } })),
  };
}
