/** Edits by path: what becomes of an intent, where what they bring says it stands, and what cannot be done. */
import { describe, expect, it } from "vitest";
import { type Edit, editTrees, loadDocument, loadTree, type Node, openText } from "../../src/document/index.ts";
import { intent, storyline } from "./support.ts";

const INTENT = intent(`networks: { crew: { vlan: 30 }, dotted.name: { vlan: 31 } }
sets: { admins: [laptop, desk] }
port-roles: { seat: { untagged: crew } }
devices:
  edge:
    dhcp: { crew: { hosts: 100-199, lease: 12h } }
    switching: { ports: { p3: seat, p5..8: seat }, own: { tagged: crew } }
    routes: [{ to: 10.71.0.0/16, action: unreachable }]
    filter:
      through:
        otherwise: drop
        rules:
          - { name: go out, in: crew, action: accept }
          - { name: come in, out: crew, action: drop }`);

/** The intent after edits as nested plain values, or the code and marked text of what is wrong. */
function outcome(lines: string): unknown {
  const story = storyline(`  - change:\n${lines.replace(/^/gm, "      ")}`);
  const { document, diagnostics } = loadDocument({ path: "s.yaml", text: story }, 1);
  if (document?.kind !== "storyline") throw new Error(JSON.stringify(diagnostics));
  const [step] = document.story;
  if (step?.does.kind !== "change" || step.does.change.by !== "edits") throw new Error("no edits");
  return edited(step.does.change.edits.value, story);
}

function edited(edits: readonly Edit[], story: string): unknown {
  const root = openText({ path: "i.yaml", text: INTENT }, 0)?.root;
  if (root === undefined) throw new Error("no tree");
  let trees: ReadonlyMap<number, Node> = new Map([[0, root]]);
  for (const edit of edits) {
    const done = editTrees(trees, edit, ["edge", "laptop", "desk"]);
    if ("problem" in done) return shown(done.problem, story);
    trees = done.trees;
  }
  const whole = trees.get(0);
  if (whole === undefined) throw new Error("no tree");
  const { diagnostics } = loadTree(whole, { file: 0, start: 0, end: 1 });
  const [first] = diagnostics;
  return first === undefined ? plain(whole) : shown(first, story);
}

function shown(
  {
    code,
    labels,
    help,
  }: { code: string; labels: readonly { span: { file: number; start: number; end: number } }[]; help?: string },
  story: string,
): string {
  const span = labels[0]?.span;
  const text = span === undefined ? "" : (span.file === 1 ? story : INTENT).slice(span.start, span.end);
  return [`${code}: ${text}`, ...(help === undefined ? [] : [help])].join("; ");
}

function plain(node: Node): unknown {
  if (node.kind === "map") return Object.fromEntries(node.entries.map(({ key, value }) => [key.text, plain(value)]));
  if (node.kind === "list") return node.items.map(plain);
  return node.kind === "text" ? node.text : null;
}

const at = (value: unknown, ...keys: readonly (string | number)[]): unknown =>
  keys.reduce<unknown>((inner, key) => (inner as Record<string | number, unknown>)[key], value);

describe("an edit by path", () => {
  it("sets a value that stands there", () => {
    expect(at(outcome("- { set: edge.dhcp.crew.lease, to: 1h }"), "devices", "edge", "dhcp", "crew", "lease")).toBe(
      "1h",
    );
  });

  it("sets a value where nothing stood, mappings on the way included", () => {
    const found = outcome("- { set: laptop.legs.nic, to: lease }");
    expect(at(found, "devices", "laptop")).toEqual({ legs: { nic: "lease" } });
  });

  it("puts an item last, or before another one", () => {
    const found = outcome(
      [
        "- add: edge.filter.through.rules",
        "  item: { name: last, action: drop }",
        "- add: edge.filter.through.rules",
        "  item: { name: mid, action: drop }",
        "  before: come in",
      ].join("\n"),
    );
    const rules = at(found, "devices", "edge", "filter", "through", "rules") as { name: string }[];
    expect(rules.map(({ name }) => name)).toEqual(["go out", "mid", "come in", "last"]);
  });

  it("makes a list of a single word, and of nothing", () => {
    expect(
      at(outcome("- { add: edge.switching.own.tagged, item: dotted.name }"), "devices", "edge", "switching", "own"),
    ).toEqual({
      tagged: ["crew", "dotted.name"],
    });
    expect(at(outcome("- { add: edge.admin.services, item: tcp/22 }"), "devices", "edge", "admin")).toEqual({
      services: ["tcp/22"],
    });
  });

  it("takes away an entry, an item by its name, by its first value, or a word", () => {
    expect(at(outcome("- remove: edge.dhcp.crew"), "devices", "edge", "dhcp")).toEqual({});
    expect(
      at(
        outcome("- remove: edge.filter.through.rules[go out]"),
        "devices",
        "edge",
        "filter",
        "through",
        "rules",
        "length",
      ),
    ).toBe(1);
    expect(at(outcome("- remove: edge.routes[10.71.0.0/16]"), "devices", "edge", "routes")).toEqual([]);
    expect(at(outcome("- remove: admins[laptop]"), "sets", "admins")).toEqual(["desk"]);
  });

  it("finds keys that hold a dot, roles, and edits within an item", () => {
    expect(at(outcome("- { set: dotted.name.vlan, to: 32 }"), "networks", "dotted.name")).toEqual({ vlan: "32" });
    expect(at(outcome("- { set: port-roles.seat.untagged, to: dotted.name }"), "port-roles", "seat", "untagged")).toBe(
      "dotted.name",
    );
    const rules = at(
      outcome("- { set: 'edge.filter.through.rules[go out].action', to: drop }"),
      "devices",
      "edge",
      "filter",
      "through",
      "rules",
    );
    expect(at(rules, 0, "action")).toBe("drop");
  });

  it("finds a run of ports by the key that it is written as", () => {
    const ports = ["devices", "edge", "switching", "ports"];
    expect(at(outcome("- { set: edge.switching.ports.p5..8, to: 'off' }"), ...ports)).toEqual({
      p3: "seat",
      "p5..8": "off",
    });
    expect(at(outcome("- remove: edge.switching.ports.p5..8"), ...ports)).toEqual({ p3: "seat" });
  });

  it("points at the storyline where what it brings has no meaning", () => {
    expect(outcome("- { set: edge.dhcp.crew.lease, to: soon }")).toBe("bad-duration: soon");
    expect(outcome("- { set: edge.dhpc.crew.lease, to: 1h }")).toBe("unknown-key: dhpc; write `dhcp`");
  });

  it.each([
    ["- { set: egde.dhcp.crew.lease, to: 1h }", "unknown-name: egde; try `edge`"],
    ["- remove: edge.dhcp.crwe", "unknown-name: crwe; try `crew`"],
    ["- remove: edge.filter.through.rules[go aut]", "unknown-name: go aut; try `go out`"],
    [
      "- { add: edge.filter.through.rules, item: { name: a, action: drop }, before: come on }",
      "unknown-name: come on; try `come in`",
    ],
    ["- { add: admins, item: desk }", "impossible-event: desk"],
    ["- { add: edge.dhcp, item: desk }", "bad-path: edge.dhcp; write `set: edge.dhcp.KEY`"],
    ["- { set: edge.switching.ports.p3.tagged, to: crew }", "bad-path: tagged; set it as a whole"],
    [
      "- remove: edge.filter.through.rules.go",
      "bad-path: go; name the item in brackets, `[go]`, and put quotes around the path",
    ],
    ["- remove: port-roles.saet", "unknown-name: saet; try `seat`"],
    [
      "- { set: edge.switching.ports.p6, to: seat }",
      "ranges-overlap: p6; set `p5..8` as a whole, or write it apart in the plan, as `p5`, `p6` and `p7..8`",
    ],
    [
      "- { set: edge.switching.ports.p5..6, to: seat }",
      "ranges-overlap: p5..6; set `p5..8` as a whole, or write it apart in the plan, as `p5..6` and `p7..8`",
    ],
    [
      "- { set: edge.switching.ports.p2..4, to: seat }",
      "ranges-overlap: p2..4; write `p2` and `p4` in place of `p2..4`",
    ],
    ["- remove: edge.switching.ports.p6", "unknown-name: p6; write `p5..8`, or write `p6` apart in the plan"],
  ])("tells what cannot be done: %s", (lines, told) => {
    expect(outcome(lines)).toBe(told);
  });
});
