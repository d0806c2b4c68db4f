/**
 * Leaves that are addresses, prefixes, ranges, hardware addresses and services, and the names that may stand for them.
 */
import {
  type Address,
  formatAddress,
  formatPrefix,
  type Hardware,
  isMulticastHardware,
  lastAddress,
  type Prefix,
  parseAddress,
  parseHardware,
  parsePrefix,
  parseService,
  type Service,
} from "../address/index.ts";
import type { AddressSource } from "./intent-device.ts";
import type { HardwareChoice } from "./intent-switching.ts";
import { parseTitle, unknownWord } from "./leaf-words.ts";
import { shorten } from "./node.ts";
import { isProblem, type JsonSchema, leaf, type Problem, type Shape } from "./shape.ts";
import type { AddressOrName, AddressRange, Located, NameReference, Target } from "./values.ts";

const TEXT: JsonSchema = { type: "string", minLength: 1 };

function badAddress(text: string): Problem {
  const plain = /^\d+\.\d+\.\d+\.\d+$/.test(text) ? text.replace(/(^|\.)0+(?=\d)/g, "$1") : text.replace(/\/.*$/, "");
  const help = plain !== text && parseAddress(plain) !== undefined ? `write \`${plain}\`` : undefined;
  return { refuse: "bad-address", message: `\`${shorten(text)}\` is not an IP address`, help };
}

/** One address. */
export const address: Shape<Located<Address>> = leaf<Address>({
  says: "an address such as `10.71.30.1`",
  parse: (text) => parseAddress(text) ?? badAddress(text),
  schema: TEXT,
});

/** Reads a prefix whose host bits are zero. */
export function parseWholePrefix(text: string): Prefix | Problem {
  const parsed = parsePrefix(text);
  if (parsed === undefined) return badPrefix(text);
  if (parsed.address.value === parsed.prefix.value) return parsed.prefix;
  const network = formatPrefix(parsed.prefix);
  return {
    refuse: "bad-prefix",
    message: `\`${text}\` has bits set behind its length`,
    notes: [`it lies in \`${network}\``],
    help: `write \`${network}\``,
  };
}

function badPrefix(text: string): Problem {
  const alone = parseAddress(text);
  const masked = withLength(text);
  const notes = alone === undefined && masked === undefined ? [] : ["a prefix has a length, such as `/24`"];
  const help = masked === undefined ? undefined : `write \`${masked}\``;
  return { refuse: "bad-prefix", message: `\`${shorten(text)}\` is not a prefix`, notes, help };
}

/** A prefix that is written with a mask, `10.71.30.0/255.255.255.0`, with its length instead. */
function withLength(text: string): string | undefined {
  const slash = text.indexOf("/");
  const mask = slash < 0 ? undefined : parseAddress(text.slice(slash + 1));
  if (mask?.family !== 4) return undefined;
  const bits = mask.value.toString(2).padStart(32, "0");
  const length = bits.indexOf("0") < 0 ? 32 : bits.indexOf("0");
  const isMask = !bits.slice(length).includes("1");
  const meant = isMask ? parsePrefix(`${text.slice(0, slash)}/${length}`) : undefined;
  return meant === undefined ? undefined : formatPrefix(meant.prefix);
}

const PREFIX6 = "fd71:2c9e:5a04:30::/64";

function familyPrefix(
  family: 4 | 6,
  example: string,
  others?: (text: string) => Problem | undefined,
): Shape<Located<Prefix>> {
  return leaf<Prefix>({
    says: `an IPv${family} prefix such as \`${example}\``,
    parse(text) {
      const found = others?.(text) ?? parseWholePrefix(text);
      if (isProblem(found) || found.family === family) return found;
      return { refuse: "bad-prefix", message: `\`${text}\` is not an IPv${family} prefix` };
    },
    schema: TEXT,
  });
}

/** An IPv4 prefix. */
export const prefix4: Shape<Located<Prefix>> = familyPrefix(4, "10.71.30.0/24");

/** An IPv6 prefix. */
export const prefix6: Shape<Located<Prefix>> = familyPrefix(6, PREFIX6);

/** An IPv6 prefix where one may be delegated, too: whoever writes that word alone is told what it lacks. */
export const prefix6OrDelegated: Shape<Located<Prefix>> = familyPrefix(6, PREFIX6, (text) =>
  text === "delegated"
    ? {
        refuse: "bad-prefix",
        message: "`delegated` alone does not tell whose prefix, and which part of it",
        help: "write `{ delegated: edge/wan, subnet: 1 }`: the interface that asks for it, and which /64",
      }
    : undefined,
);

/** Reads an address or `A-B`, where `B` may be the last number of an IPv4 address alone. */
export function parseAddressRange(text: string): AddressRange | Problem {
  const dash = text.indexOf("-");
  const lowText = dash < 0 ? text : text.slice(0, dash);
  const highText = dash < 0 ? text : text.slice(dash + 1);
  const low = parseAddress(lowText);
  const high = parseAddress(/^\d+$/.test(highText) ? lowText.replace(/[^.]*$/, highText) : highText);
  if (low === undefined) return badAddress(lowText);
  if (high === undefined || high.family !== low.family) return badRangeEnd(text, highText);
  if (high.value >= low.value) return { family: low.family, first: low.value, last: high.value };
  const help = `write \`${formatAddress(high)}-${formatAddress(low)}\``;
  return { refuse: "range-backwards", message: `the range \`${text}\` ends before it begins`, help };
}

function badRangeEnd(text: string, end: string): Problem {
  return {
    refuse: "bad-range",
    message: `\`${shorten(text)}\` is not a range of addresses: \`${shorten(end)}\` cannot end it`,
  };
}

/** An address, or a range such as `10.71.40.100-199`. */
export const addressRange: Shape<Located<AddressRange>> = leaf<AddressRange>({
  says: "an address or a range such as `10.71.40.100-199`",
  parse: parseAddressRange,
  schema: TEXT,
});

/** Whether a text can only be meant as addresses: a name holds a letter and no colon. */
function looksLikeAddress(text: string): boolean {
  return text.includes(":") || !/\p{L}/u.test(text);
}

/** Reads a name with an optional part: `archive`, `archive/a`. */
function parseReference(text: string): NameReference | Problem {
  const slash = text.indexOf("/");
  const name = slash < 0 ? text : text.slice(0, slash);
  const part = slash < 0 ? undefined : text.slice(slash + 1);
  if (name === "" || part === "")
    return {
      refuse: "bad-reference",
      message: `\`${shorten(text)}\` names nothing`,
      help: "write `device` or `device/leg`",
    };
  return part === undefined ? { by: "name", name } : { by: "name", name, part };
}

/** A device, and where needed its leg: `archive/a`. */
export const reference: Shape<Located<NameReference>> = leaf<NameReference>({
  says: "a device, with its leg where it has several: `archive/a`",
  parse: parseReference,
  schema: TEXT,
});

const INTERNET = ["internet", "internet/public"];

/** Reads what packets come from or go to. */
function parseTarget(text: string): Target | Problem {
  if (text === "internet") return { by: "internet", scope: "all" };
  if (text === "internet/public") return { by: "internet", scope: "public" };
  if (text.startsWith("internet/")) return unknownWord(text, INTERNET);
  if (!looksLikeAddress(text)) return parseReference(text);
  const port = /^[\w.-]*[g-z_][\w.-]*:[\w./-]+$/i.exec(text);
  if (port !== null)
    return {
      refuse: "bad-reference",
      message: `\`${shorten(text)}\` is a port, and addresses or their owners are asked for`,
      help: "write the network that the port is in, or `device/leg`",
    };
  if (!text.includes("/")) {
    const range = parseAddressRange(text);
    return isProblem(range) ? range : { by: "addresses", ...range };
  }
  const found = parseWholePrefix(text);
  if (isProblem(found)) return found;
  return { by: "addresses", family: found.family, first: found.value, last: lastAddress(found).value };
}

/** An address, prefix, range, network, device, set or the internet. */
export const target: Shape<Located<Target>> = leaf<Target>({
  says: "an address, a prefix, a range, `internet`, or the name of a network, a device or a set",
  parse: parseTarget,
  schema: TEXT,
  words: [
    { word: "internet", says: "whatever leaves by an upstream port" },
    { word: "internet/public", says: "the same without the special-purpose addresses of RFC 6890" },
  ],
});

/** A name that somebody asks a resolver for: whatever is no address. That its last part is no number is said by RFC 3696 section 2, from memory. */
export const lookedUpName: Shape<Located<string>> = leaf<string>({
  says: "a name such as `archive.station.example`",
  parse(text) {
    if (!text.includes(":") && !/^[\d./-]+$/.test(text)) return parseTitle(text);
    const message = `\`${shorten(text)}\` is an address, not a name to be looked up`;
    return {
      refuse: "bad-name",
      message,
      help: "write the name; whether an address answers is asked by `to` with `expect: connects`",
    };
  },
  schema: { type: "string", minLength: 1 },
});

/** Reads one address or the name of its owner. */
export function parseAddressOrName(text: string): AddressOrName | Problem {
  if (!looksLikeAddress(text)) return parseReference(text);
  const found = parseAddress(text);
  return found === undefined ? badAddress(text) : { by: "address", ...found };
}

/** An address, or who owns it. */
export const addressOrName: Shape<Located<AddressOrName>> = leaf<AddressOrName>({
  says: "an address, or the device that owns it: `edge/crew`",
  parse: parseAddressOrName,
  schema: TEXT,
});

function parseOwnAddress(text: string, family: 4 | 6): AddressSource | Problem {
  const slash = text.indexOf("/");
  const parsed = slash < 0 ? undefined : parsePrefix(text);
  const found = slash < 0 ? parseAddress(text) : parsed?.address;
  if (found === undefined) return slash < 0 ? badAddress(text) : badPrefix(text);
  if (found.family !== family) return { refuse: "bad-address", message: `\`${text}\` is not an IPv${family} address` };
  return parsed === undefined ? { by: "address", ...found } : { by: "address", ...found, length: parsed.prefix.length };
}

/** Where an IPv4 address of an interface comes from. */
export const ownAddress4: Shape<Located<AddressSource>> = leaf<AddressSource>({
  says: "an IPv4 address such as `10.71.10.1/24`, or `lease`",
  parse: parseSource4,
  schema: TEXT,
  words: [{ word: "lease", says: "the address comes from a DHCP server" }],
});

function parseSource4(text: string): AddressSource | Problem {
  if (text === "lease") return { by: "lease" };
  return looksLikeAddress(text) ? parseOwnAddress(text, 4) : unknownWord(text, ["lease"]);
}

const SOURCES6 = ["advertised", "delegated"];

/** Where an IPv6 address of an interface comes from. */
export const ownAddress6: Shape<Located<AddressSource>> = leaf<AddressSource>({
  says: "an IPv6 address such as `fd71:2c9e:5a04:30::1/64`, `advertised` or `delegated`",
  parse: parseSource6,
  schema: TEXT,
  words: [
    { word: "advertised", says: "the host makes its address of an advertised prefix (RFC 4862)" },
    {
      word: "delegated",
      says: "as `advertised`, with the default route; and a prefix is asked for that networks are cut from",
    },
  ],
});

function parseSource6(text: string): AddressSource | Problem {
  if (text === "advertised" || text === "delegated") return { by: text };
  if (text === "lease")
    return {
      refuse: "not-modelled",
      message: "an IPv6 address by `lease` is not modelled",
      notes: ["IPv6 addresses are written, or come from advertisements"],
      help: "write `advertised`",
    };
  return text.includes(":") ? parseOwnAddress(text, 6) : unknownWord(text, SOURCES6);
}

/** An address of either family, or `lease`: what one takes at a rescue port. */
export const ownAddressAny: Shape<Located<AddressSource>> = leaf<AddressSource>({
  says: "`lease`, or an address such as `10.71.99.5/24`",
  parse: (text) => (text.includes(":") ? parseSource6(text) : parseSource4(text)),
  schema: TEXT,
  words: [{ word: "lease", says: "the address comes from a DHCP server" }],
});

function parseDeviceHardware(text: string): Hardware | Problem {
  const found = parseHardware(text);
  if (found === undefined) return { refuse: "bad-hardware", message: `\`${shorten(text)}\` is not a hardware address` };
  if (!isMulticastHardware(found) && found !== 0n) return found;
  return { refuse: "bad-hardware", message: `\`${text}\` is not the address of one device` };
}

/** A hardware address of a device. */
export const hardware: Shape<Located<Hardware>> = leaf<Hardware>({
  says: "a hardware address such as `02:00:5e:00:53:01`",
  parse: parseDeviceHardware,
  schema: TEXT,
});

/** A hardware address, or one that the client makes up. */
export const hardwareChoice: Shape<Located<HardwareChoice>> = leaf<HardwareChoice>({
  says: "a hardware address such as `02:00:5e:00:53:01`, or `private`",
  parse(text) {
    if (text === "private") return "private";
    return /^[a-z]+$/i.test(text) ? unknownWord(text, ["private"]) : parseDeviceHardware(text);
  },
  schema: TEXT,
  words: [{ word: "private", says: "an address the client makes up, which no reservation matches" }],
});

/** Reads a service. */
export function parseServiceText(text: string): Service | Problem {
  const found = parseService(text);
  if (!("problem" in found)) return found;
  const help = found.nearest === undefined ? undefined : `write \`${found.nearest}\``;
  return { refuse: "bad-service", message: shorten(found.problem), help };
}

/** A service. */
export const service: Shape<Located<Service>> = leaf<Service>({
  says: "a service such as `tcp/443`",
  parse: parseServiceText,
  schema: TEXT,
});
