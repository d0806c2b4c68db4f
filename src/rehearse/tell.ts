/**
 * Steps of a story in words.
 */
import {
  type Asked,
  type Change,
  type List,
  type Located,
  type PortReference,
  RESTART_MS,
  type StoryAct,
} from "../document/index.ts";
import { formatTime } from "../result/index.ts";
import { idOfPort } from "./cabling.ts";
import { tellServer } from "./power.ts";
import type { Rig } from "./rig.ts";

const MOST_NAMES = 3;

/** What happens in a step, as a sentence fragment; `before` is the site until then. */
export function tellAct(act: StoryAct, before: Rig): string {
  switch (act.kind) {
    case "unplug":
      return `the cable ${tellCable(act.port, before)} is pulled`;
    case "plug":
      return `a cable joins ${idOfPort(act.ends[0])} and ${idOfPort(act.ends[1])}`;
    case "move":
      return `the cable ${tellCable(act.from, before)} is moved: from ${idOfPort(act.from)} to ${idOfPort(act.to)}`;
    case "port-off":
      return `${idOfPort(act.port)} is switched off`;
    case "port-on":
      return `${idOfPort(act.port)} is switched on`;
    case "power-off":
      return `${act.device.value} loses its power`;
    case "power-on":
      return `${act.device.value} has power again`;
    case "restart":
      return `${act.device.value} restarts, which takes ${formatTime(act.takesMs?.value ?? RESTART_MS)}`;
    case "save":
      return `${act.device.value} saves what it runs`;
    case "server-off":
      return `${tellServer(act.server)} stops`;
    case "server-on":
      return `${tellServer(act.server)} runs again`;
    case "forget":
      return `${act.device.value} forgets the connections that it tracks`;
    case "change":
      return tellChange(act.change);
    case "wait":
      return `${formatTime(act.lengthMs.value)} pass`;
    case "walk":
      return `somebody walks there, for ${formatTime(act.lengthMs.value)}`;
    case "assert":
      return `asserted: ${tellAsked(act.asked)}`;
    case "meanwhile":
      return `from here on: ${tellAsked(act.asked)}`;
    case "no-longer":
      return `no longer: ${tellAsked(act.asked)}`;
  }
}

function tellCable(port: Located<PortReference>, { cables }: Rig): string {
  const id = idOfPort(port);
  const cable = cables.find(({ ends }) => ends.some((end) => idOfPort(end) === id));
  return cable === undefined ? `in ${id}` : cable.ends.map(idOfPort).join(" - ");
}

function tellChange(change: Change): string {
  if (change.by === "plan") return `the intent of ${change.plan.value} is in force`;
  const { value } = change.edits;
  const told = value.slice(0, MOST_NAMES).map(({ kind, path }) => `${kind} ${path.text}`);
  return `the intent changes: ${told.join(", ")}${more(value.length)}`;
}

function tellAsked({ value }: List<Asked>): string {
  const told = value.slice(0, MOST_NAMES).map(({ value: asked }) => {
    if (asked.by === "all") return "every assertion of the site";
    return asked.by === "name" ? asked.name : asked.assertion.name.value;
  });
  return `${told.join("; ")}${more(value.length)}`;
}

function more(count: number): string {
  return count > MOST_NAMES ? `, and ${count - MOST_NAMES} more` : "";
}
