/**
 * Services as the trade writes them: `tcp/443`, `tcp/8000-8080`, `tcp`, `icmp/echo-request`, `icmp/3/4`, `gre`, `protocol/47`, `any`.
 * A service is a set of packets by protocol and destination port, or by ICMP type and code. Words are lower case.
 * What cannot be read is answered with what is wrong and, where it can be told, what was probably meant.
 */
import { nearestWord } from "../diagnose/index.ts";
import { formatRanges, parsePortRange } from "./number-text.ts";
import { type IcmpName, icmpTable, PORT_PROTOCOLS, PROTOCOLS, protocolName, protocolNumber } from "./protocols.ts";
import { type Ranges, rangeOf } from "./ranges.ts";

/** Packets that go to one service. */
export type Service = {
  /** IP protocol number, 0 to 255; undefined means every protocol. */
  readonly protocol: number | undefined;
  /** Destination ports; absent means every port, or a protocol without ports. */
  readonly ports?: Ranges;
  /** ICMP type and code, for protocols 1 and 58 only; absent means every type. */
  readonly icmp?: {
    /** Type field. */
    readonly type: number;
    /** Code field; absent means every code. */
    readonly code?: number;
  };
};

/** Echoes (RFC 792, RFC 4443 section 4.1), or ICMP of which nothing more is said. */
export function isEcho({ protocol, icmp }: Service): boolean {
  if (protocol !== 1 && protocol !== 58) return false;
  return icmp === undefined || icmp.type === (protocol === 1 ? 8 : 128);
}

/** Why a text is no service. */
export type ServiceProblem = {
  /** A sentence without a capital or full stop, with what was written in backticks. */
  readonly problem: string;
  /** The service that was probably meant, in its right form. */
  readonly nearest?: string;
};

/** Reads one service. */
export function parseService(text: string): Service | ServiceProblem {
  const read = readService(text);
  if (!("why" in read)) return read;
  const problem = `\`${text}\` is no service: ${read.why}`;
  // Only what can be read itself is suggested.
  const sure = read.guess !== undefined && !("why" in readService(read.guess));
  return sure && read.guess !== undefined ? { problem, nearest: read.guess } : { problem };
}

/** Why a text cannot be read, and a guess at what was meant that nobody has checked yet. */
type Misread = { readonly why: string; readonly guess: string | undefined };

function misread(why: string, guess?: string): Misread {
  return { why, guess };
}

function readService(text: string): Service | Misread {
  const [word = "", ...rest] = text.split("/");
  if (word === "any") return rest.length === 0 ? { protocol: undefined } : misread("`any` takes no port", "any");
  if (word === "protocol") return numbered(rest);
  const protocol = protocolNumber(word);
  if (protocol === undefined) return unknownWord(text, word, rest);
  return rest.length === 0 ? { protocol } : detailed(protocol, word, rest);
}

/** A decimal number up to 255 without leading zeros. */
function byteOf(text: string | undefined): number | undefined {
  if (text === undefined || !/^(?:0|[1-9]\d{0,2})$/.test(text)) return undefined;
  const value = Number(text);
  return value <= 255 ? value : undefined;
}

function numbered(rest: readonly string[]): Service | Misread {
  const protocol = rest.length === 1 ? byteOf(rest[0]) : undefined;
  if (protocol !== undefined) return { protocol };
  return misread("behind `protocol/` stands a number from 0 to 255");
}

function detailed(protocol: number, word: string, rest: readonly string[]): Service | Misread {
  const table = icmpTable(protocol);
  if (table !== undefined) return icmp(protocol, table, rest);
  if (!PORT_PROTOCOLS.includes(protocol)) return misread(`\`${word}\` has no ports`, word);
  const [ports = ""] = rest;
  return rest.length === 1 ? ported(protocol, ports) : misread("too many `/`", `${word}/${ports}`);
}

function ported(protocol: number, ports: string): Service | Misread {
  const range = parsePortRange(ports);
  if (!("problem" in range)) return { protocol, ports: rangeOf(range.low, range.high) };
  const word = protocolName(protocol) ?? "";
  switch (range.problem) {
    case "backwards":
      return misread("the range ends before it begins", `${word}/${ports.split("-").reverse().join("-")}`);
    case "outside":
      return misread("ports are 0 to 65535");
    default:
      return misread(whyNoPort(ports), portGuess(word, ports));
  }
}

function whyNoPort(ports: string): string {
  if (ports.includes(",")) return "several services are a list of them";
  return ports === "" ? "the port is missing" : `\`${ports}\` is neither a port nor a range of ports`;
}

/** Well-known ports by the names that people use, for suggestions only (RFC 6335's registry, from memory). */
const WELL_KNOWN: ReadonlyMap<string, string> = new Map([
  ["ssh", "tcp/22"],
  ["smtp", "tcp/25"],
  ["dns", "udp/53"],
  ["domain", "udp/53"],
  ["dhcp", "udp/67"],
  ["tftp", "udp/69"],
  ["http", "tcp/80"],
  ["ntp", "udp/123"],
  ["snmp", "udp/161"],
  ["ldap", "tcp/389"],
  ["https", "tcp/443"],
  ["smb", "tcp/445"],
  ["syslog", "udp/514"],
  ["ipp", "tcp/631"],
  ["nfs", "tcp/2049"],
  ["rdp", "tcp/3389"],
  ["ping", "icmp/echo-request"],
  ["icmpv6", "icmp6"],
  ["ipv6-icmp", "icmp6"],
  ["all", "any"],
  ["*", "any"],
]);

function portGuess(word: string, ports: string): string | undefined {
  if (ports === "" || ports === "*" || ports === "any" || ports === "all") return word;
  const port = WELL_KNOWN.get(ports.toLowerCase())?.split("/")[1];
  return port === undefined ? `${word}/${ports.replace(/(?:\.\.|:| - )/, "-")}` : `${word}/${port}`;
}

function unknownWord(text: string, word: string, rest: readonly string[]): Misread {
  return misread(`\`${word}\` is no protocol`, serviceGuess(text, word, rest));
}

/** What was probably meant: a name for a port, a port alone or in front, another case or joint, a slip of the finger. */
function serviceGuess(text: string, word: string, rest: readonly string[]): string | undefined {
  const lower = text.toLowerCase();
  const known = WELL_KNOWN.get(word.toLowerCase());
  if (known !== undefined) return [known, ...rest].join("/");
  const turned = /^(\d+(?:-\d+)?)\/([a-z]+)$/.exec(lower);
  if (turned !== null) return `${turned[2]}/${turned[1]}`;
  if (/^\d+(?:-\d+)?$/.test(word)) return `tcp/${word}`;
  const joined = /^([a-z]+6?)[: _]+(\S+)$/.exec(lower);
  if (joined !== null) return `${joined[1]}/${joined[2]}`;
  const names = [...PROTOCOLS.map(({ name }) => name), "any", "protocol"];
  const name = nearestWord(word, names);
  return name === undefined ? undefined : [name, ...rest].join("/").toLowerCase();
}

function icmp(protocol: number, table: readonly IcmpName[], rest: readonly string[]): Service | Misread {
  const [kind = "", codeText, ...more] = rest;
  const named = table.find((entry) => entry.name === kind);
  const type = named?.type ?? byteOf(kind);
  if (type === undefined) return unknownMessage(protocol, table, kind);
  const meant = named?.code === undefined ? { type } : { type, code: named.code };
  if (codeText === undefined) return { protocol, icmp: meant };
  const code = byteOf(codeText);
  const fits = code !== undefined && more.length === 0 && named?.code === undefined;
  return fits ? { protocol, icmp: { type, code } } : badCode(protocol, kind, named);
}

function unknownMessage(protocol: number, table: readonly IcmpName[], kind: string): Misread {
  const name = nearestWord(
    kind,
    table.map((entry) => entry.name),
  );
  const why = kind === "" ? "the message type is missing" : `\`${kind}\` is no message type`;
  const word = protocolName(protocol) ?? "";
  return misread(why, kind === "" ? word : name && `${word}/${name}`);
}

function badCode(protocol: number, kind: string, named: IcmpName | undefined): Misread {
  const word = protocolName(protocol) ?? "";
  if (named?.code !== undefined) return misread(`\`${kind}\` already means code ${named.code}`, `${word}/${kind}`);
  return misread("a code is a number from 0 to 255", `${word}/${kind}`);
}

/**
 * The text of a service. `parseService` reads it back, unless the service has several ranges of ports: these are shown as
 * `tcp/80,443`, while documents list one service each.
 */
export function formatService(service: Service): string {
  const { protocol, ports, icmp: message } = service;
  if (protocol === undefined) return "any";
  const word = protocolName(protocol) ?? `protocol/${protocol}`;
  if (ports !== undefined) return `${word}/${formatRanges(ports)}`;
  return message === undefined ? word : `${word}/${formatMessage(protocol, message.type, message.code)}`;
}

/** All services, in words. */
export const EVERY_SERVICE = "every service";

/** Several services in one line, each as `formatService` writes it. */
export function formatServices(services: readonly { readonly value: Service }[]): string {
  return services.map(({ value }) => formatService(value)).join(", ");
}

function formatMessage(protocol: number, type: number, code: number | undefined): string {
  const table = icmpTable(protocol) ?? [];
  const exact = table.find((entry) => entry.type === type && entry.code === code);
  if (exact !== undefined) return exact.name;
  return code === undefined ? `${type}` : `${type}/${code}`;
}
