/**
 * The key table of the topology kind.
 */
import type { Findings } from "./findings.ts";
import { hardware } from "./leaf-addresses.ts";
import { rate } from "./leaf-numbers.ts";
import { PORT_NAMES_KEY, portNames, portReference } from "./leaf-ports.ts";
import { declaredName, declaredPart, freeText, NAME_SCHEMA, nameOf, words } from "./leaf-words.ts";
import type { Node } from "./node.ts";
import { reportOverlaps } from "./overlap.ts";
import { mapped, type Shape, unlocated } from "./shape.ts";
import { either, entries, list, sequence } from "./shape-collection.ts";
import { defaulted, named, optional, record, required } from "./shape-record.ts";
import { type Header, header } from "./table-header.ts";
import type { Cable, PortGroup, SharedFate, TopologyDevice, TopologyDocument } from "./topology.ts";
import type { List, Located, PortReference } from "./values.ts";

const shares: Shape<List<string>> = list(nameOf("a shared fate"), "a list of shared fates", 1);

type PortValue = Omit<PortGroup, "names">;

const portValue: Shape<PortValue> = either("a rate such as `1G`, or a mapping with `rate` and `mac`", {
  text: mapped(rate, (rateMbps, node): PortValue => ({ rateMbps, span: node.span })),
  map: record<PortValue>({
    id: "port",
    says: "a mapping with `rate` and `mac`",
    rows: {
      rateMbps: required("rate", rate, { says: "The rate printed beside the socket.", example: "2.5G" }),
      mac: optional("mac", hardware, {
        says: "The hardware address of the port; of several ports in one entry that of the first, and each further one counts one up.",
        default: "counted from the device's `mac`, else derived from the names",
        example: "02:00:5e:00:53:01",
      }),
    },
  }),
});

const ports: Shape<readonly PortGroup[]> = unlocated(
  entries({
    says: "a mapping of ports to rates: `{ p1..24: 1G }`",
    key: portNames,
    keySchema: PORT_NAMES_KEY,
    value: portValue,
    build: (names, value, span): PortGroup => ({ ...value, names, span }),
    check: (groups, findings) =>
      reportOverlaps(
        groups.map(({ names }) => names),
        findings,
      ),
  }),
);

const device: Shape<Omit<TopologyDevice, "name">> = record<Omit<TopologyDevice, "name">>({
  id: "racked-device",
  says: "a mapping that begins with `is`",
  rows: {
    is: required(
      "is",
      words({
        router: "forwards between networks as its intent says, and does nothing without one",
        switch: "a managed switch: without intent every port is in VLAN 1, untagged, and spanning tree is on",
        "unmanaged-switch": "passes every frame with its tags, and no LACP",
        "access-point": "joins radios to its ports as its intent says",
        host: "a computer, phone, printer: an end of connections, which does not forward",
        upstream: "the provider's side of the uplink, with the internet behind it",
      }),
      { says: "What the device is, which decides what it does without intent.", example: "switch" },
    ),
    ports: defaulted("ports", ports, [], {
      says: "Its sockets by name, each with its rate; `p1..24` writes a run.",
      default: "no ports",
      example: "{ p1..24: 1G, x1..2: 10G }",
    }),
    radios: optional("radios", list(declaredPart, "a list of radios", 1), {
      says: "Its radios by name; access points offer SSIDs on them, hosts join by them.",
      default: "no radios",
      example: "[band2, band5]",
    }),
    poweredBy: optional("powered-by", list(portReference, "a list of ports such as `[core:p5]`", 1), {
      says: "The ports that feed it over the cable; it is down when none of their devices is up.",
      default: "it has power of its own",
      example: "[core:p5]",
    }),
    mac: optional("mac", hardware, {
      says: "The hardware address of its first port; each further port counts one up (common practice).",
      default: "derived from the names of device and port",
      example: "02:00:5e:00:53:10",
    }),
    spanningTreeFrames: optional(
      "spanning-tree-frames",
      words({
        pass: "they go through like any other frame",
        eat: "they end there, so that a loop behind it is not seen",
        unknown: "not known: every assertion must hold either way",
      }),
      { says: "What an unmanaged switch does with spanning-tree frames.", default: "`unknown`", example: "pass" },
    ),
    shares: optional("shares", shares, {
      says: "The shared fates it goes down with, such as a power strip.",
      default: "it goes down alone",
      example: "[strip-one]",
    }),
    note: optional("note", freeText, {
      says: "Words for people; nothing depends on them.",
      example: "on the top shelf",
    }),
  },
  check: checkDevice,
});

function checkDevice(found: Omit<TopologyDevice, "name">, findings: Findings): void {
  const { is, spanningTreeFrames, radios } = found;
  if (spanningTreeFrames !== undefined && is.value !== "unmanaged-switch") {
    const message = `\`spanning-tree-frames\` has no meaning for \`is: ${is.value}\``;
    findings.report("keys-conflict", spanningTreeFrames.span, message, { also: [{ span: is.span, text: "" }] });
  }
  if (radios !== undefined && is.value !== "access-point" && is.value !== "host") {
    findings.report("keys-conflict", radios.span, `radios have no meaning for \`is: ${is.value}\``, {
      also: [{ span: is.span, text: "" }],
      notes: ["a box with a radio and ports of its own is written as a router and an access point, joined by a cable"],
    });
  }
}

/** Two ports. */
export type Ends = readonly [Located<PortReference>, Located<PortReference>];

/** The two ports that a cable joins. */
export const ends: Shape<Ends> = mapped(
  sequence(portReference, "two ports such as `[edge:lan1, core:p1]`"),
  (found, node, { findings }): Ends | undefined => {
    const [one, other] = found.value;
    const written = itemsOf(node);
    if (written === 2) return one === undefined || other === undefined ? undefined : [one, other];
    findings.report("wrong-shape", node.span, `a cable joins two ports, not ${written}`);
    return undefined;
  },
);

function itemsOf(node: Node): number {
  return node.kind === "list" ? node.items.length : 1;
}

const cable: Shape<Cable> = either("two ports such as `[edge:lan1, core:p1]`, or a mapping with `ends`", {
  list: mapped(ends, (found, node): Cable => ({ ends: found, span: node.span })),
  map: record<Cable>({
    id: "cable",
    says: "a mapping with `ends`",
    rows: {
      ends: required("ends", ends, { says: "The two ports it joins.", example: "[edge:lan1, core:p1]" }),
      rateMbps: optional("rate", rate, {
        says: "The most that it carries, when that is less than both ports can.",
        default: "no limit of its own",
        example: "100M",
      }),
      shares: optional("shares", shares, {
        says: "The shared fates it goes down with, such as a duct.",
        default: "it goes down alone",
        example: "[yard-duct]",
      }),
      note: optional("note", freeText, {
        says: "Words for people; nothing depends on them.",
        example: "grey, behind the stairs",
      }),
    },
  }),
});

type TopologyBody = Omit<TopologyDocument, "kind"> & Header;

/** Everything that a topology document may hold. */
export const topologyTable: Shape<TopologyBody> = record<TopologyBody>({
  id: "topology",
  says: "a topology document",
  rows: {
    header: header("topology"),
    devices: defaulted(
      "devices",
      unlocated(
        entries({
          says: "a mapping of names to devices",
          key: declaredName,
          keySchema: NAME_SCHEMA,
          value: device,
          build: named<TopologyDevice>,
          tracked: true,
        }),
      ),
      [],
      {
        says: "Every device that is racked, by name.",
        default: "no devices",
        example: "{ core: { is: switch, ports: { p1..24: 1G } } }",
      },
    ),
    cables: defaulted(
      "cables",
      unlocated(sequence(cable, "a list of cables, one a line: `- [edge:lan1, core:p1]`")),
      [],
      {
        says: "Every cable, as the pair of ports it joins; a port takes one cable.",
        default: "no cables",
        example: "[[edge:lan1, core:p1]]",
      },
    ),
    sharedFates: defaulted(
      "shared-fates",
      unlocated(
        entries({
          says: "a mapping of names to words for people",
          key: declaredName,
          keySchema: NAME_SCHEMA,
          value: freeText,
          build: (name, note, span): SharedFate => ({ name, note, span }),
          tracked: true,
        }),
      ),
      [],
      {
        says: "Things that take several cables or devices down at once, by name; `shares` refers to them.",
        default: "none",
        example: "{ yard-duct: the duct under the yard }",
      },
    ),
  },
});
