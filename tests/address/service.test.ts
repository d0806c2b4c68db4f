/** Services as text: what is read, what is refused, what is suggested. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  formatService,
  ICMP_TYPES,
  ICMP6_TYPES,
  icmpName,
  PORT_PROTOCOLS,
  PROTOCOLS,
  parseService,
  protocolName,
  protocolNumber,
  ranges,
  type Service,
} from "../../src/address/index.ts";

describe("parseService", () => {
  it.each<[string, Service]>([
    ["tcp/443", { protocol: 6, ports: [[443n, 443n]] }],
    ["udp/67", { protocol: 17, ports: [[67n, 67n]] }],
    ["tcp/8000-8080", { protocol: 6, ports: [[8000n, 8080n]] }],
    ["sctp/5060", { protocol: 132, ports: [[5060n, 5060n]] }],
    ["tcp", { protocol: 6 }],
    ["icmp", { protocol: 1 }],
    ["icmp/echo-request", { protocol: 1, icmp: { type: 8 } }],
    ["icmp/3/4", { protocol: 1, icmp: { type: 3, code: 4 } }],
    ["icmp/fragmentation-needed", { protocol: 1, icmp: { type: 3, code: 4 } }],
    ["icmp/destination-unreachable/9", { protocol: 1, icmp: { type: 3, code: 9 } }],
    ["icmp/250", { protocol: 1, icmp: { type: 250 } }],
    ["icmp6/router-solicitation", { protocol: 58, icmp: { type: 133 } }],
    ["icmp6/neighbour-advertisement", { protocol: 58, icmp: { type: 136 } }],
    ["gre", { protocol: 47 }],
    ["esp", { protocol: 50 }],
    ["ah", { protocol: 51 }],
    ["protocol/47", { protocol: 47 }],
    ["protocol/255", { protocol: 255 }],
    ["any", { protocol: undefined }],
  ])("reads `%s`", (text, service) => {
    expect(parseService(text)).toEqual(service);
  });

  it.each([
    ["443", "tcp/443"],
    ["443/tcp", "tcp/443"],
    ["8000-8080/udp", "udp/8000-8080"],
    ["TCP/443", "tcp/443"],
    ["tpc/443", "tcp/443"],
    ["tcp:443", "tcp/443"],
    ["tcp 443", "tcp/443"],
    ["tcp/https", "tcp/443"],
    ["https", "tcp/443"],
    ["ping", "icmp/echo-request"],
    ["tcp/8080-8000", "tcp/8000-8080"],
    ["tcp/8000..8080", "tcp/8000-8080"],
    ["tcp/8000:8080", "tcp/8000-8080"],
    ["tcp/", "tcp"],
    ["tcp/any", "tcp"],
    ["tcp/443/udp", "tcp/443"],
    ["gre/1", "gre"],
    ["all", "any"],
    ["any/443", "any"],
    ["icmpv6/echo-request", "icmp6/echo-request"],
    ["icmp/echo-rquest", "icmp/echo-request"],
    ["icmp6/neighbor-solicitation", "icmp6/neighbour-solicitation"],
    ["icmp/port-unreachable/4", "icmp/port-unreachable"],
    ["icmp/3/256", "icmp/3"],
    ["icmp/", "icmp"],
  ])("answers `%s` with `%s`", (text, nearest) => {
    expect(parseService(text)).toEqual({ problem: expect.stringContaining(`\`${text}\``), nearest });
  });

  it.each([
    "",
    "/",
    "xyzzy",
    "tcp/65536",
    "tcp/0443",
    "tcp/80,443",
    "tcp/-1",
    "protocol/256",
    "protocol",
    "protocol/6/443",
    "icmp/256",
    "icmp/3/4/5x",
    "__proto__",
    "constructor/1",
  ])("refuses `%s`", (text) => {
    expect(parseService(text)).toHaveProperty("problem");
  });

  it.each([
    ["tcp/", "the port is missing"],
    ["tcp/x", "`x` is neither a port nor a range of ports"],
    ["tcp/80,443", "several services are a list of them"],
    ["tcp/65536", "ports are 0 to 65535"],
    ["tcp/9-8", "the range ends before it begins"],
    ["xyzzy", "`xyzzy` is no protocol"],
    ["icmp/", "the message type is missing"],
    ["icmp/zz", "`zz` is no message type"],
    ["icmp/host-unreachable/2", "`host-unreachable` already means code 1"],
  ])("says why `%s` is none", (text, why) => {
    expect(parseService(text)).toMatchObject({ problem: `\`${text}\` is no service: ${why}` });
  });

  it("every suggestion can be read", () => {
    const piece = fc.constantFrom(
      "tcp",
      "udp",
      "icmp",
      "icmp6",
      "any",
      "gre",
      "protocol",
      "/",
      "/",
      "443",
      "80-90",
      "90-80",
      "echo-request",
      "https",
      ":",
      " ",
      ",",
      "TCP",
      "x",
    );
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 5 }), (pieces) => {
        const parsed = parseService(pieces.join(""));
        if ("problem" in parsed && parsed.nearest !== undefined) {
          expect(parseService(parsed.nearest)).not.toHaveProperty("problem");
        }
      }),
      { numRuns: 5000 },
    );
  });
});

const byte = fc.integer({ min: 0, max: 255 });
const services: fc.Arbitrary<Service> = fc.oneof(
  fc.constant({ protocol: undefined }),
  byte.map((protocol) => ({ protocol })),
  fc.record({
    protocol: fc.constantFrom(...PORT_PROTOCOLS),
    ports: fc
      .tuple(fc.integer({ min: 0, max: 65000 }), fc.integer({ min: 0, max: 535 }))
      .map(([low, more]) => ranges([BigInt(low), BigInt(low + more)])),
  }),
  fc.record({
    protocol: fc.constantFrom(1, 58),
    icmp: fc.oneof(fc.record({ type: byte }), fc.record({ type: byte, code: byte })),
  }),
);

describe("formatService", () => {
  it("formatting and reading back is identity", () => {
    fc.assert(
      fc.property(services, (service) => {
        expect(parseService(formatService(service))).toEqual(service);
      }),
      { numRuns: 2000 },
    );
  });

  it("uses names where there are any", () => {
    expect(formatService({ protocol: 47 })).toBe("gre");
    expect(formatService({ protocol: 253 })).toBe("protocol/253");
    expect(formatService({ protocol: 1, icmp: { type: 3, code: 4 } })).toBe("icmp/fragmentation-needed");
    expect(formatService({ protocol: 1, icmp: { type: 3, code: 77 } })).toBe("icmp/3/77");
    expect(formatService({ protocol: 6, ports: ranges([80n, 80n], [443n, 443n]) })).toBe("tcp/80,443");
  });
});

describe("the tables of names", () => {
  it("name each protocol and number once, ascending", () => {
    const numbers = PROTOCOLS.map(({ number }) => number);
    expect(numbers).toEqual([...new Set(numbers)].sort((a, b) => a - b));
    expect(new Set(PROTOCOLS.map(({ name }) => name)).size).toBe(PROTOCOLS.length);
    for (const { name, number } of PROTOCOLS)
      expect([protocolName(number), protocolNumber(name)]).toEqual([name, number]);
  });

  it.each([
    [1 as const, ICMP_TYPES],
    [58 as const, ICMP6_TYPES],
  ])("name each message of protocol %i once", (protocol, table) => {
    expect(new Set(table.map(({ name }) => name)).size).toBe(table.length);
    for (const { name, type, code } of table) expect(icmpName(protocol, type, code)).toBe(name);
  });

  it("have no name for what is not assigned", () => {
    expect(protocolName(253)).toBeUndefined();
    expect(protocolNumber("toString")).toBeUndefined();
    expect(icmpName(1, 250)).toBeUndefined();
  });
});
