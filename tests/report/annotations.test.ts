/** Notes at lines, read as the CI reads them: one command a line, properties and text unescaped. */
import { describe, expect, test } from "vitest";
import { renderAnnotations, renderComparisonAnnotations } from "../../src/report/index.ts";
import type { Comparison } from "../../src/result/index.ts";
import { HOSTILE, run, spanOf, verdict, writtenAt } from "./runs.ts";

type Note = { readonly grade: string; readonly properties: Readonly<Record<string, string>>; readonly lines: string[] };

const unescaped = (text: string): string =>
  text
    .replaceAll("%0A", "\n")
    .replaceAll("%0D", "\r")
    .replaceAll("%3A", ":")
    .replaceAll("%2C", ",")
    .replaceAll("%25", "%");

/** What a reader of the commands makes of them; throws at a line that is none. */
function readNotes(text: string): readonly Note[] {
  return text
    .split("\n")
    .slice(0, -1)
    .map((line) => {
      const [, grade, told, message] = /^::(error|warning|notice) ([^:]*)::(.*)$/.exec(line) ?? [];
      if (grade === undefined || told === undefined || message === undefined) throw new Error(`no command: ${line}`);
      const properties = told.split(",").map((each) => {
        const [key = "", value = ""] = each.split(/=(.*)/s);
        return [key, unescaped(value)] as const;
      });
      return { grade, properties: Object.fromEntries(properties), lines: unescaped(message).split("\n") };
    });
}

describe("a run as notes at lines", () => {
  test("puts a failure at the line that decided and names the assertion", () => {
    const told = verdict("fails", "failed", {
      decidedBy: [{ origin: writtenAt("accept"), text: "accepted by the end of the list" }],
      path: [{ device: "gate", at: "gate", text: "arrives", origin: writtenAt("gate") }],
      help: "narrow it",
    });
    expect(readNotes(renderAnnotations(run([told])))).toEqual([
      {
        grade: "error",
        properties: {
          file: "topologies/quay/intent.yaml",
          line: "2",
          endLine: "2",
          col: "43",
          title: "broken: fails",
        },
        lines: [
          "fails: told",
          "accepted by the end of the list",
          "1 gate arrives",
          "narrow it",
          "the assertion stands in topologies/quay/intent.yaml, line 2, column 3",
        ],
      },
    ]);
  });

  test("puts it at the assertion where no line decided", () => {
    const [note] = readNotes(renderAnnotations(run([verdict("empty", "vacuous")])));
    expect(note?.properties).toMatchObject({ line: "2", col: "3", title: "vacuous: empty" });
  });

  test("says nothing of what holds", () => {
    expect(renderAnnotations(run([verdict("holds", "passed"), verdict("later", "skipped")]))).toBe("");
  });

  test("puts errors before warnings before notices", () => {
    const grave = (severity: "error" | "warning" | "note") =>
      ({
        code: "bad-vlan",
        severity,
        message: severity,
        labels: [{ span: spanOf("gate"), text: "", primary: true }],
        notes: ["a fact"],
        help: "do this",
      }) as const;
    const notes = readNotes(
      renderAnnotations(
        run([verdict("open", "undecided"), verdict("fails", "failed")], {
          diagnostics: [grave("note"), grave("error")],
        }),
      ),
    );
    expect(notes.map(({ grade, properties }) => [grade, properties.title])).toEqual([
      ["error", "bad-vlan"],
      ["error", "broken: fails"],
      ["warning", "undecided: open"],
      ["notice", "bad-vlan"],
    ]);
    expect(notes[0]?.lines).toEqual(["error", "a fact", "do this"]);
  });

  test("marks a piece of several lines by its lines alone", () => {
    const at = { file: 0, start: 0, end: run([]).sources[0]?.text.length ?? 0 };
    const [note] = readNotes(renderAnnotations(run([verdict("wide", "failed", { at })])));
    expect(note?.properties).toMatchObject({ line: "1", endLine: "4" });
    expect(note?.properties).not.toHaveProperty("col");
  });

  test("lets nothing of a document begin a command or end a property", () => {
    const name = `a,file=b:c::d\n::stop-commands::x\r%0A ${HOSTILE}`;
    const notes = readNotes(renderAnnotations(run([verdict(name, "failed")])));
    expect(notes).toHaveLength(1);
    expect(Object.keys(notes[0]?.properties ?? {})).toEqual(["file", "line", "endLine", "col", "title"]);
    expect(notes[0]?.properties.title).toContain("broken: a,file=b:c::d ::stop-commands::x");
    expect(notes[0]?.properties.title).toContain("%0A");
  });

  test("tells a fault of the tool without a place", () => {
    const [note] = readNotes(renderAnnotations(run([], { fault: "two engines\ndisagree" })));
    expect(note?.properties).toEqual({ title: "fault of dryrack, no verdict: please report this with the site" });
    expect(note?.lines).toEqual(["two engines", "disagree"]);
  });
});

describe("a comparison as notes at lines", () => {
  const opened: Comparison["differences"][number] = {
    id: "newly-allowed#a#b",
    change: "newly-allowed",
    from: [{ name: "a", part: "" }],
    to: [{ name: "b", part: "" }],
    services: "tcp/22",
    kind: "plain",
    notes: [],
    decidedBy: [
      { origin: writtenAt("through"), text: "dropped", side: "base", changed: false },
      { origin: writtenAt("accept"), text: "accepted", side: "head", changed: true },
    ],
    path: [],
  };
  const comparison: Comparison = {
    version: "0.0.0",
    sources: run([]).sources,
    diagnostics: [],
    site: "quay",
    sides: { base: "main", head: "the files as they are" },
    differences: [{ ...opened, change: "newly-forbidden" }, opened],
    replacements: [],
    alongside: [],
    undecided: ["a to c: too much"],
    failOn: [],
    pairs: { all: 1, untouched: 0 },
  };

  test("stands at the line after the change", () => {
    const notes = readNotes(renderComparisonAnnotations(comparison));
    expect(notes.map(({ grade, properties: { title, col } }) => [grade, title, col])).toEqual([
      ["warning", "newly allowed", "43"],
      ["warning", "undecided", undefined],
      ["notice", "newly forbidden", "43"],
    ]);
  });

  test("is an error where the comparison shall fail", () => {
    const [note] = readNotes(renderComparisonAnnotations({ ...comparison, failOn: ["newly-allowed"] }));
    expect(note).toMatchObject({
      grade: "error",
      lines: expect.arrayContaining(["tcp/22 from a to b gets through now"]),
    });
  });
});
