import { describe, expect, test } from "vitest";
import {
  type EditableText,
  entryAdded,
  entryRemoved,
  itemAdded,
  itemRemoved,
  itemsSwapped,
  openText,
  pathAt,
  replaced,
  type TextEdit,
  withEdits,
  wordAdded,
} from "../../src/document/index.ts";

const BLOCK = `rules:            # first match decides
  # who answers
  - { name: a, in: x }   # one
  # who asks
  - name: b
    in: y
other: word
`;
const FLOW = "ports: { p1: seat, p2: [a, b] }\nempty: []\nlong: [\n  one,\n  two\n]\n";

function edited(text: string, edit: (document: EditableText) => readonly TextEdit[]): string {
  const document = openText({ path: "x.yaml", text }, 0);
  if (document === undefined) throw new Error("no document");
  return withEdits(text, edit(document));
}

describe("a list written line by line", () => {
  test("takes an item first, above the comment of the one that was", () => {
    const after = edited(BLOCK, (document) => itemAdded(document, ["rules"], 0, "new"));
    expect(after).toBe(BLOCK.replace("  # who answers", "  - new\n  # who answers"));
  });
  test("takes an item between two, below the comment behind the first", () => {
    const after = edited(BLOCK, (document) => itemAdded(document, ["rules"], 1, "new"));
    expect(after).toBe(BLOCK.replace("# one\n", "# one\n  - new\n"));
  });
  test("takes an item last", () => {
    const after = edited(BLOCK, (document) => itemAdded(document, ["rules"], 2, "new"));
    expect(after).toBe(BLOCK.replace("    in: y\n", "    in: y\n  - new\n"));
  });
  test("takes an item at the end of a text without a line end", () => {
    expect(edited("a:\n  - b", (document) => itemAdded(document, ["a"], 1, "c"))).toBe("a:\n  - b\n  - c");
  });
  test("loses an item with its lines, and keeps every comment above", () => {
    const after = edited(BLOCK, (document) => itemRemoved(document, ["rules"], 1));
    expect(after).toBe(BLOCK.replace("  - name: b\n    in: y\n", ""));
  });
  test("becomes empty brackets when its only item goes", () => {
    expect(edited("a:\n  - b\nc: d\n", (document) => itemRemoved(document, ["a"], 0))).toBe("a: []\nc: d\n");
  });
  test("has two items change places, comments left where they are", () => {
    const after = edited(BLOCK, (document) => itemsSwapped(document, ["rules"], 0, 1));
    expect(after).toContain(
      "  # who answers\n  - name: b\n    in: y   # one\n  # who asks\n  - { name: a, in: x }\nother",
    );
  });
});

describe("brackets", () => {
  test("take an item first, last, and when they are empty", () => {
    expect(edited(FLOW, (document) => itemAdded(document, ["ports", "p2"], 0, "n"))).toContain("p2: [n, a, b]");
    expect(edited(FLOW, (document) => itemAdded(document, ["ports", "p2"], 2, "n"))).toContain("p2: [a, b, n]");
    expect(edited(FLOW, (document) => itemAdded(document, ["empty"], 0, "n"))).toContain("empty: [n]");
  });
  test("of several lines take an item on a line of its own", () => {
    expect(edited(FLOW, (document) => itemAdded(document, ["long"], 2, "three"))).toContain("  two,\n  three\n]");
    expect(edited(FLOW, (document) => itemAdded(document, ["long"], 0, "none"))).toContain("[\n  none,\n  one,\n");
  });
  test("lose their first, last and only item", () => {
    expect(edited(FLOW, (document) => itemRemoved(document, ["ports", "p2"], 0))).toContain("p2: [b]");
    expect(edited(FLOW, (document) => itemRemoved(document, ["ports", "p2"], 1))).toContain("p2: [a]");
    expect(edited("a: [b]\n", (document) => itemRemoved(document, ["a"], 0))).toBe("a: []\n");
  });
  test("take an entry last, or before a key", () => {
    const put = { key: "p3", value: "air" };
    expect(edited(FLOW, (document) => entryAdded(document, ["ports"], put))).toContain("p2: [a, b], p3: air }");
    expect(edited(FLOW, (document) => entryAdded(document, ["ports"], { ...put, before: "p1" }))).toContain(
      "{ p3: air, p1: seat",
    );
    expect(edited("a: {}\n", (document) => entryAdded(document, ["a"], put))).toBe("a: { p3: air }\n");
  });
  test("lose an entry", () => {
    expect(edited(FLOW, (document) => entryRemoved(document, ["ports"], "p1"))).toContain("ports: { p2: [a, b] }");
    expect(edited(FLOW, (document) => entryRemoved(document, ["ports"], "p2"))).toContain("ports: { p1: seat }");
  });
});

describe("a mapping written line by line", () => {
  test("takes an entry last, or before a key that stands behind a dash", () => {
    const put = { key: "out", value: "z" };
    expect(edited(BLOCK, (document) => entryAdded(document, ["rules", 1], put))).toContain("    in: y\n    out: z\n");
    expect(edited(BLOCK, (document) => entryAdded(document, ["rules", 1], { ...put, before: "name" }))).toContain(
      "  - out: z\n    name: b\n",
    );
  });
  test("loses an entry, and one that stands behind a dash", () => {
    expect(edited(BLOCK, (document) => entryRemoved(document, ["rules", 1], "in"))).toContain("- name: b\nother");
    expect(edited(BLOCK, (document) => entryRemoved(document, ["rules", 1], "name"))).toContain("  - in: y\nother");
  });
  test("takes a value where a key has none yet", () => {
    expect(edited("a:\nb: c\n", (document) => entryAdded(document, ["a"], { key: "d", value: "e" }))).toBe(
      "a: { d: e }\nb: c\n",
    );
  });
});

test("a word becomes a list of two, and a list takes one more", () => {
  expect(edited(FLOW, (document) => wordAdded(document, ["ports", "p1"], "desk"))).toContain("p1: [seat, desk]");
  expect(edited(FLOW, (document) => wordAdded(document, ["ports", "p2"], "c"))).toContain("p2: [a, b, c]");
});

test("a word is replaced", () => {
  expect(edited(BLOCK, (document) => replaced(document, ["other"], "x"))).toContain("other: x\n");
});

test("the path to a place leads to the key or value that holds it", () => {
  const document = openText({ path: "x.yaml", text: BLOCK }, 0);
  if (document === undefined) throw new Error("no document");
  const at = (piece: string) => {
    const start = BLOCK.indexOf(piece);
    return pathAt(document, { file: 0, start, end: start + piece.length });
  };
  expect(at("rules")).toEqual(["rules"]);
  expect(at("x }")).toEqual(["rules", 0]);
  expect(at("y")).toEqual(["rules", 1, "in"]);
  expect(at("word")).toEqual(["other"]);
});
