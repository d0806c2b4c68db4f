/**
 * The way of a packet as numbered flags, one a step; the last one says what became of it.
 */
import { locate, type SourceFile } from "../../diagnose/index.ts";
import { earlierLines, type Packet, oneLine as packetLine, type Told } from "../../result/index.ts";
import { oneLine } from "../text.ts";
import { element, fragment, type Html, named, prose } from "./html.ts";

/** A packet, with what had to be sent before it. */
export function packetOf(packet: Packet): Html {
  const before = earlierLines(packet).map((earlier) =>
    element("p", { class: "packet" }, element("span", { class: "label" }, "after "), prose(oneLine(earlier))),
  );
  const line = prose(oneLine(packetLine(packet)));
  return fragment(element("p", { class: "packet" }, element("span", { class: "label" }, "packet "), line), before);
}

/** The way, where there is one: a flag for each device, as the picture has them. `end`: what became of the packet. */
export function wayOf(path: readonly Told[], sources: readonly SourceFile[], end: string): Html | undefined {
  if (path.length === 0) return undefined;
  const flags: Told[][] = [];
  for (const step of path) {
    const last = flags.at(-1);
    if (last?.[0]?.device === step.device) last.push(step);
    else flags.push([step]);
  }
  return element(
    "ol",
    { class: "way" },
    flags.map((steps) => flagOf(steps, sources)),
    element("li", { class: "end" }, prose(oneLine(end))),
  );
}

/** All that happened on one device before the next. */
function flagOf(steps: readonly Told[], sources: readonly SourceFile[]): Html {
  const told = steps.map((step) => element("li", {}, prose(oneLine(step.text)), placeOf(step, sources)));
  return element("li", {}, element("strong", {}, named(steps[0]?.device ?? "")), element("ul", {}, told));
}

/** The line of what somebody wrote; defaults and what is learned have none to show. */
function placeOf({ origin }: Told, sources: readonly SourceFile[]): Html | undefined {
  if (origin.by !== "written") return undefined;
  const { file, line } = locate(sources, origin.span);
  const name = file.slice(file.lastIndexOf("/") + 1);
  return element("span", { class: "place" }, ` ${oneLine(name)}:${line}`);
}
