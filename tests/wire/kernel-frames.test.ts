/** Frames that other programs wrote are read without loss and written back byte for byte. */
import { describe, expect, it } from "vitest";
import { describeFrame, emitFrame, type Frame, frameLength, isMalformed, parseFrame } from "../../src/wire/index.ts";
import { KERNEL_FRAMES, kernelFrame } from "./kernel-frames.ts";
import { ip, LAPTOP, ROUTER, toHex } from "./notation.ts";

function parsed(title: string): Frame {
  const frame = parseFrame(kernelFrame(title));
  if (isMalformed(frame)) throw new Error(`${title}: ${frame.problem}`);
  return frame;
}

/** What a frame says behind its hardware addresses. */
function said(title: string): string {
  return describeFrame(parsed(title)).replace(/^.* to .*?: /, "");
}

describe("frames of a kernel", () => {
  it.each(KERNEL_FRAMES)("%s is written back byte for byte, up to padding", (title, bytes) => {
    const emitted = emitFrame(parsed(title));
    expect(toHex(emitted.subarray(0, bytes.length))).toBe(toHex(bytes));
    expect(emitted.subarray(bytes.length).every((byte) => byte === 0)).toBe(true);
    expect(emitted.length).toBe(Math.max(60, bytes.length));
    expect(frameLength(parsed(title))).toBe(emitted.length);
  });

  it.each(KERNEL_FRAMES.filter(([title]) => isChecked(title)))("%s is refused when any bit flips", (_, bytes) => {
    for (let at = 14; at < bytes.length; at++) {
      const flipped = bytes.slice();
      flipped[at] = (flipped[at] ?? 0) ^ 0x10;
      if (!isMalformed(parseFrame(flipped))) expect.fail(`byte ${at} flipped unnoticed`);
    }
  });

  it.each([
    ["ARP question", "192.0.2.1 asks where 192.0.2.2 is"],
    ["ARP answer", "192.0.2.2 is at 02:00:00:00:0b:02"],
    ["TCP SYN with options", "192.0.2.1 to 192.0.2.2: TCP from port 43340 to port 8080, SYN"],
    ["TCP data", "192.0.2.1 to 192.0.2.2: TCP from port 43340 to port 8080, PSH ACK, 5 bytes"],
    ["UDP over IPv4", "192.0.2.1 to 192.0.2.2: UDP from port 42799 to port 9, 3 bytes"],
    [
      "port unreachable",
      "192.0.2.2 to 192.0.2.1: ICMP port unreachable, about 192.0.2.1 to 192.0.2.2: UDP from port 42799 to port 9, 3 bytes",
    ],
    ["multicast listener report behind hop-by-hop options", ":: to ff02::16: ICMPv6 multicast listener report 2"],
  ])("%s reads as a sentence", (title, sentence) => {
    expect(describeFrame(parsed(title))).toContain(sentence);
  });

  it("describes the ends of a frame first", () => {
    expect(describeFrame(parsed("ARP question"))).toBe(
      "02:00:00:00:0a:01 to everyone: ARP: 192.0.2.1 asks where 192.0.2.2 is",
    );
  });
});

describe("what a kernel's frame says", () => {
  it("is read from a neighbour advertisement", () => {
    expect(parsed("neighbour advertisement").payload).toMatchObject({
      kind: "ip",
      packet: {
        hopLimit: 255,
        body: {
          kind: "neighbour",
          message: {
            kind: "neighbour-advertisement",
            target: ip("2001:db8::2"),
            router: false,
            solicited: true,
            override: true,
            options: [{ kind: "target-link", hardware: ROUTER }],
          },
        },
      },
    });
  });

  it("is read from a router advertisement with prefix, MTU and resolvers", () => {
    expect(parsed("router advertisement").payload).toMatchObject({
      packet: {
        body: {
          message: {
            kind: "router-advertisement",
            hopLimit: 64,
            managed: false,
            preference: 1,
            routerLifetimeSeconds: 1800,
            options: [
              { kind: "prefix", prefix: { length: 64 }, onLink: true, autonomous: true, validSeconds: 7200 },
              { kind: "mtu", mtu: 1480 },
              { kind: "source-link", hardware: ROUTER },
              { kind: "resolvers", addresses: [ip("2001:db8::53"), ip("2001:db8::54")] },
            ],
          },
        },
      },
    });
  });

  it("is read from a spanning tree configuration", () => {
    const bridge = { priority: 0x8000, hardware: ROUTER };
    expect(parsed("spanning tree configuration").payload).toEqual({
      kind: "bpdu",
      bpdu: {
        kind: "config",
        flags: 0,
        root: bridge,
        rootPathCost: 0,
        bridge,
        port: 0x8001,
        messageAge: 0,
        maxAge: 20 * 256,
        helloTime: 2 * 256,
        forwardDelay: 15 * 256,
      },
    });
  });

  it("is read from a DHCP offer", () => {
    expect(said("DHCP offer")).toContain("DHCP offer for 02:00:00:00:0a:01, 192.0.2.153");
    expect(parsed("DHCP offer").payload).toMatchObject({
      packet: {
        source: ip("192.0.2.2"),
        destination: ip("255.255.255.255"),
        body: { data: { kind: "dhcp", message: { operation: 2, transaction: 0x1234abcd, clientHardware: LAPTOP } } },
      },
    });
  });

  it("is read from an error with its quotation", () => {
    const error = { kind: "icmp", type: 3, code: 1, content: { kind: "error" } };
    expect(parsed("host unreachable").payload).toMatchObject({ packet: { body: error } });
    expect(parsed("host unreachable").payload).toMatchObject({
      packet: { body: { content: { quoted: { destination: ip("203.0.113.9"), body: { kind: "icmp", type: 8 } } } } },
    });
  });
});

/** Whether checksums cover every byte behind the EtherType: over IPv4 they do, IPv6 leaves its own header out. */
function isChecked(title: string): boolean {
  return /^(ICMP echo|TCP|UDP over IPv4|port unreach|host unreach|DHCP)/.test(title);
}
