import { describe, expect, it } from "vitest";
import { CODES, type DiagnosticCode, editDistance } from "../../src/diagnose/index.ts";
import {
  ASSERTION_KINDS,
  type AssertionKind,
  explainCode,
  explainedWords,
  explainTopics,
  explainWord,
  keyTable,
  nearestExplained,
} from "../../src/document/index.ts";
import type { Verdict } from "../../src/result/index.ts";
import { assertions, loadWell } from "./support.ts";

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
  it("tells of a word that stands in very many places the first of them and how many more there are", () => {
    const lines = explainWord("internet")?.split("\n") ?? [];
    expect(lines).toHaveLength(8);
    expect(lines[6]).toMatch(/^and in \d+ more places$/);
    expect(lines[7]).toBe("  whatever leaves by an upstream port");
  });

  it("tells whoever names no word what there is to explain", () => {
    for (const word of ["topology", "intent", "assertions", "storyline"]) {
      expect(explainTopics()).toMatch(new RegExp(`^${word}$`, "m"));
      expect(explainWord(word)).toBeDefined();
    }
    expect(explainTopics()).toContain("connects, arrives, blocked, only, resolves, policy, lease, segment");
  });

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

  it.each([
    "kept",
    "broken",
    "vacuous",
    "undecided",
    "skipped",
    "shut",
    "open",
    "seen",
    "gone",
    "newly-allowed",
    "unjudged",
  ])("tells what the verdict %s means", (word) => {
    expect(explainWord(word)).toMatch(new RegExp(`^${word} {2}\\(a word of verdicts\\)\n  \\S`));
    expect(explainTopics()).toContain(word);
  });

  it.each(["packet", "assumption", "repair", "storm", "thread"])("tells what the word %s of reports means", (word) => {
    expect(explainWord(word)).toMatch(new RegExp(`^${word} {2}\\(a word of reports\\)\n \\s*\\S`));
    expect(explainTopics()).toContain(word);
  });

  it.each(["trunk", "uplink", "prefix", "netmask", "firewall", "nat", "dns", "vpn"])(
    "tells the word %s of the trade, and where to read on",
    (word) => {
      expect(explainWord(word)).toMatch(new RegExp(`^${word} {2}\\(a word of the trade\\)\n \\s*\\S`));
      expect(explainTopics()).toContain(word);
    },
  );

  it("sends nobody on to a word that it does not know", () => {
    const known = new Set(explainedWords());
    const lines = explainedWords().flatMap((word) => /^ {2}see .*/m.exec(explainWord(word) ?? "") ?? []);
    const sent = lines.flatMap((line) => [...line.matchAll(/`([^`]+)`/g)]);
    expect(sent.length).toBeGreaterThan(40);
    for (const [, word = ""] of sent) expect([word, known.has(word)]).toEqual([word, true]);
  });

  it.each([
    ["VLAN", "vlan"],
    ["spanning tree", "spanning-tree"],
    ["cable", "cables"],
    ["leases", "lease"],
    ["policies", "policy"],
    ["SSID", "ssids"],
    ["masquerade", "nat"],
    ["not seen", "seen"],
    ["newly allowed", "newly-allowed"],
    ["paths", "way"],
  ])("takes %s for %s", (typed, word) => {
    expect(explainWord(typed)).toBe(explainWord(word));
    expect(explainWord(typed)).toBeDefined();
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

  it.each(keyTable().map(({ kind, path, row }) => [kind, path, row] as const))(
    "tells of the %s key %s what it means, what it takes, and an example",
    (kind, path, { key, says }) => {
      const sections = (explainWord(path) ?? "").split("\n\n");
      const own = sections.find((section) => section.startsWith(`${key}  (${kind}: ${path})`)) ?? "";
      const flat = own.replace(/\s+/g, " ");
      expect(flat).toContain(says.replace(/\s+/g, " "));
      for (const field of ["takes", "default", "example"]) expect(own).toMatch(new RegExp(`^  ${field} +\\S`, "m"));
    },
  );

  it("says nothing twice of a word", () => {
    for (const word of explainedWords()) {
      const sections = (explainWord(word) ?? "").split("\n\n");
      const bodies = sections.map((section) =>
        section
          .split("\n")
          .filter((line) => /^\s/.test(line))
          .join("\n"),
      );
      expect([word, bodies.length]).toEqual([word, new Set(bodies).size]);
    }
  });

  // Object.keys of the table gives exactly the kinds.
  it.each(Object.keys(ASSERTION_KINDS) as AssertionKind[])("tells the kind %s by an assertion of it", (kind) => {
    const { explanation, example } = ASSERTION_KINDS[kind];
    expect(explainWord(kind)).toContain(`${kind}  (a kind of assertion)\n`);
    expect(explanation).toMatch(/^[A-Z].*\.$/s);
    const { assertions: loaded } = loadWell("assertions", assertions(example.replaceAll(/^/gm, "  ")));
    const kinds = loaded.map((each): Verdict["kind"] => (each.kind === "reach" ? each.expect.value : each.kind));
    expect(kinds).toEqual([kind]);
  });

  it("tells every code and every kind in words of its own, with an example", () => {
    const told = [...Object.values(CODES), ...Object.values(ASSERTION_KINDS)];
    expect(new Set(told.map(({ explanation }) => explanation)).size).toBe(told.length);
    expect(new Set(told.map(({ example }) => example)).size).toBe(told.length);
    for (const { example } of told) expect(example).toMatch(/\S/);
  });

  it("knows what was meant by any word or code with two letters swapped", () => {
    for (const word of [...explainedWords(), ...Object.keys(CODES)].filter((each) => each.length > 5)) {
      const typed = word.slice(0, 2) + word.charAt(3) + word.charAt(2) + word.slice(4);
      const nearest = nearestExplained(typed) ?? "";
      expect([word, nearest, editDistance(typed, nearest) <= 1]).toEqual([word, nearest, true]);
    }
  });

  // Object.keys of the table gives exactly the codes.
  it.each(Object.keys(CODES) as DiagnosticCode[])("tells the code %s in lines of at most 80 columns", (code) => {
    const text = explainCode(code);
    expect(text.startsWith(code)).toBe(true);
    const prose = text.split("\n").filter((line) => !line.startsWith("    "));
    expect(prose.filter((line) => line.length > 80)).toEqual([]);
  });
});
