/** Published values about addresses: each stands beside the document and section that prints it. */
import ipaddr from "ipaddr.js";
import { describe, expect, it } from "vitest";
import {
  type Address,
  firstAddress,
  formatAddress,
  formatHardware,
  formatPrefix,
  hostAddress,
  interfaceIdentifier,
  isBroadcast,
  isPublic,
  lastAddress,
  linkLocal,
  multicastHardware,
  type Prefix,
  parseAddress,
  parseHardware,
  parsePrefix,
  parseVlan,
  parseVlans,
  prefixContains,
  prefixesOverlap,
  prefixKeys,
  prefixOf,
  prefixWithin,
  rangesSize,
  SPECIAL_PURPOSE_BLOCKS,
  solicitedNode,
  specialPurpose,
} from "../../src/address/index.ts";

function address(text: string): Address {
  const parsed = parseAddress(text);
  if (parsed === undefined) throw new Error(text);
  return parsed;
}

function prefix(text: string): Prefix {
  const parsed = parsePrefix(text);
  if (parsed === undefined) throw new Error(text);
  return parsed.prefix;
}

function hardware(text: string): bigint {
  const parsed = parseHardware(text);
  if (parsed === undefined) throw new Error(text);
  return parsed;
}

const size = (text: string): bigint => rangesSize([prefixKeys(prefix(text))]);
const last = (text: string): string => formatAddress(lastAddress(prefix(text)));

/** The netmask of a prefix length: a /0's complement, worked out from the prefix of all ones. */
const mask = (text: string): string => formatAddress(prefixOf(address("255.255.255.255"), prefix(text).length));

describe("RFC 4632: classless addresses", () => {
  it("section 3.1: a /27 has 32 addresses, of which there are 134 217 728; a /16 has 65 536", () => {
    expect(size("10.0.0.0/27")).toBe(32n);
    expect(size("0.0.0.0/0") / size("10.0.0.0/27")).toBe(134_217_728n);
    expect(size("10.0.0.0/16")).toBe(65_536n);
  });

  it("section 6.1: 10.24.0.0/13 has 2^19 addresses, 2048 /24s, and ends at 10.31.255.255", () => {
    expect(mask("10.24.0.0/13")).toBe("255.248.0.0");
    expect(size("10.24.0.0/13")).toBe(524_288n);
    expect(size("10.24.0.0/13") / size("10.24.0.0/24")).toBe(2048n);
    expect(last("10.24.0.0/13")).toBe("10.31.255.255");
  });

  // The figure labels C4 "/20" once; the text and both lists say /22, which is what its neighbours leave room for.
  const clients: [string, string, string][] = [
    ["C1", "10.24.0.0/21", "255.255.248.0"],
    ["C2", "10.24.16.0/20", "255.255.240.0"],
    ["C3", "10.24.8.0/22", "255.255.252.0"],
    ["C4", "10.24.12.0/22", "255.255.252.0"],
    ["C5", "10.24.32.0/23", "255.255.254.0"],
    ["C6", "10.24.34.0/23", "255.255.254.0"],
  ];

  it.each(clients)("section 6.1: %s is %s with mask %s, inside 10.24.0.0/13", (_, block, expected) => {
    expect(mask(block)).toBe(expected);
    expect(prefixWithin(prefix("10.24.0.0/13"), prefix(block))).toBe(true);
  });

  it("section 6.1, derived: no two of C1 to C6 overlap, and C7 10.32.0.0/20 lies outside", () => {
    const blocks = clients.map(([, block]) => prefix(block));
    const clashes = blocks.flatMap((a, i) => blocks.slice(i + 1).filter((b) => prefixesOverlap(a, b)));
    expect(clashes).toEqual([]);
    expect(prefixesOverlap(prefix("10.24.0.0/13"), prefix("10.32.0.0/20"))).toBe(false);
    expect(mask("10.32.0.0/20")).toBe("255.255.240.0");
  });

  it("section 6.1, derived: C4 as the figure's /20 would overlap C1", () => {
    expect(prefixesOverlap(prefix("10.24.12.0/20"), prefix("10.24.0.0/21"))).toBe(true);
  });
});

describe("RFC 3021: 31-bit prefixes", () => {
  it("section 2.1: both addresses are hosts", () => {
    const link = prefix("192.0.2.6/31");
    expect([hostAddress(link, 0n), hostAddress(link, 1n)]).toEqual([address("192.0.2.6"), address("192.0.2.7")]);
    expect(hostAddress(link, 2n)).toBeUndefined();
  });

  it("section 2.2: neither of them is a broadcast address; nor has a /32 one", () => {
    const link = prefix("192.0.2.6/31");
    expect([firstAddress(link), lastAddress(link)].map((end) => isBroadcast(end, link))).toEqual([false, false]);
    expect(isBroadcast(address("192.0.2.6"), prefix("192.0.2.6/32"))).toBe(false);
  });
});

describe("RFC 1812 section 4.2.3.1: broadcast addresses", () => {
  it("the host part of all ones is one, the host part of all zeros is not", () => {
    const crew = prefix("10.71.30.0/24");
    expect(isBroadcast(address("10.71.30.255"), crew)).toBe(true);
    expect(isBroadcast(address("10.71.30.0"), crew)).toBe(false);
  });

  it("255.255.255.255 may be a destination, never a source; 0.0.0.0 the other way round (RFC 6890 tables 1 and 16)", () => {
    expect(specialPurpose(address("255.255.255.255"))).toMatchObject({ source: false, destination: true });
    expect(specialPurpose(address("0.0.0.0"))).toMatchObject({ source: true, destination: false });
  });
});

describe("RFC 6890 section 2.2: special-purpose addresses", () => {
  // Source, destination, forwardable, global; "-" where the table says N/A.
  const flags: [table: number, block: string, flags: string][] = [
    [1, "0.0.0.0/8", "TFFF"],
    [2, "10.0.0.0/8", "TTTF"],
    [3, "100.64.0.0/10", "TTTF"],
    [4, "127.0.0.0/8", "FFFF"],
    [5, "169.254.0.0/16", "TTFF"],
    [6, "172.16.0.0/12", "TTTF"],
    [7, "192.0.0.0/24", "FFFF"],
    [8, "192.0.0.0/29", "TTTF"],
    [9, "192.0.2.0/24", "FFFF"],
    [10, "192.88.99.0/24", "TTTT"],
    [11, "192.168.0.0/16", "TTTF"],
    [12, "198.18.0.0/15", "TTTF"],
    [13, "198.51.100.0/24", "FFFF"],
    [14, "203.0.113.0/24", "FFFF"],
    [15, "240.0.0.0/4", "FFFF"],
    [16, "255.255.255.255/32", "FTFF"],
    [17, "::1/128", "FFFF"],
    [18, "::/128", "TFFF"],
    [19, "64:ff9b::/96", "TTTT"],
    [20, "::ffff:0:0/96", "FFFF"],
    [21, "100::/64", "TTTF"],
    [22, "2001::/23", "FFFF"],
    [23, "2001::/32", "TTTF"],
    [24, "2001:2::/48", "TTTF"],
    [25, "2001:db8::/32", "FFFF"],
    [26, "2001:10::/28", "FFFF"],
    [27, "2002::/16", "TTT-"],
    [28, "fc00::/7", "TTTF"],
    [29, "fe80::/10", "TTFF"],
  ];

  it.each(flags)("table %i: %s is %s", (_, block, expected) => {
    const entry = SPECIAL_PURPOSE_BLOCKS.find(({ prefix: held }) => formatPrefix(held) === formatPrefix(prefix(block)));
    const told = [entry?.source, entry?.destination, entry?.forwardable, entry?.global];
    expect(told).toEqual([...expected].map((flag) => flag === "T"));
  });

  it("has no other blocks", () => {
    expect(SPECIAL_PURPOSE_BLOCKS).toHaveLength(flags.length);
  });

  it("RFC 8190: what may not be a destination is neither forwardable nor global", () => {
    const odd = SPECIAL_PURPOSE_BLOCKS.filter((entry) => !entry.destination && (entry.forwardable || entry.global));
    expect(odd).toEqual([]);
  });

  it.each(["169.254.7.7", "fe80::7", "127.0.0.1", "240.0.0.1"])("derived: %s is not forwarded", (text) => {
    expect(specialPurpose(address(text))?.forwardable).toBe(false);
  });
});

describe("private, shared and documentation blocks (RFC 1918, 6598, 5737, 3849, as RFC 6890 lists them)", () => {
  it.each([
    ["10.0.0.0", "10.255.255.255", "10.0.0.0/8"],
    ["172.16.0.0", "172.31.255.255", "172.16.0.0/12"],
    ["192.168.0.0", "192.168.255.255", "192.168.0.0/16"],
    ["100.64.0.0", "100.127.255.255", "100.64.0.0/10"],
  ])("%s to %s is %s, and not public", (first, end, block) => {
    expect([formatAddress(firstAddress(prefix(block))), last(block)]).toEqual([first, end]);
    for (const text of [first, end]) {
      expect(formatPrefix(specialPurpose(address(text))?.prefix ?? prefix("0.0.0.0/0"))).toBe(block);
      expect(isPublic(address(text))).toBe(false);
    }
  });

  it.each(["192.0.2.0/24", "198.51.100.0/24", "203.0.113.0/24", "2001:db8::/32"])(
    "%s is for documentation",
    (block) => {
      expect(specialPurpose(firstAddress(prefix(block)))?.name).toMatch(/^Documentation/);
      expect(specialPurpose(lastAddress(prefix(block)))?.name).toMatch(/^Documentation/);
    },
  );
});

describe("RFC 7608: IPv6 prefixes of every length", () => {
  it("no length from /0 to /128 is treated apart", () => {
    const target = address("2001:db8:a5a5:5a5a:a5a5:5a5a:a5a5:5a5a");
    for (let length = 0; length <= 128; length++) {
      const block = prefixOf(target, length);
      const far = { family: 6 as const, value: target.value ^ ((1n << 127n) >> BigInt(Math.max(length - 1, 0))) };
      expect(parsePrefix(`${formatAddress(block)}/${length}`)?.prefix).toEqual(block);
      expect([length, prefixContains(block, target)]).toEqual([length, true]);
      expect([length, prefixContains(block, far)]).toEqual([length, length === 0]);
    }
  });
});

describe("RFC 5952: the text of IPv6 addresses", () => {
  it.each([
    ["4.1", "2001:0db8::0001", "2001:db8::1"],
    ["4.2.1", "2001:db8:0:0:0:0:2:1", "2001:db8::2:1"],
    ["4.2.1", "2001:db8::0:1", "2001:db8::1"],
    ["4.2.2", "2001:db8:0:1:1:1:1:1", "2001:db8:0:1:1:1:1:1"],
    ["4.2.3", "2001:0:0:1:0:0:0:1", "2001:0:0:1::1"],
    ["4.2.3", "2001:db8:0:0:1:0:0:1", "2001:db8::1:0:0:1"],
    ["4.3", "2001:DB8::ABCD", "2001:db8::abcd"],
    ["5", "0:0:0:0:0:ffff:192.0.2.1", "::ffff:192.0.2.1"],
    ["5", "::ffff:c000:201", "::ffff:192.0.2.1"],
  ])("section %s: %s is written %s", (_, text, canonical) => {
    expect(formatAddress(address(text))).toBe(canonical);
  });

  it.each([
    ["2001:db8:0:0:0::1", "2001:db8:0:0::1", "2001:db8:0::1", "2001:db8::1"],
    ["2001:db8::aaaa:0:0:1", "2001:db8::AAAA:0:0:1", "2001:db8::AaAa:0:0:1", "2001:db8:0:0:aaaa::1"],
  ])("section 2: %s and its variants are one address", (...texts) => {
    expect(new Set(texts.map((text) => formatAddress(address(text)))).size).toBe(1);
  });
});

describe("RFC 4291 section 2.2: reading IPv6 addresses", () => {
  it.each([
    ["2001:DB8:0:0:8:800:200C:417A", "2001:DB8::8:800:200C:417A"],
    ["FF01:0:0:0:0:0:0:101", "FF01::101"],
    ["0:0:0:0:0:0:0:1", "::1"],
    ["0:0:0:0:0:0:0:0", "::"],
    ["0:0:0:0:0:0:13.1.68.3", "::13.1.68.3"],
    ["0:0:0:0:0:FFFF:129.144.52.38", "::FFFF:129.144.52.38"],
  ])("%s is %s", (long, short) => {
    expect(address(long)).toEqual(address(short));
    expect(ipaddr.parse(formatAddress(address(short))).toNormalizedString()).toBe(
      ipaddr.parse(long).toNormalizedString(),
    );
  });

  it.each(["2001:0DB8:0000:CD30:0000:0000:0000:0000/60", "2001:0DB8::CD30:0:0:0:0/60", "2001:0DB8:0:CD30::/60"])(
    "section 2.3: %s is the prefix 20010DB80000CD3",
    (text) => {
      expect(formatPrefix(prefix(text))).toBe("2001:db8:0:cd30::/60");
    },
  );

  it("section 2.3: 2001:0DB8:0:CD3/60 is no prefix, since a group may drop leading zeros only", () => {
    expect(parsePrefix("2001:0DB8:0:CD3/60")).toBeUndefined();
  });

  it.each(["2001:0DB8::CD30/60", "2001:0DB8::CD3/60"])("section 2.3: %s is another prefix", (text) => {
    expect(formatPrefix(prefix(text))).not.toBe("2001:db8:0:cd30::/60");
  });
});

describe("interface identifiers and group addresses", () => {
  it("RFC 2464 section 4: 34-56-78-9A-BC-DE gives 36-56-78-FF-FE-9A-BC-DE", () => {
    expect(interfaceIdentifier(hardware("34-56-78-9A-BC-DE"))).toBe(0x365678fffe9abcden);
  });

  it.each([
    ["00:0C:42:E5:B1:E9", "fe80::20c:42ff:fee5:b1e9"],
    ["00:0C:42:E5:B1:EA", "fe80::20c:42ff:fee5:b1ea"],
  ])("RFC 2464 section 5, derived for the hardware of RFC 8349 appendix D: %s has %s", (text, expected) => {
    expect(formatAddress(linkLocal(hardware(text)))).toBe(expected);
  });

  it("RFC 4291 section 2.7.1: 4037::01:800:200E:8C6C is solicited at FF02::1:FF0E:8C6C", () => {
    const group = solicitedNode(address("4037::01:800:200E:8C6C"));
    expect(group).toEqual(address("FF02::1:FF0E:8C6C"));
    // RFC 2464 section 7, derived: 33-33 and the last four bytes.
    expect(formatHardware(multicastHardware(group))).toBe("33:33:ff:0e:8c:6c");
  });

  it("RFC 1112 section 6.4, from memory: 224.0.0.1 is sent to 01-00-5e-00-00-01, and the ninth bit is lost", () => {
    expect(formatHardware(multicastHardware(address("224.0.0.1")))).toBe("01:00:5e:00:00:01");
    expect(multicastHardware(address("239.129.2.3"))).toBe(multicastHardware(address("224.1.2.3")));
  });
});

describe("IEEE 802.1Q YANG: VLAN numbers", () => {
  it("vlanid: 1 to 4094; 0 and 4095 are no VLAN numbers", () => {
    expect(["0", "1", "4094", "4095", "4096"].map(parseVlan)).toEqual([undefined, 1, 4094, undefined, undefined]);
  });

  it("vid-range-type: 1,10-100,250,500-1000 is a list of VLANs", () => {
    expect(parseVlans("1,10-100,250,500-1000")).toEqual([
      [1n, 1n],
      [10n, 100n],
      [250n, 250n],
      [500n, 1000n],
    ]);
  });

  it.each([
    ["10-5", "backwards"],
    ["5,3", "order"],
    ["1-10,10-20", "order"],
    ["0-5", "outside"],
    ["1,4095", "outside"],
  ])("vid-range-type: %s is none (%s)", (text, problem) => {
    expect(parseVlans(text)).toMatchObject({ problem });
  });
});
