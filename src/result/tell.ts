/**
 * What became of a packet, told in sentences of our own. Fates and path steps come from both engines in the same
 * terms; names of rules and tables are found by their origins, so that an answer names things as the person did.
 */
import {
  BROADCAST_HARDWARE,
  formatAddress,
  formatHardware,
  formatService,
  keyAddress,
  single,
} from "../address/index.ts";
import type { Origin, Span } from "../diagnose/index.ts";
import {
  type DropReason,
  deviceOf,
  type EarlierPacket,
  type Fate,
  type FateClass,
  type Id,
  lastName,
  type Network,
  type Pick as Option,
  type PathStep,
  splitIds,
} from "../network/index.ts";
import { TCP_RST } from "../wire/index.ts";
import type { Packet } from "./verdict.ts";

/** Names of rules and lists by the place they were written at. */
export type Names = ReadonlyMap<string, string>;

const spanKey = (span: Span): string => `${span.file}:${span.start}:${span.end}`;

/** Name of what was written at an origin, if it has one. */
export function nameAt({ span }: Origin, names: Names): string | undefined {
  return names.get(spanKey(span));
}

/** Finds the name of what was written at an origin: a rule in backticks, or the end of a list. */
export function namesOf(network: Network): Names {
  const names = new Map<string, string>();
  for (const table of network.tables) {
    if (table.kind === "routes") continue;
    for (const rule of table.rules) names.set(spanKey(rule.origin.span), `\`${lastName(rule.id)}\``);
    const list = table.kind === "filter" ? `\`${lastName(table.id)}\` list` : "translations";
    const key = spanKey(table.otherwise.origin.span);
    if (!names.has(key)) names.set(key, `the end of the ${list} of ${deviceOf(table.id)}`);
  }
  return names;
}

/** What each reason says: `%` is the decider, `@` the place, `!` the device, `&` the address that was asked for. */
const REASONS: { readonly [reason in DropReason]: string } = {
  "link-down": "the link at `@` is down",
  "nobody-connected": "nothing is plugged into `@`",
  "no-taker": "nothing on ! takes these frames at `@`",
  "reserved-group": "! keeps frames of this reserved group address to itself",
  "tree-blocked": "the spanning tree blocks `@`",
  "kind-not-admitted": "`@` does not admit frames of this kind",
  "no-port-vlan": "`@` has no network for untagged frames",
  "not-member": "`@` does not carry this network",
  "lease-guarded": "no answers of DHCP servers may enter at `@`",
  isolated: "clients there are kept apart",
  "same-port": "it would leave `@` where it came in",
  "frame-too-big": "the frame is larger than `@` carries",
  "member-idle": "it arrives on `@`, a member of the bond that takes nothing",
  "not-for-this-station": "it is addressed to another station than !",
  storm: "a loop that nothing cuts drowns this segment",
  martian: "! refuses such an address",
  "own-source": "! drops a packet that claims to come from its own address",
  "wrong-leg": "! answers for that address on another leg only",
  "reverse-path": "! drops a source that does not belong where it came from",
  filter: "dropped by %",
  "unknown-action": "nobody knows what % does",
  "no-address-to-translate-to": "! has no address to translate to",
  "no-free-port": "! has no port left to translate to",
  "no-route": "! knows no way to this address",
  unreachable: "a route of ! says unreachable",
  prohibited: "a route of ! says prohibited",
  blackhole: "a route of ! throws it away",
  "no-transit": "! does not forward",
  "hop-limit": "its hop limit ends at !",
  "too-big": "it is larger than the next link of ! carries",
  "no-neighbour": "nobody answers for & on the link of !",
  "tunnel-down": "the tunnel of ! is not up",
  "upstream-down": "the internet beyond ! leads to an upstream that is down",
  "foreign-source": "! takes no such source out of that tunnel",
  "not-public": "! lets only what has a public source cross the internet",
  "not-forwardable": "such an address is never forwarded by !",
  "interface-down": "the interface of ! is down",
  "no-source-address": "! has no address to send from",
  "no-listener": "nothing on ! listens for it",
  stray: "! knows of no exchange that it belongs to",
};

/** One sentence fragment on how a packet ended; its way, where known, tells the address that nobody answered for. */
export function tellFate(fate: Fate, names: Names, path: readonly PathStep[] = []): string {
  const device = deviceName(fate.at);
  switch (fate.end) {
    case "delivered":
      return `reaches ${device}`;
    case "on-segment":
      return `is put on the wire ${fate.at.includes(":") ? "at" : "by"} ${placeName(fate.at)}`;
    case "looped":
      return `goes round in a loop at ${device}`;
    case "unknown":
      return `nobody knows what becomes of it at ${device}: ${fate.note}`;
    case "dropped":
      return tellReason(fate, names, path);
    case "refused":
      return `${tellReason(fate, names, path)} (${tellRefusal(fate)} from ${device})`;
  }
}

/** The error by its name; where nothing says which version of ICMP it is, by its numbers. */
function tellRefusal({ icmp, from }: Fate & { readonly end: "refused" }): string {
  if (icmp === undefined) return "a reset";
  if (from === undefined) return `ICMP ${icmp.type}/${icmp.code}`;
  return tellService({ protocol: from.family === 4 ? 1 : 58, icmp });
}

type Stopped = Extract<Fate, { readonly reason: DropReason }>;

function tellReason({ reason, at, origin }: Stopped, names: Names, path: readonly PathStep[]): string {
  const decider = nameAt(origin, names) ?? (origin.by === "default" ? origin.rule : "a rule");
  const told = REASONS[reason]
    .replace("%", () => decider)
    .replace("@", () => placeName(at))
    .replace("!", () => deviceName(at))
    .replace("&", () => askedFor(path) ?? "the next address");
  return origin.by === "absent" ? `${told}: ${origin.wanted} is missing` : told;
}

/** The address whose hardware address was asked for last on a way. */
function askedFor(path: readonly PathStep[]): string | undefined {
  const last = path.findLast(({ did }) => did === "ask" || did === "route");
  return /(?:^who has | via )([^ ]+)/.exec(last?.detail ?? "")?.[1];
}

/** How people know the device of an id; a stand-in client is called after its network. */
export function deviceName(id: Id): string {
  const device = deviceOf(id);
  return device.startsWith("~") ? `a new client in ${device.slice(1)}` : device;
}

/** How people know a place: `core:p4`; a bridge port is called after its port. */
function placeName(id: Id): string {
  if (id.includes(":")) return id;
  const names = id.split("/");
  if (names.length >= 3 && names[1] === "switching") return `${deviceOf(id)}:${lastName(id)}`;
  return names.length >= 2 && (names[1] === "switching" || names[1] === "stack") ? deviceOf(id) : id;
}

/** Name of the SSID of an attachment to one, and the client there; undefined: it is none. */
export function ssidOf(at: Id): readonly [ssid: string, client: string] | undefined {
  const [, kind, ssid = "", client = ""] = at.split("/");
  return kind === "ssids" ? [ssid, client] : undefined;
}

/** A witness as a packet in words. */
export function packetOf({ witness, sentAt, before, waits }: Sent): Packet {
  const number = new Map(witness.numbers);
  const address = (field: "source" | "destination"): string => {
    const key = number.get(field);
    return key === undefined ? "any" : formatAddress(keyAddress(key));
  };
  const tag = Number(number.get("vlan") ?? 0n) - 4096;
  const sourcePort = number.get("sourcePort");
  return {
    sentAt: tellSender(sentAt),
    source: address("source"),
    destination: address("destination"),
    service: serviceOf(number),
    ...(sourcePort === undefined ? {} : { sourcePort: Number(sourcePort) }),
    ...(tag >= 0 ? { tag } : {}),
    ...framedBy(number),
    ...(witness.session === undefined ? {} : { session: witness.session }),
    ...(waits === undefined ? {} : { waitsSeconds: waits }),
    after: before.map(tellEarlier),
  };
}

/** What of the frame matters besides its tags: nothing looks at the rest. */
function framedBy(number: ReadonlyMap<string, bigint>): Pick<Packet, "station" | "toAll"> {
  const station = number.get("sourceHardware");
  if (station === undefined) return {};
  const toAll = number.get("destinationHardware") === BROADCAST_HARDWARE;
  return { station: formatHardware(station), ...(toAll ? { toAll } : {}) };
}

/** What is sent to show something. */
type Sent = Pick<FateClass, "witness" | "sentAt" | "before" | "waits">;

/** What waits is sent again mostly, and what resets goes a part of the way: with a hop limit of its own. */
function tellEarlier({ witness, sentAt, waits }: EarlierPacket): string {
  const number = new Map(witness.numbers);
  const [hops, flags = 0n] = [number.get("hopLimit"), number.get("tcpFlags")];
  const isReset = (flags & BigInt(TCP_RST)) !== 0n;
  const own = [...(isReset ? ["a reset"] : []), ...(waits === undefined ? [] : [`${waits} s later`])].join(", ");
  const line = oneLine(packetOf({ witness, sentAt, before: [] }));
  return own === "" ? line : `${line}, ${own}${hops === undefined ? "" : ` with hop limit ${hops}`}`;
}

/** Where a packet is sent, and on an SSID by whom. */
function tellSender(at: Id): string {
  const [ssid, client] = ssidOf(at) ?? [];
  if (ssid === undefined) return at.startsWith("~") ? deviceName(at) : placeName(at);
  return `${deviceOf(at)} by ${client === "open" ? "anyone" : client} on \`${ssid}\``;
}

function serviceOf(number: ReadonlyMap<string, bigint>): string {
  const protocol = number.get("protocol");
  if (protocol === undefined) return "any";
  const port = number.get("destinationPort");
  const type = number.get("icmpType");
  return tellService({
    protocol: Number(protocol),
    ...(port === undefined ? {} : { port: Number(port) }),
    ...(type === undefined ? {} : { icmp: { type: Number(type), code: Number(number.get("icmpCode") ?? 0n) } }),
  });
}

/** What one packet is for: a protocol number, and its destination port or its message. */
export type PacketService = {
  /** Protocol number. */
  readonly protocol: number;
  /** Destination port; absent where the protocol has none. */
  readonly port?: number;
  /** Type and code; absent for other protocols than ICMP and ICMPv6. */
  readonly icmp?: { readonly type: number; readonly code: number };
};

/**
 * Types by protocol whose code is 0 and goes without saying: queries and their answers (RFC 792, RFC 1256; RFC 4443 section 4), what is
 * said of groups and neighbours (RFC 2710, RFC 3810; RFC 4861 section 4), and `packet-too-big` (RFC 4443 section 3.2); from memory.
 */
const WITHOUT_CODE: ReadonlyMap<number, ReadonlySet<number>> = new Map([
  [1, new Set([0, 8, 9, 10, 13, 14])],
  [58, new Set([2, 128, 129, 130, 131, 132, 133, 134, 135, 136, 137, 143])],
]);

/** What a packet is for, as the trade writes it: `tcp/443`, `icmp/echo-request`. */
export function tellService({ protocol, port, icmp }: PacketService): string {
  const isPlain = icmp?.code === 0 && WITHOUT_CODE.get(protocol)?.has(icmp.type) === true;
  const message = icmp !== undefined && isPlain ? { type: icmp.type } : icmp;
  return formatService({
    protocol,
    ...(port === undefined ? {} : { ports: single(BigInt(port)) }),
    ...(message === undefined ? {} : { icmp: message }),
  });
}

/** A packet in one line. */
export function oneLine(packet: Packet): string {
  const port = packet.sourcePort === undefined ? "" : ` port ${packet.sourcePort}`;
  const tag = packet.tag === undefined ? "" : `, tagged ${packet.tag}`;
  const all = packet.toAll === true ? " in a frame to everyone" : "";
  const station = packet.station === undefined ? "" : `, from hardware address ${packet.station}${all}`;
  const session = packet.session === undefined ? "" : ", in a PPPoE session";
  const later = packet.waitsSeconds === undefined ? "" : `, ${packet.waitsSeconds} s after what comes before it`;
  return `${packet.service} from ${packet.source}${port} to ${packet.destination}, sent at ${packet.sentAt}${station}${tag}${session}${later}`;
}

/** A packet, then what has to be sent before it, each in a line of its own. */
export function packetLines(packet: Packet): readonly string[] {
  return [`packet: ${oneLine(packet)}`, ...earlierLines(packet).map((line) => `after: ${line}`)];
}

/** What has to be sent before a packet, in its order; how often, where the same is sent several times running. */
export function earlierLines({ after }: Packet): readonly string[] {
  const runs: { readonly line: string; times: number }[] = [];
  for (const line of after) {
    const last = runs.at(-1);
    if (last?.line === line) last.times++;
    else runs.push({ line, times: 1 });
  }
  return runs.map(({ line, times }) => (times === 1 ? line : `${line}, ${times} times`));
}

/** Picks in words; empty where there are none. */
export function tellPicks(picks: readonly Option[]): string {
  return picks.map(tellPick).join(", ");
}

/** How each kind of choice reads, by the last name of its id. */
const PICKS: ReadonlyMap<string, (about: Id, option: Id) => string> = new Map([
  ["member", (about, option) => `${placeName(about)} sends by ${placeName(option)}`],
  ["path", (about, option) => `${deviceName(about)} takes the way ${option}`],
  ["server", (about, option) => `${deviceName(about)} takes the lease of ${deviceOf(option)}`],
  ["access-point", (about, option) => `${deviceName(about)} is on ${accessPointOf(option)}`],
  ["advertiser", (_about, option) => tellOrder(splitIds(option))],
  ["router", (about, option) => tellRouter(about.split(" via "), option)],
  ["neighbour", (about, option) => `${deviceName(option)} answers ${placeName(about)} first`],
  ["port", (about, option) => `${deviceName(about)} draws port ${option}`],
  ["spanning-tree", (about, option) => `${deviceOf(about)} ${TREE_FRAMES.get(option) ?? option} spanning-tree frames`],
]);
const TREE_FRAMES: ReadonlyMap<string, string> = new Map([
  ["pass", "passes"],
  ["eat", "eats"],
]);

function tellOrder(advertisers: readonly Id[]): string {
  const [first, last] = [advertisers[0], advertisers.at(-1)].map((id) => deviceName(id ?? ""));
  return advertisers.length > 2 ? `${first} advertises first and ${last} last` : `${first} advertises first`;
}

function tellRouter([leg = "", router]: readonly string[], option: Id): string {
  return `${deviceName(leg)} ${option === "given-up" ? "has given up" : "has not tried"} its router ${router}`;
}

/** The option is a radio link, `phone:wlan--loft/ssids/Guest/phone`. */
function accessPointOf(link: Id): string {
  const end = link.indexOf("/ssids/");
  return deviceOf(link.slice(link.lastIndexOf("--", end) + 2));
}

function tellPick({ choice, option }: Option): string {
  const end = choice.lastIndexOf("/");
  const told = PICKS.get(choice.slice(end + 1))?.(choice.slice(0, end), option);
  return told ?? `${placeName(choice)} takes ${placeName(option)}`;
}

/** A word as a POSIX shell reads it, for commands that people paste. */
export function shellWord(word: string): string {
  return /^[\w./-]+$/.test(word) ? word : `'${word.replaceAll("'", `'\\''`)}'`;
}

/** A rate as the documents write it: `2.5G`. Of a broken one two digits behind the point are told. */
export function tellRate(mbps: number): string {
  const [value, unit] = mbps >= 1_000_000 ? [mbps / 1_000_000, "T"] : mbps >= 1000 ? [mbps / 1000, "G"] : [mbps, "M"];
  return `${Number.isInteger(value * 100) ? value : value.toFixed(2)}${unit}`;
}
