/** Fates, ways and packets in words. */
import { describe, expect, test } from "vitest";
import type { Origin } from "../../src/diagnose/index.ts";
import type { Fate, NumberField, PathStep } from "../../src/network/index.ts";
import {
  type Names,
  oneLine,
  type Packet,
  packetLines,
  packetOf,
  shellWord,
  tellFate,
  tellPath,
} from "../../src/result/index.ts";

const AT: Origin = { by: "written", span: { file: 0, start: 4, end: 9 } };
const NAMES: Names = new Map([["0:4:9", "`guests go out`"]]);

const GATE = { family: 6, value: 0xfd00_0000_0000_0000_0000_0000_0000_0001n } as const;

const step = (at: string, did: string, detail = ""): PathStep => ({ at, did, detail, origin: AT });
const told = (...path: readonly PathStep[]): string[] => tellPath(path, NAMES).map(({ text }) => text);
const last = (path: readonly PathStep[], fate: Fate): string | undefined => tellPath(path, NAMES, fate).at(-1)?.text;

describe("a fate", () => {
  test.each<[string, Fate]>([
    ["reaches gate", { end: "delivered", at: "gate/stack", origin: AT }],
    ["is put on the wire at isp:drop", { end: "on-segment", at: "isp:drop", origin: AT }],
    ["is put on the wire by gate", { end: "on-segment", at: "gate/stack/guests", origin: AT }],
    ["dropped by `guests go out`", { end: "dropped", reason: "filter", at: "gate/stack", origin: AT }],
    ["`gate:p3` does not carry this network", { end: "dropped", reason: "not-member", at: "gate:p3", origin: AT }],
    [
      "gate knows no way to this address (ICMP 3/0 from gate)",
      { end: "refused", reason: "no-route", at: "gate/stack", origin: AT, icmp: { type: 3, code: 0 } },
    ],
    [
      "gate knows no way to this address (icmp6/no-route from gate)",
      { end: "refused", reason: "no-route", at: "gate/stack", origin: AT, icmp: { type: 1, code: 0 }, from: GATE },
    ],
    [
      "nothing on gate listens for it (a reset from gate)",
      { end: "refused", reason: "no-listener", at: "gate/stack", origin: AT },
    ],
  ])("reads: %s", (text, fate) => {
    expect(tellFate(fate, NAMES)).toBe(text);
  });

  test("names the address that nobody answered for, where the way shows it", () => {
    const fate: Fate = { end: "dropped", reason: "no-neighbour", at: "gate/stack", origin: AT };
    const asked = [step("gate/stack", "route", "gate/stack/lan"), step("gate/stack", "ask", "who has 10.0.0.9 on lan")];
    const routed = [step("gate/stack", "route", "gate/stack/lan via 10.0.0.7")];
    expect(tellFate(fate, NAMES, asked)).toBe("nobody answers for 10.0.0.9 on the link of gate");
    expect(tellFate(fate, NAMES, routed)).toBe("nobody answers for 10.0.0.7 on the link of gate");
    expect(tellFate(fate, NAMES)).toBe("nobody answers for the next address on the link of gate");
  });

  test("says what is missing where something is", () => {
    const origin: Origin = { ...AT, by: "absent", wanted: "`guests` in this list" };
    const fate: Fate = { end: "dropped", reason: "not-member", at: "gate:p3", origin };
    expect(tellFate(fate, NAMES)).toBe("`gate:p3` does not carry this network: `guests` in this list is missing");
  });
});

describe("a way", () => {
  test("leaves a bridge in one sentence, with the member of a bond", () => {
    expect(told(step("core/switching", "lookup", "core:p4, untagged"), step("core:p4", "leave"))).toEqual([
      "goes out at core:p4, untagged",
    ]);
    expect(told(step("core/switching", "lookup", "core:pair, tagged"), step("core:p1", "leave"))).toEqual([
      "goes out at core:p1 of pair, tagged",
    ]);
  });

  test("leaves a bridge to everyone in the same words", () => {
    expect(told(step("core/switching", "lookup", "to all: core:pair, tagged"), step("core:p1", "leave"))).toEqual([
      "goes out at core:p1 of pair, tagged",
    ]);
    expect(told(step("desk/switching", "lookup", "to all: desk:p1"), step("desk:p1", "leave"))).toEqual([
      "goes out at desk:p1",
    ]);
    expect(told(step("core/switching", "lookup", "to all: core/switching/own"))).toEqual(["goes on to core itself"]);
  });

  test("says by which SSID a frame comes and goes", () => {
    expect(told(step("loft/ssids/Guest/open", "enter"))).toEqual(["comes in by `Guest`"]);
    expect(told(step("loft/switching", "lookup", "loft/ssids/Guest/phone"))).toEqual(["goes out by `Guest` to phone"]);
  });

  test("ends at the rule that stops it, and passes the others", () => {
    const rule = step("gate/stack", "filter");
    expect(told(rule, step("gate/stack", "deliver"))).toEqual(["passes `guests go out`", "arrives"]);
    expect(told(step("gate/stack", "route", "to itself"), rule)).toEqual([
      "is for gate itself",
      "is stopped by `guests go out`",
    ]);
  });

  test("is lost sight of at a rule of which nobody knows what it does", () => {
    const path = [step("gate/stack", "route", "to itself"), step("gate/stack", "filter")];
    expect(last(path, { end: "unknown", note: "set by the app", at: "gate/stack", origin: AT })).toBe(
      "is lost sight of at `guests go out`",
    );
  });

  test("passes the last rule where something behind it ends the packet", () => {
    const path = [step("gate/stack", "route", "to itself"), step("gate/stack", "filter")];
    expect(last(path, { end: "refused", reason: "no-listener", at: "gate/stack", origin: AT })).toBe(
      "passes `guests go out`",
    );
    expect(last(path, { end: "dropped", reason: "no-address-to-translate-to", at: "gate/stack", origin: AT })).toBe(
      "passes `guests go out`",
    );
    expect(last(path, { end: "dropped", reason: "filter", at: "gate/stack", origin: AT })).toBe(
      "is stopped by `guests go out`",
    );
    expect(last(path, { end: "refused", reason: "filter", at: "gate/stack", origin: AT })).toBe(
      "is stopped by `guests go out`",
    );
  });

  test("calls a port of a stand-in client by its own name only", () => {
    expect(told(step("~crew:nic", "leave"))).toEqual(["goes out at nic"]);
  });

  test("says nothing twice in a row, and nothing of steps that only pass it on", () => {
    const enter = step("gate:p1", "enter");
    expect(told(enter, step("gate/stack", "track"), enter)).toEqual(["comes in at gate:p1"]);
  });
});

describe("a packet", () => {
  const packet = (sentAt: string, ...numbers: readonly (readonly [NumberField, bigint])[]) =>
    oneLine(packetOf({ witness: { numbers, names: [] }, sentAt, before: [] }));

  test("is told with who may have sent it", () => {
    expect(packet("loft/ssids/Guest/open")).toContain("sent at loft by anyone on `Guest`");
    expect(packet("loft/ssids/Guest/phone")).toContain("sent at loft by phone on `Guest`");
    expect(packet("core/switching/p4")).toContain("sent at core:p4");
  });

  test("is an echo request without a code, and another message with its code", () => {
    expect(packet("core:p4", ["protocol", 1n], ["icmpType", 8n], ["icmpCode", 0n])).toContain("icmp/echo-request from");
    expect(packet("core:p4", ["protocol", 1n], ["icmpType", 44n], ["icmpCode", 2n])).toContain("icmp/44/2 from");
  });

  test("is called as people write it where its type has one code, and that is its own", () => {
    // RFC 4861 section 4.1: a router solicitation is type 133 with code 0; RFC 792: codes of type 3 mean different things.
    const neighbours = (code: bigint) => packet("core:p4", ["protocol", 58n], ["icmpType", 133n], ["icmpCode", code]);
    expect(neighbours(0n)).toContain("icmp6/router-solicitation from");
    expect(neighbours(5n)).toContain("icmp6/133/5 from");
    expect(packet("core:p4", ["protocol", 1n], ["icmpType", 3n], ["icmpCode", 3n])).toContain(
      "icmp/port-unreachable from",
    );
    expect(packet("core:p4", ["protocol", 1n], ["icmpType", 12n], ["icmpCode", 0n])).toContain("icmp/12/0 from");
  });

  test("is told with the time that passes before it and before what it needs", () => {
    const witness = { numbers: [["hopLimit", 1n] as const], names: [] };
    const told = packetOf({
      witness,
      sentAt: "core:p4",
      before: [{ witness, sentAt: "core:p4", waits: 25 }],
      waits: 20,
    });
    expect(oneLine(told)).toMatch(/sent at core:p4, 20 s after what comes before it$/);
    expect(told.after).toEqual([expect.stringMatching(/sent at core:p4, 25 s later with hop limit 1$/)]);
  });

  test("is told with the hardware address that it comes from where something looks at that, and that it goes to everyone", () => {
    const own = ["sourceHardware", 0x02005e000001n] as const;
    const from = "sent at sw:p1, from hardware address 02:00:5e:00:00:01";
    expect(packet("sw:p1", own, ["destinationHardware", 0x02005e000002n])).toMatch(new RegExp(`${from}$`));
    expect(packet("sw:p1", own, ["destinationHardware", 0xffffffffffffn])).toMatch(
      new RegExp(`${from} in a frame to everyone$`),
    );
    expect(packet("sw:p1", ["destinationHardware", 0xffffffffffffn])).toMatch(/sent at sw:p1$/);
  });

  test("is told with how far a reset goes before it", () => {
    const numbers = [["protocol", 6n] as const, ["tcpFlags", 4n] as const, ["hopLimit", 1n] as const];
    const reset = { witness: { numbers, names: [] }, sentAt: "core:p4" };
    const told = packetOf({ witness: { numbers: [], names: [] }, sentAt: "core:p4", before: [reset] });
    expect(told.after).toEqual([expect.stringMatching(/sent at core:p4, a reset with hop limit 1$/)]);
  });

  test("is told with its tag", () => {
    expect(packet("core:p4", ["vlan", 4096n + 30n])).toContain("sent at core:p4, tagged 30");
  });
});

describe("a word for a shell", () => {
  test.each([
    ["assertions/site/a.yaml", "assertions/site/a.yaml"],
    ["a b", "'a b'"],
    ["it's", "'it'\\''s'"],
    ["", "''"],
  ])("%s", (word, quoted) => {
    expect(shellWord(word)).toBe(quoted);
  });
});

test("what comes before a packet is told in its order, and how often where it is the same several times running", () => {
  const packet: Packet = {
    ...{ sentAt: "sw:p1", source: "10.0.0.2", destination: "10.0.0.9", service: "udp/53", waitsSeconds: 25 },
    after: ["one", "one, 25 s later", "one, 25 s later", "one"],
  };
  expect(packetLines(packet)).toEqual([
    "packet: udp/53 from 10.0.0.2 to 10.0.0.9, sent at sw:p1, 25 s after what comes before it",
    "after: one",
    "after: one, 25 s later, 2 times",
    "after: one",
  ]);
});
