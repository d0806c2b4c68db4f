import { describe, expect, it } from "vitest";
import { type Prefix, parsePrefix } from "../../src/address/index.ts";
import {
  addressOption,
  classlessRoutesOption,
  DHCP_CLASSLESS_ROUTES,
  DHCP_CLIENT_IDENTIFIER,
  DHCP_DOMAIN_NAME,
  DHCP_LEASE_SECONDS,
  DHCP_OVERLOAD,
  DHCP_RELAY_INFORMATION,
  DHCP_RESOLVERS,
  DHCP_ROUTERS,
  DHCP_STATIC_ROUTES,
  DHCP_SUBNET_MASK,
  type DhcpMessage,
  type DhcpOption,
  dhcpAddress,
  dhcpAddresses,
  dhcpClasslessRoutes,
  dhcpLongestMessage,
  dhcpMessageType,
  dhcpOption,
  dhcpParameterList,
  dhcpRelayInformation,
  dhcpSeconds,
  dhcpStaticRoutes,
  dhcpText,
  isMalformed,
  longestMessageOption,
  messageTypeOption,
  parameterListOption,
  parseFrame,
  relayInformationOption,
  secondsOption,
  staticRoutesOption,
  textOption,
} from "../../src/wire/index.ts";
import { kernelFrame } from "./kernel-frames.ts";
import { hex, ip, LAPTOP } from "./notation.ts";

function prefix(text: string): Prefix {
  const found = parsePrefix(text);
  if (found === undefined) throw new Error(text);
  return found.prefix;
}

function holding(...options: readonly DhcpOption[]): DhcpMessage {
  const none = ip("0.0.0.0");
  return {
    operation: 2,
    hops: 0,
    transaction: 1,
    seconds: 0,
    flags: 0,
    clientAddress: none,
    yourAddress: none,
    nextServer: none,
    relayAddress: none,
    clientHardware: LAPTOP,
    options,
  };
}

function raw(code: number, bytes: string): DhcpMessage {
  return holding({ code, bytes: hex(bytes) });
}

describe("what a writer wrote, its reader reads", () => {
  const mask = ip("255.255.255.0");
  const routes = [
    { prefix: prefix("10.71.20.0/23"), router: ip("10.71.10.2") },
    { prefix: prefix("0.0.0.0/0"), router: ip("10.71.10.1") },
  ];

  it.each([
    ["one address", dhcpAddress(holding(addressOption(DHCP_SUBNET_MASK, mask)), 1), mask],
    ["several", dhcpAddresses(holding(addressOption(DHCP_ROUTERS, mask, mask)), 3), [mask, mask]],
    ["seconds", dhcpSeconds(holding(secondsOption(DHCP_LEASE_SECONDS, 0xffffffff)), 51), 0xffffffff],
    ["text", dhcpText(holding(textOption(DHCP_DOMAIN_NAME, "crew.example")), 15), "crew.example"],
    ["the message type", dhcpMessageType(holding(messageTypeOption(7))), 7],
    ["the longest message", dhcpLongestMessage(holding(longestMessageOption(1472))), 1472],
    ["wanted codes", dhcpParameterList(holding(parameterListOption([1, 121, 3]))), [1, 121, 3]],
    ["classless routes", dhcpClasslessRoutes(holding(classlessRoutesOption(routes))), routes],
  ])("%s", (_, read, written) => {
    expect(read).toEqual(written);
  });

  it("host routes", () => {
    const hosts = [{ prefix: prefix("198.51.100.7/32"), router: ip("192.0.2.2") }];
    expect(dhcpStaticRoutes(holding(staticRoutesOption(hosts)))).toEqual(hosts);
  });

  it("a relay's remarks, known or not", () => {
    const parts = [
      { code: 1, bytes: hex("00 01") },
      { code: 151, bytes: hex("") },
    ];
    expect(dhcpRelayInformation(holding(relayInformationOption(parts)))).toEqual(parts);
  });
});

describe("a reader answers undefined", () => {
  it("when the option is absent", () => {
    const bare = holding();
    const absent = [
      dhcpOption(bare, DHCP_CLIENT_IDENTIFIER),
      dhcpAddress(bare, 1),
      dhcpAddresses(bare, DHCP_RESOLVERS),
      dhcpSeconds(bare, 51),
      dhcpText(bare, 15),
      dhcpParameterList(bare),
      dhcpStaticRoutes(bare),
      dhcpClasslessRoutes(bare),
      dhcpRelayInformation(bare),
    ];
    expect(absent.every((each) => each === undefined)).toBe(true);
    expect(dhcpMessageType(bare)).toBe(0);
  });

  it.each([
    ["an address of 3 bytes", dhcpAddress(raw(1, "ff ff ff"), 1)],
    ["two addresses where one belongs", dhcpAddress(raw(54, "01*8"), 54)],
    ["no address at all", dhcpAddresses(raw(3, ""), 3)],
    ["seconds of 2 bytes", dhcpSeconds(raw(51, "00 01"), 51)],
    ["a route without router", dhcpStaticRoutes(raw(DHCP_STATIC_ROUTES, "0a 00 00 01"))],
    ["a width of 33", dhcpClasslessRoutes(raw(DHCP_CLASSLESS_ROUTES, "21 0a*5 0a*4"))],
    ["a classless route cut short", dhcpClasslessRoutes(raw(DHCP_CLASSLESS_ROUTES, "18 0a 00 00 0a 00 00"))],
    ["no classless route at all", dhcpClasslessRoutes(raw(DHCP_CLASSLESS_ROUTES, ""))],
    ["a remark cut short", dhcpRelayInformation(raw(DHCP_RELAY_INFORMATION, "01 02 00"))],
    ["a remark without length", dhcpRelayInformation(raw(DHCP_RELAY_INFORMATION, "01"))],
  ])("to %s", (_, read) => {
    expect(read).toBeUndefined();
  });
});

describe("options", () => {
  it("that come in pieces are joined (RFC 3396, from memory)", () => {
    const message = holding(textOption(15, "crew."), messageTypeOption(2), textOption(15, "example"));
    expect(dhcpText(message, 15)).toBe("crew.example");
  });

  it("may lie in `file` and `sname` (RFC 2132 section 9.3)", () => {
    const bootFile = hex("33 04 00 00 0e 10 ff");
    const serverName = hex("0f 02 61 62 ff");
    const both = { ...holding({ code: DHCP_OVERLOAD, bytes: hex("03") }), bootFile, serverName };
    expect([dhcpSeconds(both, 51), dhcpText(both, 15)]).toEqual([3600, "ab"]);
    const file = { ...holding({ code: DHCP_OVERLOAD, bytes: hex("01") }), bootFile, serverName };
    expect([dhcpSeconds(file, 51), dhcpText(file, 15)]).toEqual([3600, undefined]);
    const neither = { ...holding(), bootFile, serverName };
    expect([dhcpSeconds(neither, 51), dhcpText(neither, 15)]).toEqual([undefined, undefined]);
  });

  it("of text lose zeros at the end, and what has no byte becomes a question mark", () => {
    expect(dhcpText(raw(12, "61 62 00 00"), 12)).toBe("ab");
    expect(textOption(12, "é€").bytes).toEqual(hex("e9 3f"));
  });
});

describe("what a DHCP server not written here sent", () => {
  const message = offer();

  it("is read with the server's own meaning", () => {
    expect(dhcpMessageType(message)).toBe(2);
    expect(dhcpAddress(message, 54)).toEqual(ip("192.0.2.2"));
    expect(dhcpAddress(message, 1)).toEqual(ip("255.255.255.0"));
    expect(dhcpAddresses(message, 3)).toEqual([ip("192.0.2.2")]);
    expect([51, 58, 59].map((code) => dhcpSeconds(message, code))).toEqual([43200, 21600, 37800]);
    expect(dhcpText(message, 15)).toBe("crew.example");
  });

  it("includes its routes", () => {
    const router = ip("192.0.2.2");
    expect(dhcpStaticRoutes(message)).toEqual([{ prefix: prefix("198.51.100.7/32"), router }]);
    expect(dhcpClasslessRoutes(message)).toEqual([
      { prefix: prefix("198.51.100.0/25"), router },
      { prefix: prefix("0.0.0.0/0"), router },
    ]);
  });
});

function offer(): DhcpMessage {
  const frame = parseFrame(kernelFrame("DHCP offer"));
  if (isMalformed(frame) || frame.payload.kind !== "ip") throw new Error("no packet");
  const { body } = frame.payload.packet;
  if (body.kind !== "udp" || body.data.kind !== "dhcp") throw new Error("no DHCP message");
  return body.data.message;
}
