/**
 * The way of a packet in sentences, one a step. Both engines note the same steps in the same words; steps that only pass
 * a packet on are left out.
 */
import { beyondTo, deviceOf, type Fate, type Id, isBeyond, lastName, type PathStep } from "../network/index.ts";
import { deviceName, type Names, nameAt, ssidOf } from "./tell.ts";
import type { Told } from "./verdict.ts";

/**
 * The way of a packet, step by step; steps that only pass it on are left out, and what would be told twice in a row. `fate`
 * says what the last rule did, where the way ends at one: it stopped the packet, it let it pass to what ended it, or nobody knows.
 * Default: it stopped it.
 */
export function tellPath(path: readonly PathStep[], names: Names, fate?: Fate): Told[] {
  const told: Told[] = [];
  for (const [index, step] of path.entries()) {
    const before = path[index - 1];
    const text = index > 0 && index === path.length - 1 ? tellLast(step, names, fate) : tellStep(step, names);
    const device = deviceName(step.at);
    const at = isBeyond(step.at) ? deviceOf(step.at) : step.at;
    if (step.did === "leave" && before?.did === "lookup" && told.length > 0) {
      told[told.length - 1] = { device, at: step.at, text: tellLeave(before, step), origin: before.origin };
    } else if (text !== "" && !(told.at(-1)?.text === text && told.at(-1)?.device === device)) {
      told.push({ device, at, text, origin: step.origin });
    }
  }
  return told;
}

function tellStep(step: PathStep, names: Names): string {
  return TELL.get(step.did)?.(step, names) ?? "";
}

/** A way ends where something stops the packet, if it was not a delivery. */
function tellLast(step: PathStep, names: Names, fate: Fate | undefined): string {
  const { did, detail } = step;
  if (did === "route" && isBeyond(detail)) return `is led to ${lastName(detail)} by the internet`;
  if (did !== "filter") return tellStep(step, names);
  if (fate?.end === "unknown") return tellFilter("is lost sight of at", step, names);
  // What no rule ended may have passed the last one: nobody listens behind it, or there is no address to translate to.
  const isPast = (fate?.end === "dropped" || fate?.end === "refused") && fate.reason !== "filter";
  return isPast ? tellStep(step, names) : tellFilter("is stopped by", step, names);
}

/** Out of a bridge by the port that was looked up, or by a member of it: told as one. */
function tellLeave({ detail }: PathStep, { at }: PathStep): string {
  const [to, ...tagging] = exitsIn(detail);
  if (to === at || !at.includes(":")) return `goes ${[tellExit(to), ...tagging].join(", ")}`;
  return [`goes out at ${at} of ${to.slice(to.lastIndexOf(":") + 1)}`, ...tagging].join(", ");
}

/** Where a bridge sends a frame, to one port or to all of them, and how it is tagged there. */
function exitsIn(detail: string): readonly [to: string, ...tagging: string[]] {
  const [to = "", ...tagging] = detail.replace(/^to all: /, "").split(", ");
  return [to, ...tagging];
}

/** The VLAN that a step of a way puts a packet into, from its words; undefined: it says nothing of one. */
export function vlanTold(text: string): number | undefined {
  const [, vlan] = /^is in VLAN (\d+)$/.exec(text) ?? [];
  return vlan === undefined ? undefined : Number(vlan);
}

/** How each kind of step reads; kinds that are not here only pass the packet on. */
const TELL: ReadonlyMap<string, (step: PathStep, names: Names) => string> = new Map([
  ["enter", ({ at }) => tellEntry(at)],
  ["leave", tellExitAt],
  ["classify", ({ detail }) => `is in ${detail.split(" from ")[0]}`],
  ["ignore-tags", () => "is passed on, tags and all"],
  ["lookup", tellLookup],
  ["ask", ({ detail }) => `asks ${detail.split(" on ")[0]}`],
  ["answer", ({ detail }) => `is told that ${detail}`],
  ["route", tellRoute],
  ["filter", (step, names) => tellFilter("passes", step, names)],
  ["translate", tellTranslation],
  ["deliver", () => "arrives"],
]);

function tellExitAt({ at }: PathStep): string {
  if (isBeyond(at)) return `crosses the internet from ${deviceOf(at)} to ${beyondTo(at)}`;
  return at.includes(":") ? `goes out at ${portName(at)}` : "";
}

function tellEntry(at: Id): string {
  if (isBeyond(at)) return "";
  const [ssid] = ssidOf(at) ?? [];
  if (ssid !== undefined) return `comes in by \`${ssid}\``;
  return at.includes(":") ? `comes in at ${portName(at)}` : "";
}

/** A port as people know it; that of a stand-in client has no device that they could know. */
function portName(at: Id): string {
  return at.startsWith("~") ? at.slice(at.indexOf(":") + 1) : at;
}

function tellFilter(verb: string, { origin }: PathStep, names: Names): string {
  return `${verb} ${nameAt(origin, names) ?? "the filter"}`;
}

function tellLookup({ at, detail }: PathStep): string {
  const [to, ...tagging] = exitsIn(detail);
  const where = to.endsWith("/switching/own") ? `on to ${deviceName(at)} itself` : tellExit(to);
  return `goes ${[where, ...tagging].join(", ")}`;
}

function tellExit(to: string): string {
  const [ssid, client] = ssidOf(to) ?? [];
  if (ssid === undefined) return to.includes(":") ? `out at ${to}` : `on to ${to}`;
  return `out by \`${ssid}\` to ${client === "open" ? "whoever is there" : client}`;
}

function tellRoute({ at, detail }: PathStep): string {
  if (detail === "to itself") return `is for ${deviceName(at)} itself`;
  if (detail === "nowhere" || detail.startsWith("to ")) return `is routed ${detail}`;
  const [egress = "", via] = detail.split(" via ");
  // Told by the next step: it crosses the internet.
  if (isBeyond(egress)) return "";
  return `is routed out of ${lastName(egress)}${via === undefined ? "" : ` to ${via}`}`;
}

function tellTranslation({ origin, detail }: PathStep, names: Names): string {
  const [end = "", value] = detail.split(" ");
  if ((end === "source" || end === "destination") && value !== undefined) return `its ${end} becomes ${value}`;
  if (detail === "as the connection says") return "is translated as its connection was";
  return `is translated by ${nameAt(origin, names) ?? "a rule"}`;
}
