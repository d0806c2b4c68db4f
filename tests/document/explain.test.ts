import { describe, expect, it } from "vitest";
import { CODES, type DiagnosticCode } from "../../src/diagnose/index.ts";
import { explainCode, explainedWords, explainWord, keyTable, nearestExplained } from "../../src/document/index.ts";

describe("the key table", () => {
  it("has each path once in its kind", () => {
    const paths = keyTable().map(({ kind, path }) => `${kind}: ${path}`);
    expect(paths.length).toBe(new Set(paths).size);
  });

  it("says of each key what it means in one sentence, and shows it", () => {
    for (const { path, row } of keyTable()) {
      expect([path, row.says]).toEqual([path, expect.stringMatching(/^[A-Z].*\.$/s)]);
      expect([path, row.example]).toEqual([path, expect.stringMatching(/^\S/)]);
    }
  });

  it.each([
    ...[
      "routes",
      "profile",
      "mac",
      "mtu",
      "reverse-path",
      "host-model",
      "spanning-tree",
      "relay",
      "authoritative",
      "reservations",
    ],
    ...[
      "options",
      "names",
      "advertise",
      "tunnels",
      "pppoe",
      "tag",
      "hands-out",
      "radios",
      "dest",
      "saves",
      "shared-fates",
    ],
  ])("has the key `%s`, as the design asks", (key) => {
    expect(keyTable().some(({ row }) => row.key === key)).toBe(true);
  });

  it("has no key that some YAML tool reads as a truth or as nothing", () => {
    for (const { row } of keyTable()) expect(row.key).not.toMatch(/^(?:y|n|yes|no|on|off|true|false|null|~)$/i);
  });
});

describe("explain", () => {
  it("tells where a key stands, what it means, what it takes, and its default", () => {
    expect(explainWord("dhcp.*.lease")).toBe(
      [
        "lease  (intent: devices.*.dhcp.*.lease)",
        "  How long a lease lasts (option 51).",
        "  takes     a duration such as `12h`",
        "  default   12h (common practice)",
        "  example   lease: 12h",
      ].join("\n"),
    );
  });

  it("lists the keys below a key, one level down", () => {
    expect(explainWord("translate")).toContain("keys      source, dest, clients-may-open-forwards, mapping, filtering");
    expect(explainWord("shared-fates")).not.toContain("keys");
  });

  it("tells the words that a key takes, each with its meaning", () => {
    expect(explainWord("alone")).toContain("`first-member`: its first member carries");
  });

  it("tells a value by where it stands", () => {
    const told = explainWord("highest-first");
    expect(told).toContain("highest-first  (intent: a value of devices.*.dhcp.*.order)\n");
    expect(told).toContain("\n  the highest free address");
  });

  it("says once what is alike in several places, under all of them", () => {
    expect(explainWord("admit")?.split("\n").slice(0, 4)).toEqual([
      "admit  (intent: port-roles.*.admit)",
      "admit  (intent: devices.*.switching.ports.*.admit)",
      "admit  (intent: devices.*.switching.own.admit)",
      "  Which frames may enter.",
    ]);
  });

  it("tells the keys of a kind", () => {
    expect(explainWord("topology")).toBe(
      "topology  (a kind of document)\n  What is racked and cabled.\n  keys      dryrack, devices, cables, shared-fates",
    );
  });

  it("tells what is not modelled", () => {
    expect(explainWord("ospf")).toContain("ospf  (not modelled)");
  });

  it("knows every word that it lists, and no other", () => {
    for (const word of explainedWords()) expect([word, explainWord(word)]).toEqual([word, expect.any(String)]);
    expect(explainWord("frobnicate")).toBeUndefined();
    expect(nearestExplained("reverse-pth")).toBe("reverse-path");
    expect(nearestExplained("bad-vlna")).toBe("bad-vlan");
  });

  // Object.keys of the table gives exactly the codes.
  it.each(Object.keys(CODES) as DiagnosticCode[])("tells the code %s in lines of at most 80 columns", (code) => {
    const text = explainCode(code);
    expect(text.startsWith(code)).toBe(true);
    const prose = text.split("\n").filter((line) => !line.startsWith("    "));
    expect(prose.filter((line) => line.length > 80)).toEqual([]);
  });
});
