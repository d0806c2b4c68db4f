/**
 * The key table of the link layer in an intent: bonds, port membership, switching, spanning tree, radio networks.
 */
import type { Findings } from "./findings.ts";
import type { Bond, Membership, PortNumber, SpanningTree, Ssid, SwitchedPort, Switching } from "./intent-switching.ts";
import { hardware } from "./leaf-addresses.ts";
import { duration, mtu, networkOrVlan, networkOrVlans, parseNetworkOrVlan, wholeNumber } from "./leaf-numbers.ts";
import { PORT_NAMES_KEY, portNames } from "./leaf-ports.ts";
import { declaredPart, nameOf, onOff, PORT_NAME_SCHEMA, ssidName, words, yesNo } from "./leaf-words.ts";
import { reportOverlaps } from "./overlap.ts";
import { leaf, located, mapped, type Shape } from "./shape.ts";
import { either, entries, list } from "./shape-collection.ts";
import { named, optional, record, required } from "./shape-record.ts";
import type { List, Located, NetworkOrVlans, PortNames } from "./values.ts";

const portList: Shape<List<PortNames>> = list(portNames, "a list of ports such as `[p1, p2]`");

/** Bonds of a device. */
export const bonds: Shape<Located<readonly Bond[]>> = entries({
  says: "a mapping of names to bonds",
  key: declaredPart,
  keySchema: PORT_NAME_SCHEMA,
  value: record<Omit<Bond, "name">>({
    id: "bond",
    says: "a mapping with `members` and `mode`",
    rows: {
      members: required("members", list(portNames, "a list of ports such as `[lan1, lan2]`", 1), {
        says: "Its ports; their order counts for the first member and for the hash. A member has no settings of its own.",
        example: "[lan1, lan2]",
      }),
      mode: required(
        "mode",
        words({
          lacp: "both ends agree on the members by LACP (IEEE 802.1AX)",
          static: "every member that is up carries, whatever is at its other end",
          "active-backup": "one member carries, the others wait",
        }),
        { says: "How the members agree.", example: "lacp" },
      ),
      activity: optional(
        "activity",
        words({ active: "sends LACP frames unasked", passive: "sends LACP frames only to a partner that does" }),
        { says: "Who speaks first; only with `mode: lacp`.", default: "`active`", example: "passive" },
      ),
      speed: optional("speed", words({ fast: "a frame a second", slow: "a frame every 30 seconds" }), {
        says: "How often LACP frames are asked for; only with `mode: lacp`.",
        default: "`slow`",
        example: "fast",
      }),
      alone: optional("alone", words({ "first-member": "its first member carries", none: "the bond is down" }), {
        says: "What happens while no partner answers; only with `mode: lacp`.",
        default: "`first-member`",
        example: "none",
      }),
      hash: optional(
        "hash",
        words({
          layer2: "both hardware addresses",
          "layer2+3": "hardware and IP addresses",
          "layer3+4": "IP addresses and ports",
        }),
        { says: "What of a frame picks its member.", default: "`layer2`", example: "layer3+4" },
      ),
      minimum: optional("minimum", wholeNumber("a number of members", { low: 1, high: 64 }), {
        says: "How many members must be fit to carry for the bond to be up; with `mode: lacp` those that found a partner.",
        default: "1",
        example: "2",
      }),
      mac: optional("mac", hardware, {
        says: "The hardware address of the bond.",
        default: "that of its first member",
        example: "02:00:5e:00:53:20",
      }),
    },
    check: checkBond,
  }),
  build: named<Bond>,
});

function checkBond(bond: Omit<Bond, "name">, findings: Findings): void {
  reportOverlaps(bond.members.value, findings);
  if (bond.mode.value === "lacp") return;
  const also = [{ span: bond.mode.span, text: "" }];
  for (const [key, value] of [
    ["activity", bond.activity],
    ["speed", bond.speed],
    ["alone", bond.alone],
  ] as const) {
    if (value === undefined) continue;
    findings.report("keys-conflict", value.span, `\`${key}\` has no meaning with \`mode: ${bond.mode.value}\``, {
      also,
    });
  }
}

const portVlan: Shape<Exclude<Membership["portVlan"], undefined>> = leaf<NetworkOrVlans | { readonly by: "none" }>({
  says: "a network, a VLAN number or `none`",
  parse: (text) => (text === "none" ? { by: "none" } : parseNetworkOrVlan(text)),
  schema: { type: ["string", "integer"] },
  words: [{ word: "none", says: "untagged frames are refused" }],
});

const vlanList: Shape<List<NetworkOrVlans>> = list(
  networkOrVlans,
  "a list of networks or VLAN numbers such as `[crew, 40]`",
);

/** What a port carries, written out. */
export const membership: Shape<Membership> = record<Membership>({
  id: "membership",
  says: "a mapping such as `{ untagged: crew, admit: untagged }`",
  rows: {
    untagged: optional("untagged", networkOrVlan, {
      says: "The network of the port: untagged frames enter it, and its frames leave untagged. Short for `port-vlan` and `leaves-untagged` with the same network.",
      default: "none",
      example: "crew",
    }),
    portVlan: optional("port-vlan", portVlan, {
      says: "The VLAN that untagged frames enter.",
      default: "that of `untagged`, else none",
      example: "crew",
    }),
    leavesUntagged: optional("leaves-untagged", vlanList, {
      says: "The VLANs whose frames leave without a tag.",
      default: "that of `untagged`",
      example: "[crew]",
    }),
    tagged: optional("tagged", vlanList, {
      says: "The VLANs whose frames enter and leave with their tag.",
      default: "none",
      example: "[management, crew, 40]",
    }),
    admit: optional(
      "admit",
      words({ all: "tagged and untagged frames", tagged: "tagged frames only", untagged: "untagged frames only" }),
      { says: "Which frames may enter.", default: "`all` (RFC 4363)", example: "tagged" },
    ),
    filterIngress: optional("filter-ingress", onOff, {
      says: "Whether a frame is refused whose tag the port is no member of.",
      default: "that of the device's profile: `on` in `linux`, `off` in `rfc` (IEEE 802.1Q)",
      example: "on",
    }),
    isolated: optional("isolated", yesNo, {
      says: "Whether the port is kept from other isolated ports.",
      default: "`no`",
      example: "yes",
    }),
    leasesTrusted: optional("leases-trusted", yesNo, {
      says: "Whether answers of DHCP servers may enter here.",
      default: "`yes`",
      example: "no",
    }),
    mtu: optional("mtu", mtu(68), {
      says: "The largest payload of a frame, in bytes.",
      default: "that of the device",
      example: "9000",
    }),
  },
  check: checkMembership,
});

function checkMembership(found: Membership, findings: Findings): void {
  const { untagged } = found;
  if (untagged === undefined) return;
  for (const [key, value] of [
    ["port-vlan", found.portVlan],
    ["leaves-untagged", found.leavesUntagged],
  ] as const) {
    if (value === undefined) continue;
    findings.report("keys-conflict", value.span, `\`${key}\` is said by \`untagged\` already`, {
      also: [{ span: untagged.span, text: "said here" }],
      help: "write either `untagged`, or `port-vlan` and `leaves-untagged`",
    });
  }
}

type Use = SwitchedPort["use"];

const roleOrOff: Shape<Use> = mapped(
  nameOf("a port role"),
  (role): Use => (role.value === "off" ? { by: "off", span: role.span } : { by: "role", role }),
);

const switchedPorts: Shape<Located<readonly SwitchedPort[]>> = entries({
  says: "a mapping of ports to roles: `{ p1..8: seat }`",
  key: portNames,
  keySchema: PORT_NAMES_KEY,
  value: either<Use>("the name of a port role, `off`, or a mapping such as `{ untagged: crew }`", {
    text: roleOrOff,
    map: mapped(membership, (written): Use => ({ by: "membership", membership: written })),
  }),
  build: (ports, use, span): SwitchedPort => ({ ports, use, span }),
  check: (found, findings) =>
    reportOverlaps(
      found.map(({ ports }) => ports),
      findings,
    ),
});

function portNumbers(shape: Shape<Located<number>>, says: string): Shape<Located<readonly PortNumber[]>> {
  return entries({
    says,
    key: portNames,
    keySchema: PORT_NAMES_KEY,
    value: shape,
    build: (ports, number, span): PortNumber => ({ ports, number, span }),
    check: (found, findings) =>
      reportOverlaps(
        found.map(({ ports }) => ports),
        findings,
      ),
  });
}

type TreeSettings = Omit<Extract<SpanningTree, { on: true }>, "on"> & { readonly span: Membership["span"] };

const treeSettings: Shape<TreeSettings> = record<TreeSettings>({
  id: "spanning-tree",
  says: "a mapping such as `{ priority: 4096 }`",
  rows: {
    priority: optional("priority", wholeNumber("a priority", { low: 0, high: 61440, step: 4096 }), {
      says: "The lowest priority becomes the root.",
      default: "32768 (IEEE 802.1D)",
      example: "4096",
    }),
    costs: optional(
      "costs",
      portNumbers(wholeNumber("a path cost", { low: 1, high: 200_000_000 }), "a mapping of ports to path costs"),
      {
        says: "What a way over the port costs towards the root.",
        default: "by rate: 20000 at 1G (IEEE 802.1D-2004)",
        example: "{ p1: 20000 }",
      },
    ),
    portPriorities: optional(
      "port-priorities",
      portNumbers(wholeNumber("a port priority", { low: 0, high: 240, step: 16 }), "a mapping of ports to priorities"),
      { says: "Which of several equal ways is taken: that with the lowest.", default: "128", example: "{ p1: 64 }" },
    ),
    edge: optional("edge", portList, {
      says: "Ports with no switch behind them, which forward at once.",
      default: "none",
      example: "[p3..8]",
    }),
    guard: optional("guard", portList, {
      says: "Ports that go down when a spanning-tree frame arrives.",
      default: "none",
      example: "[p3..8]",
    }),
    helloSeconds: optional("hello", duration, {
      says: "How often the root speaks, 1s to 10s.",
      default: "2s",
      example: "2s",
    }),
    maxAgeSeconds: optional("max-age", duration, {
      says: "How long what was heard is believed, 6s to 40s.",
      default: "20s",
      example: "20s",
    }),
    forwardDelaySeconds: optional("forward-delay", duration, {
      says: "How long a port listens, and again how long it learns, 4s to 30s.",
      default: "15s",
      example: "15s",
    }),
  },
  check: checkTree,
});

/** Bounds of the timers in seconds (RFC 4188). */
const TIMERS = [
  ["hello", "helloSeconds", 1, 10],
  ["max-age", "maxAgeSeconds", 6, 40],
  ["forward-delay", "forwardDelaySeconds", 4, 30],
] as const;

function checkTree(settings: TreeSettings, findings: Findings): void {
  for (const [key, field, low, high] of TIMERS) checkSeconds(key, settings[field], low, high, findings);
}

function checkSeconds(
  key: string,
  written: Located<number> | undefined,
  low: number,
  high: number,
  findings: Findings,
): void {
  if (written === undefined || (written.value >= low && written.value <= high)) return;
  findings.report("bad-duration", written.span, `\`${key}\` is ${low}s to ${high}s (RFC 4188)`);
}

const spanningTree: Shape<SpanningTree> = either<SpanningTree>(
  "`on`, `off`, or a mapping such as `{ priority: 4096 }`",
  {
    text: mapped(onOff, (written): SpanningTree => (written.value ? { on: true } : { on: false })),
    map: mapped(treeSettings, (settings): SpanningTree => ({ on: true, ...settings })),
  },
);

/** The switching part of a device. */
export const switching: Shape<Switching> = record<Switching>({
  id: "switching",
  says: "a mapping with `ports`",
  rows: {
    tags: optional(
      "tags",
      words({
        obeyed: "a frame belongs to the VLAN of its tag",
        ignored: "tags pass unread, and all ports are one network",
      }),
      { says: "Whether VLAN tags count.", default: "`obeyed`", example: "obeyed" },
    ),
    unlisted: optional("unlisted", words({ "as-unboxed": "they are up, in VLAN 1, untagged", off: "they are down" }), {
      says: "What ports do that `ports` does not list.",
      default: "`as-unboxed`",
      example: '"off"',
    }),
    ports: optional("ports", switchedPorts, {
      says: "What each port or bond does: the name of a port role, a membership written out, or `off`.",
      default: "all are unlisted",
      example: '{ pair: uplink, p3..6: seat, p7: "off" }',
    }),
    own: optional("own", membership, {
      says: "The device's own membership in its switching: without one its interfaces reach no network.",
      default: "as unboxed: VLAN 1, untagged",
      example: "{ tagged: [management] }",
    }),
    spanningTree: optional("spanning-tree", located(spanningTree), {
      says: "Spanning tree, which blocks ways until no loop is left; one tree spans all VLANs.",
      default: "`on` for `is: switch`, else `off`",
      example: "{ priority: 4096, edge: [p3..8] }",
    }),
    ageingSeconds: optional("ageing", duration, {
      says: "How long a learned address is kept without use: 10s to 1000000s.",
      default: "300s (RFC 4188)",
      example: "300s",
    }),
  },
  check: ({ ageingSeconds }, findings) => checkSeconds("ageing", ageingSeconds, 10, 1_000_000, findings),
});

/** Radio networks of an access point. */
export const ssids: Shape<Located<readonly Ssid[]>> = entries({
  says: "a mapping of SSIDs to settings",
  key: ssidName,
  value: record<Omit<Ssid, "name">>({
    id: "ssid",
    says: "a mapping with `radio` and `network`",
    rows: {
      radio: required("radio", list(nameOf("a radio"), "a radio or a list of them", 1), {
        says: "The radios that offer it.",
        example: "[band2, band5]",
      }),
      network: required("network", networkOrVlan, { says: "The network its clients are put on.", example: "visitors" }),
      clients: optional(
        "clients",
        words({ isolated: "they reach the wire, not each other", free: "they reach each other too" }),
        { says: "Whether its clients reach each other at this access point.", default: "`free`", example: "isolated" },
      ),
    },
  }),
  build: named<Ssid>,
});
