/** Hardware addresses: text, group bit, and what is derived from them. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  BROADCAST_HARDWARE,
  formatHardware,
  interfaceIdentifier,
  isLinkLocal,
  isMulticastHardware,
  linkLocal,
  multicastHardware,
  parseAddress,
  parseHardware,
  solicitedNode,
} from "../../src/address/index.ts";
import { ipv4, ipv6 } from "./generators.ts";

const hardware = fc.bigInt({ min: 0n, max: BROADCAST_HARDWARE });

describe("parseHardware", () => {
  it("reads both usual forms and either case", () => {
    const value = 0x52540012abcdn;
    expect(parseHardware("52:54:00:12:ab:cd")).toBe(value);
    expect(parseHardware("52-54-00-12-AB-CD")).toBe(value);
  });

  it.each([
    "",
    "52:54:00:12:34",
    "52:54:00:12:34:56:78",
    "52:54-00:12:34:56",
    "525400123456",
    "5:54:00:12:34:56",
    "g2:54:00:12:34:56",
    "5254.0012.3456",
    "52:54:00:12:34:56 ",
  ])("refuses `%s`", (text) => {
    expect(parseHardware(text)).toBeUndefined();
  });

  it("formatting and reading back is identity", () => {
    fc.assert(
      fc.property(hardware, (value) => {
        expect(parseHardware(formatHardware(value))).toBe(value);
      }),
    );
  });

  it("formats small values with all twelve digits", () => {
    expect(formatHardware(1n)).toBe("00:00:00:00:00:01");
  });
});

describe("group addresses", () => {
  it("carry the lowest bit of the first byte", () => {
    expect(isMulticastHardware(BROADCAST_HARDWARE)).toBe(true);
    expect(isMulticastHardware(0x010000000000n)).toBe(true);
    expect(isMulticastHardware(0xfeffffffffffn)).toBe(false);
  });

  it("every multicast address is sent to a group", () => {
    fc.assert(
      fc.property(fc.oneof(ipv4, ipv6), (address) => {
        expect(isMulticastHardware(multicastHardware(address))).toBe(true);
      }),
    );
  });
});

describe("derived IPv6 addresses", () => {
  it("identifiers differ exactly when hardware addresses do", () => {
    fc.assert(
      fc.property(hardware, hardware, (a, b) => {
        expect(interfaceIdentifier(a) === interfaceIdentifier(b)).toBe(a === b);
      }),
    );
  });

  it("a link-local address is one, and ends in the identifier", () => {
    fc.assert(
      fc.property(hardware, (value) => {
        const address = linkLocal(value);
        expect(isLinkLocal(address)).toBe(true);
        expect(BigInt.asUintN(64, address.value)).toBe(interfaceIdentifier(value));
      }),
    );
  });

  it("addresses that share 24 last bits share a solicited-node address", () => {
    const a = parseAddress("fd71:2c9e:5a04:30::a:bcde") ?? linkLocal(0n);
    const b = parseAddress("fe80::1234:560a:bcde") ?? linkLocal(0n);
    expect(solicitedNode(a)).toEqual(solicitedNode(b));
    expect(solicitedNode(a)).toEqual(parseAddress("ff02::1:ff0a:bcde"));
  });

  it("IPv4 has no solicited-node addresses", () => {
    expect(() => solicitedNode({ family: 4, value: 1n })).toThrow(RangeError);
  });
});
