/**
 * Where a step stands, and which line of the plan it touches: a cable, a port, a device, a server.
 */
import type { Origin, Span } from "../diagnose/index.ts";
import type { Located, PortReference, StoryAct, StoryEvent } from "../document/index.ts";
import type { Network } from "../network/index.ts";
import type { Evidence } from "../result/index.ts";
import type { Site } from "../site/index.ts";
import { idOfPort } from "./cabling.ts";
import { servicesMeant } from "./power.ts";
import type { Rig } from "./rig.ts";

/** What to point at for a step: what it happens to. */
export function placeOf(act: StoryAct, whole: Span): Span {
  switch (act.kind) {
    case "plug":
      return act.at;
    case "move":
      return { ...act.from.span, end: Math.max(act.from.span.end, act.to.span.end) };
    case "unplug":
    case "port-off":
    case "port-on":
      return act.port.span;
    case "power-off":
    case "power-on":
    case "restart":
    case "save":
    case "forget":
      return act.device.span;
    case "server-off":
    case "server-on":
      return act.server.span;
    case "change":
      return act.change.by === "plan" ? act.change.plan.span : (act.change.edits.value[0]?.path.span ?? whole);
    case "wait":
    case "walk":
      return act.lengthMs.span;
    case "assert":
    case "meanwhile":
    case "no-longer":
      return act.asked.span;
  }
}

/** The line of the plan that an event touches; undefined: it brings something new. */
export function touchedBy(event: StoryEvent, rig: Rig, site: Site, network: Network): Evidence | undefined {
  switch (event.kind) {
    case "unplug":
      return cableLine(event.port, rig, "the cable that is pulled");
    case "move":
      return cableLine(event.from, rig, "the cable that is moved");
    case "port-off":
    case "port-on":
      return line(portOrigin(event.port, site), "the port");
    case "power-off":
    case "restart":
    case "power-on":
    case "save":
    case "forget":
      return line(site.devices.find(({ name }) => name === event.device.value)?.origin, "the device");
    case "server-off":
    case "server-on":
      return line(servicesMeant(event.server, network)[0]?.origin, "the server");
    case "plug":
    case "change":
      return undefined;
  }
}

function line(origin: Origin | undefined, text: string): Evidence | undefined {
  return origin && { origin, text };
}

function cableLine(port: Located<PortReference>, { cables }: Rig, text: string): Evidence | undefined {
  const cable = cables.find(({ ends }) => ends.some((end) => idOfPort(end) === idOfPort(port)));
  return line(cable && { by: "written", span: cable.span }, text);
}

function portOrigin({ value: { device, port } }: Located<PortReference>, site: Site): Origin | undefined {
  return site.devices.find(({ name }) => name === device.value)?.ports.find(({ name }) => name === port.value)?.origin;
}
