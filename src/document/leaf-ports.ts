/**
 * Leaves that name ports: one (`wan`), a run (`p1..24`), a device's (`core:p5`), a device's run (`core:p3..6`).
 */

import type { SegmentPorts } from "./assertions.ts";
import type { Findings } from "./findings.ts";
import { parsePortName } from "./leaf-words.ts";
import { LONGEST_NAME, MOST_IN_RUN } from "./limits.ts";
import { type Node, shorten, type TextNode } from "./node.ts";
import { type JsonSchema, leaf, type Problem, type Shape, type Subject, wrongShape } from "./shape.ts";
import type { Located, PortNames, PortReference } from "./values.ts";

const RUN = /^(.*?)(\d+)\.\.(\d+)$/s;

/** Reads one port name or a run of them; the names of a run differ in their last number. */
export function expandPortNames(text: string): PortNames | Problem {
  if (!text.includes("..")) {
    const name = parsePortName(text);
    return typeof name === "string" ? { text, names: [name] } : name;
  }
  const [, stem, firstText, lastText] = RUN.exec(text) ?? [];
  if (stem === undefined || firstText === undefined || lastText === undefined) return badRun(text);
  const first = Number(firstText);
  const last = Number(lastText);
  if (last < first) return backwards(text, stem, firstText, lastText);
  if (last - first >= MOST_IN_RUN)
    return { refuse: "too-many", message: `\`${shorten(text)}\` stands for more than ${MOST_IN_RUN} ports` };
  const problem = parsePortName(`${stem}${lastText}`);
  if (typeof problem !== "string") return problem;
  return { text, names: runOf(stem, firstText, first, last) };
}

function runOf(stem: string, firstText: string, first: number, last: number): readonly string[] {
  // `p01..12` keeps its width: p01, p02, ...
  const width = firstText.startsWith("0") ? firstText.length : 0;
  return Array.from({ length: last - first + 1 }, (_, index) => stem + String(first + index).padStart(width, "0"));
}

function badRun(text: string): Problem {
  const [, stem, first, again, last] = /^(.*?)(\d+)\.\.(.*?)(\d+)$/s.exec(text) ?? [];
  const help = stem !== undefined && again === stem ? `write \`${stem}${first}..${last}\`` : undefined;
  return { refuse: "bad-range", message: `\`${shorten(text)}\` is not a run of ports such as \`p1..24\``, help };
}

function backwards(text: string, stem: string, first: string, last: string): Problem {
  return {
    refuse: "range-backwards",
    message: `the run \`${shorten(text)}\` ends before it begins`,
    help: `write \`${stem}${last}..${first}\``,
  };
}

/** JSON Schema of port names as a key of a mapping. */
export const PORT_NAMES_KEY: JsonSchema = { type: "string", minLength: 1, maxLength: LONGEST_NAME + 8 };

/** JSON Schema of a port, or a run of ports, as a value. */
export const PORT_NAMES_SCHEMA: JsonSchema = {
  type: ["string", "number"],
  minLength: 1,
  maxLength: LONGEST_NAME + 8,
};

/** A port, or a run of ports. */
export const portNames: Shape<Located<PortNames>> = leaf<PortNames>({
  says: "a port or a run such as `p1..24`",
  parse: expandPortNames,
  schema: PORT_NAMES_SCHEMA,
});

const PORT_SAYS = "a port of a device such as `core:p5`";
const PORTS_SAYS = "ports of a device such as `core:p3..6`";
const REFERENCE_SCHEMA: JsonSchema = { type: "string", pattern: "^[^:]+:[^:]+$" };

/** A port of a device: `core:p5`. */
export const portReference: Shape<Located<PortReference>> = {
  says: PORT_SAYS,
  read(node, findings, subject) {
    const halves = splitReference(node, findings, subject, PORT_SAYS);
    return halves === undefined ? undefined : { value: { device: halves[0], port: halves[1] }, span: node.span };
  },
  schema: () => REFERENCE_SCHEMA,
  parts: [],
};

/** Ports of a device: `core:p3..6`. */
export const segmentPorts: Shape<Located<SegmentPorts>> = {
  says: PORTS_SAYS,
  read(node, findings, subject) {
    const halves = splitReference(node, findings, subject, PORTS_SAYS);
    if (halves === undefined) return undefined;
    const [device, { value: text, span }] = halves;
    const ports = portNames.read({ kind: "text", text, span, plain: true }, findings, subject);
    return ports === undefined ? undefined : { value: { device, ports }, span: node.span };
  },
  schema: () => REFERENCE_SCHEMA,
  parts: [],
};

/** The two halves of `device:port`, each with its place. */
function splitReference(
  node: Node,
  findings: Findings,
  subject: Subject,
  says: string,
): readonly [Located<string>, Located<string>] | undefined {
  if (node.kind !== "text") return wrongShape(node, findings, subject, says);
  const colon = node.text.indexOf(":");
  const [device, port] = [node.text.slice(0, Math.max(0, colon)), node.text.slice(colon + 1)];
  if (device !== "" && port !== "" && !port.includes(":"))
    return [piece(node, 0, device), piece(node, colon + 1, port)];
  findings.report("bad-reference", node.span, `\`${shorten(node.text)}\` does not name a port of a device`, {
    notes: [`${subject.says} takes ${says}`],
  });
  return undefined;
}

/** A piece of a text with its own place, where the text stands in the file letter by letter. */
function piece(node: TextNode, from: number, text: string): Located<string> {
  const { file, start } = node.span;
  if (!node.plain) return { value: text, span: node.span };
  return { value: text, span: { file, start: start + from, end: start + from + text.length } };
}
