/**
 * What routers of the `rfc` profile do with addresses that are special in their prefix or by RFC 6890, and with those of
 * 31-bit prefixes; ARP by RFC 826. The values of the addresses themselves are in `addresses.test.ts`.
 */
import { describe, expect, it } from "vitest";
import type { Simulation } from "../../src/simulate/index.ts";
import { ARP_REPLY, ARP_REQUEST, type Frame } from "../../src/wire/index.ts";
import { ask, at, packet, told, udp } from "../simulate/ask.ts";
import { resolvedOf } from "../support/site.ts";
import { type Row, simulateRow } from "./rfc-row.ts";

const ROW: Row = {
  inside: "192.0.2.9/24",
  in: "192.0.2.1/24",
  out: "198.51.100.254/24",
  outside: "198.51.100.1/24",
};

/** Why what the inside host sends ends, and whether it was ever put on the wire beyond the router. */
function sent(source: string, destination: string, row: Row = ROW): [reason: string, crossed: boolean] {
  const { endings, segments } = simulateRow(row).sendFrom("inside/stack", packet(source, destination, udp(1, 2)));
  const fate = endings.find(({ descent }) => descent === "sent")?.fate;
  const crossed = segments.some(({ point, descent }) => point.at === "router:out" && descent === "sent");
  return [fate === undefined ? "nothing" : "reason" in fate ? fate.reason : fate.end, crossed];
}

describe("A5: 31-bit prefixes, RFC 3021 sections 2.1 and 2.2", () => {
  const link = (near: string, far: string): Row => ({ ...ROW, out: `${near}/31`, outside: `${far}/31` });

  it("both addresses are hosts: each may be either end", () => {
    const reached = (near: string, far: string) => told(ask(simulateRow(link(near, far)), "inside/stack", far));
    expect([reached("198.51.100.6", "198.51.100.7"), reached("198.51.100.7", "198.51.100.6")]).toEqual([
      "answered",
      "answered",
    ]);
  });

  it("neither is warned of as one warns of the ends of longer prefixes", () => {
    const codes = (address: string) =>
      resolvedOf(
        "devices: { edge: { is: router, ports: { lan1: 1G } } }",
        `devices: { edge: { interfaces: { lan: { port: lan1, ipv4: ${address} } } } }`,
      ).diagnostics.map(({ code }) => code);
    expect([codes("198.51.100.6/31"), codes("198.51.100.7/31"), codes("198.51.100.6/32")]).toEqual([[], [], []]);
    expect([codes("198.51.100.4/30"), codes("198.51.100.7/30")]).toEqual([["address-special"], ["address-special"]]);
  });
});

describe("A6: the ends of a prefix, RFC 1812 sections 4.2.3.1 and 5.3.5", () => {
  it("{prefix, 0} and 0.0.0.0 as destinations are discarded in silence", () => {
    expect(sent("192.0.2.9", "198.51.100.0")).toEqual(["martian", false]);
    expect(told(ask(simulateRow(ROW), "inside/stack", "198.51.100.0"))).toBe("silent");
  });

  it("255.255.255.255 never crosses a router (section 5.3.5.1)", () => {
    const { segments, arrivals } = simulateRow(ROW).sendFrom(
      "inside/stack",
      packet("192.0.2.9", "255.255.255.255", udp(1, 2)),
    );
    expect(arrivals.map(({ stack }) => stack)).toContain("router/stack");
    expect(segments.filter(({ point }) => point.at === "router:out")).toEqual([]);
  });
});

describe("A7: what is not forwardable does not cross, RFC 6890 tables 4, 5 and 15, RFC 1812 section 5.3.7", () => {
  /** The far network is that of the address, so that a route to it is there. */
  const toward = (prefix: string, far: string): Row => ({ ...ROW, out: prefix, outside: far });

  it.each([
    ["169.254.7.7", "169.254.7.1/24"],
    ["127.5.5.5", "127.5.5.1/24"],
    ["240.0.0.7", "240.0.0.1/24"],
  ])("to %s", (destination, near) => {
    const row = toward(near, `${destination}/24`);
    expect(sent("192.0.2.9", destination, row)[1]).toBe(false);
  });

  it.each(["169.254.7.7", "127.0.0.1", "240.0.0.7", "0.1.2.3"])("from %s", (source) => {
    expect(sent(source, "198.51.100.1")[1]).toBe(false);
  });

  it.each(["192.0.2.77", "10.1.2.3", "100.64.0.9", "198.18.0.9"])("from %s it does: forwardable", (source) => {
    expect(sent(source, "198.51.100.1")[1]).toBe(true);
  });
});

describe("R11: sources that no station has, RFC 1812 section 5.3.7", () => {
  it.each(["192.0.2.255", "198.51.100.255"])("the broadcast address of a network of the router's: %s", (source) => {
    expect(sent(source, "198.51.100.1")).toEqual(["martian", false]);
  });

  it("that of another network is an address like any other to the router", () => {
    expect(sent("203.0.113.255", "198.51.100.1")[1]).toBe(true);
  });
});

describe("P5: RFC 826, packet reception", () => {
  const LIAR = 0x0200_0000_0066n;

  function arp(operation: number, sender: string, target: string): Frame {
    const addresses = { senderAddress: at(sender), targetHardware: 0n, targetAddress: at(target) };
    const payload = { kind: "arp", arp: { operation, senderHardware: LIAR, ...addresses } } as const;
    return { destination: 0xffff_ffff_ffffn, source: LIAR, tags: [], payload };
  }

  /** Whether the router, having heard a frame, sends to its sender what is for the inside host. */
  function hasMoved(simulation: Simulation, heard: Frame): boolean {
    simulation.inject({ at: "router:in", frame: heard });
    const { arrivals } = simulation.sendFrom("router/stack", packet("192.0.2.1", "192.0.2.9", udp(1, 2)));
    return !arrivals.some(({ stack }) => stack === "inside/stack");
  }

  it("an entry that is there is updated by whatever its owner sends, whoever that is for", () => {
    const simulation = simulateRow(ROW);
    expect(told(ask(simulation, "inside/stack", "192.0.2.1"))).toBe("answered");
    expect(hasMoved(simulation, arp(ARP_REQUEST, "192.0.2.9", "192.0.2.50"))).toBe(true);
  });

  it("a new one is made only by what is for the receiver", () => {
    expect(hasMoved(simulateRow(ROW), arp(ARP_REQUEST, "192.0.2.9", "192.0.2.50"))).toBe(false);
    expect(hasMoved(simulateRow(ROW), arp(ARP_REQUEST, "192.0.2.9", "192.0.2.1"))).toBe(true);
  });

  it("a request for the receiver is answered, one for another is not", () => {
    const answers = (target: string) => {
      const seen: Frame[] = [];
      const capture = { frame: (_point: string, _atUs: number, frame: Frame) => seen.push(frame) };
      simulateRow(ROW, { capture }).inject({ at: "router:in", frame: arp(ARP_REQUEST, "192.0.2.9", target) });
      return seen.some(({ payload }) => payload.kind === "arp" && payload.arp.operation === ARP_REPLY);
    };
    expect([answers("192.0.2.1"), answers("192.0.2.50")]).toEqual([true, false]);
  });
});
