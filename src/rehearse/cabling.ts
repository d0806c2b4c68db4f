/**
 * Cables pulled, plugged and moved, ports switched off and on: what becomes of the rig, or why it cannot be.
 */
import { type Diagnostic, diagnosticAt, nearestWord, type Span } from "../diagnose/index.ts";
import type { Cable, Located, PortReference, StoryEvent } from "../document/index.ts";
import { type Id, portId } from "../network/index.ts";
import type { Site, SitePort } from "../site/index.ts";
import type { Rig } from "./rig.ts";

/** The rig after an event, or why it cannot have happened. */
export type Happened =
  | {
      /** The site from then on. */
      readonly rig: Rig;
    }
  | {
      /** Why it cannot be. */
      readonly problem: Diagnostic;
    };

/** An event of one of some kinds. */
export type EventOf<Kind extends StoryEvent["kind"]> = EventIn<StoryEvent, Kind>;
type EventIn<Event, Kind> = Event extends { readonly kind: infer Own } ? (Kind extends Own ? Event : never) : never;

/** The id of a port named in a story. */
export function idOfPort({ value: { device, port } }: Located<PortReference>): Id {
  return portId(device.value, port.value);
}

/** A cable is taken away. */
export function unplugged(rig: Rig, { port }: EventOf<"unplug">, site: Site): Happened {
  const unknown = unknownPort(port, site);
  if (unknown !== undefined) return { problem: unknown };
  const cable = cableIn(rig, idOfPort(port));
  if (cable === undefined) return { problem: noCable(rig, port) };
  return { rig: { ...rig, cables: rig.cables.filter((each) => each !== cable) } };
}

/** A cable is put between two ports. */
export function plugged(rig: Rig, { ends, at }: EventOf<"plug">, site: Site): Happened {
  for (const end of ends) {
    const problem = unknownPort(end, site) ?? taken(rig, end);
    if (problem !== undefined) return { problem };
  }
  if (idOfPort(ends[0]) === idOfPort(ends[1]))
    return { problem: impossible(ends[1].span, `a cable has two ends, and both are in \`${idOfPort(ends[0])}\``) };
  return { rig: { ...rig, cables: [...rig.cables, { ends, span: at }] } };
}

/** One end of a cable goes into another port. */
export function moved(rig: Rig, { from, to }: EventOf<"move">, site: Site, span: Span): Happened {
  const unknown = unknownPort(from, site) ?? unknownPort(to, site);
  if (unknown !== undefined) return { problem: unknown };
  const cable = cableIn(rig, idOfPort(from));
  if (cable === undefined) return { problem: noCable(rig, from) };
  const occupied = taken(rig, to);
  if (occupied !== undefined) return { problem: occupied };
  const [a, b] = cable.ends;
  const ends = idOfPort(a) === idOfPort(from) ? ([to, b] as const) : ([a, to] as const);
  return { rig: { ...rig, cables: rig.cables.map((each) => (each === cable ? { ...cable, ends, span } : each)) } };
}

/** A port is switched off. */
export function portOff(rig: Rig, { port }: EventOf<"port-off">, site: Site, span: Span): Happened {
  const found = portIn(port, site);
  if (found === undefined) return { problem: unknownPortAt(port, site) };
  const id = idOfPort(port);
  if (!found.enabled.value)
    return { problem: impossible(port.span, `\`${id}\` is off already`, found.enabled.origin.span) };
  return { rig: { ...rig, portsOff: new Map([...rig.portsOff, [id, span]]) } };
}

/** A port is switched on again. */
export function portOn(rig: Rig, { port }: EventOf<"port-on">, site: Site): Happened {
  const found = portIn(port, site);
  if (found === undefined) return { problem: unknownPortAt(port, site) };
  const id = idOfPort(port);
  if (found.enabled.value) return { problem: impossible(port.span, `\`${id}\` is on already`) };
  if (!rig.portsOff.has(id))
    return {
      problem: impossible(
        port.span,
        `\`${id}\` is off by the intent, not by the story`,
        found.enabled.origin.span,
        "write a `change` of the intent",
      ),
    };
  return { rig: { ...rig, portsOff: new Map([...rig.portsOff].filter(([each]) => each !== id)) } };
}

/** A diagnostic of something that cannot be; `because` is the place that made it so. */
export function impossible(span: Span, message: string, because?: Span, help?: string): Diagnostic {
  const also = because === undefined ? [] : [{ span: because, text: "because of this" }];
  return diagnosticAt("impossible-event", span, message, { also, help });
}

function cableIn({ cables }: Rig, id: Id): Cable | undefined {
  return cables.find(({ ends }) => ends.some((end) => idOfPort(end) === id));
}

function taken(rig: Rig, end: Located<PortReference>): Diagnostic | undefined {
  const cable = cableIn(rig, idOfPort(end));
  return (
    cable && impossible(end.span, `a cable is in \`${idOfPort(end)}\` already`, cable.span, "unplug that one first")
  );
}

function noCable({ cables }: Rig, port: Located<PortReference>): Diagnostic {
  const id = idOfPort(port);
  const own = cables
    .flatMap(({ ends }) => ends.map(idOfPort))
    .filter((each) => each.startsWith(`${port.value.device.value}:`));
  const nearest = nearestWord(id, own);
  return diagnosticAt("impossible-event", port.span, `no cable is in \`${id}\` at that moment`, {
    help: nearest === undefined ? undefined : `try \`${nearest}\``,
  });
}

function unknownPort(port: Located<PortReference>, site: Site): Diagnostic | undefined {
  const found = portIn(port, site);
  if (found === undefined) return unknownPortAt(port, site);
  return found.radio ? impossible(port.span, `\`${idOfPort(port)}\` is a radio, and takes no cable`) : undefined;
}

function portIn({ value: { device, port } }: Located<PortReference>, site: Site): SitePort | undefined {
  return site.devices.find(({ name }) => name === device.value)?.ports.find(({ name }) => name === port.value);
}

function unknownPortAt({ value: { device, port } }: Located<PortReference>, { devices }: Site): Diagnostic {
  const found = devices.find(({ name }) => name === device.value);
  if (found === undefined)
    return unknownDevice(
      device,
      devices.map(({ name }) => name),
    );
  const nearest = nearestWord(
    port.value,
    found.ports.map(({ name }) => name),
  );
  return diagnosticAt("unknown-name", port.span, `\`${device.value}\` has no port \`${port.value}\``, {
    help: nearest === undefined ? undefined : `try \`${device.value}:${nearest}\``,
  });
}

/** Nobody in the rack is called so. */
export function unknownDevice({ value, span }: Located<string>, names: readonly string[]): Diagnostic {
  const nearest = nearestWord(value, names);
  return diagnosticAt("unknown-name", span, `this site has no device \`${value}\``, {
    help: nearest === undefined ? undefined : `try \`${nearest}\``,
  });
}
