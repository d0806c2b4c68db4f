/** The nearest valid word to a slip of the finger, and distances against a plain recursive definition. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { editDistance, nearestWord } from "../../src/diagnose/index.ts";

const KEYS = ["vlan", "ipv4", "ipv6", "devices", "cables", "networks", "port-roles", "sets"];

/** The definition itself, on suffixes. */
function slowDistance(a: string, b: string): number {
  if (a === "" || b === "") return a.length + b.length;
  const options = [
    slowDistance(a.slice(1), b) + 1,
    slowDistance(a, b.slice(1)) + 1,
    slowDistance(a.slice(1), b.slice(1)) + (a[0] === b[0] ? 0 : 1),
  ];
  if (a.length > 1 && a[0] === b[1] && a[1] === b[0]) options.push(slowDistance(a.slice(2), b.slice(2)) + 1);
  return Math.min(...options);
}

describe("editDistance", () => {
  it.each([
    ["vlan", "vlan", 0],
    ["vlna", "vlan", 1],
    ["vla", "vlan", 1],
    ["vlaan", "vlan", 1],
    ["flan", "vlan", 1],
    ["", "vlan", 4],
    ["ca", "abc", 3],
    ["😀", "😁", 1],
  ])("of %j and %j is %i", (a, b, distance) => {
    expect(editDistance(a, b)).toBe(distance);
  });

  it("is what the definition says, both ways round", () => {
    const word = fc.array(fc.constantFrom("a", "b", "c"), { maxLength: 5 }).map((letters) => letters.join(""));
    fc.assert(
      fc.property(word, word, (a, b) => {
        expect(editDistance(a, b)).toBe(slowDistance(a, b));
        expect(editDistance(b, a)).toBe(editDistance(a, b));
      }),
    );
  });
});

describe("nearestWord", () => {
  it.each([
    ["vlna", "vlan"],
    ["ipv5", "ipv4"],
    ["device", "devices"],
    ["Devices", "devices"],
    ["cabels", "cables"],
    ["port_role", "port-roles"],
    ["netwroks", "networks"],
    ["port", "port-roles"],
    ["cablesAndSockets", "cables"],
  ])("answers `%s` with `%s`", (word, expected) => {
    expect(nearestWord(word, KEYS)).toBe(expected);
  });

  it.each(["", "x", "frobnicate", "vl", "sessions", "v".repeat(10_000)])("has nothing to say to `%.20s`", (word) => {
    expect(nearestWord(word, KEYS)).toBeUndefined();
  });

  it("breaks ties by code point, whatever the order of the candidates", () => {
    expect(nearestWord("cat", ["rat", "bat", "hat"])).toBe("bat");
    expect(nearestWord("cat", ["hat", "bat", "rat"])).toBe("bat");
    expect(nearestWord("ab", ["Ab", "AB"])).toBe("AB");
    expect(nearestWord("ax", ["a\u{1f600}", "a\uff41"])).toBe("a\uff41");
  });

  it("prefers the nearer word over the earlier one", () => {
    expect(nearestWord("uplinks", ["up-links-x", "uplink"])).toBe("uplink");
  });

  it("sees no slip in a single letter, another case apart", () => {
    expect(nearestWord("c", ["a", "b"])).toBeUndefined();
    expect(nearestWord("B", ["a", "b"])).toBe("b");
  });

  it("a word that is valid is its own nearest", () => {
    for (const key of KEYS) expect(nearestWord(key, KEYS)).toBe(key);
  });
});
