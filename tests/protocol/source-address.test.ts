/**
 * Which source is preferred (RFC 6724 section 5), and that destinations which nothing tells apart prefer the same one.
 */
import { describe, expect, it } from "vitest";
import { formatAddress, keyAddress, parseAddress, prefixKeys } from "../../src/address/index.ts";
import type { InterfaceAddress } from "../../src/network/index.ts";
import { preferenceTurns, preferredSource, sourceCandidates } from "../../src/protocol/index.ts";
import { stream } from "../property/two-engines.ts";

const origin = { by: "default", rule: "", source: "", span: { file: 0, start: 0, end: 0 } } as const;

function owned(text: string, prefixLength = 64): InterfaceAddress {
  const address = parseAddress(text);
  if (address === undefined) throw new Error(text);
  return { id: text, ...address, prefixLength, origin };
}

function chosen(own: readonly InterfaceAddress[], destination: string): string | undefined {
  const to = parseAddress(destination);
  const best = to && preferredSource(sourceCandidates(own, true), to);
  return best && formatAddress(best);
}

describe("the preferred source", () => {
  it("is no deprecated one where there is another, whatever is nearer, but for the destination itself (rules 1 to 3)", () => {
    const old: InterfaceAddress = { ...owned("2001:db8:1::2"), deprecated: true };
    expect(chosen([old, owned("2001:db8:3::2")], "2001:db8:1::1")).toBe("2001:db8:3::2");
    expect(chosen([old, owned("2001:db8:3::2")], "2001:db8:1::2")).toBe("2001:db8:1::2");
    expect(chosen([old, owned("fe80::2")], "2001:db8:1::1")).toBe("2001:db8:1::2");
    expect(chosen([old], "2001:db8:1::1")).toBe("2001:db8:1::2");
  });

  it.each([
    // RFC 6724 section 10.1; the zone of its sixth example and mobile ones are left out.
    ["2001:db8:1::1", ["2001:db8:3::1", "fe80::1"], "2001:db8:3::1"],
    ["ff05::1", ["2001:db8:3::1", "fe80::1"], "2001:db8:3::1"],
    ["2001:db8:1::1", ["2001:db8:1::1", "2001:db8:2::1"], "2001:db8:1::1"],
    ["fe80::1", ["fe80::2", "2001:db8:1::1"], "fe80::2"],
    ["2001:db8:1::1", ["2001:db8:1::2", "2001:db8:3::2"], "2001:db8:1::2"],
    [
      "2002:c633:6401::1",
      ["2002:c633:6401:0:d5e3:7953:13eb:22e8", "2001:db8:1::2"],
      "2002:c633:6401:0:d5e3:7953:13eb:22e8",
    ],
  ])("to %s of %j is %s", (destination, own, expected) => {
    expect(
      chosen(
        own.map((text) => owned(text)),
        destination,
      ),
    ).toBe(expected);
    expect(
      chosen(
        own.toReversed().map((text) => owned(text)),
        destination,
      ),
    ).toBe(expected);
  });

  it("is the address that the interface got last, of equals", () => {
    expect(chosen([owned("2001:db8:3::1"), owned("2001:db8:3::2")], "2001:db8:9::9")).toBe("2001:db8:3::2");
  });

  it("changes only where the turns say", () => {
    const next = stream(11);
    const pick = <Value>(values: readonly Value[]): Value => values[next(values.length)] as Value;
    const number = (): string =>
      `${pick(["fd00", "fd01", "2001", "2001:db8", "2002", "3ffe"])}:${pick(["1", "2", "3", "8001"])}::${pick(["1", "2", "11"])}`;
    let compared = 0;
    for (let round = 0; round < 400; round++) {
      const own = Array.from({ length: 2 + next(3) }, () => owned(number(), pick([32, 40, 48, 64, 128])));
      const candidates = sourceCandidates(own, true);
      const turns = preferenceTurns(candidates).map(prefixKeys);
      const cellOf = (key: bigint): string =>
        turns.map(([low, high]) => (low <= key && key <= high ? "+" : "-")).join("");
      const preferred = new Map<string, string | undefined>();
      for (let at = 0; at < 30; at++) {
        const [low, high] = pick(turns);
        const key = pick([low, high, low + 1n, low + (BigInt(next(1 << 20)) * (high - low)) / BigInt(1 << 20)]);
        const best = preferredSource(candidates, keyAddress(key));
        const told = best && formatAddress(best);
        const cell = cellOf(key);
        if (preferred.has(cell)) compared++;
        expect(preferred.get(cell) ?? told).toBe(told);
        preferred.set(cell, told);
      }
    }
    expect(compared).toBeGreaterThan(1000);
  });
});
