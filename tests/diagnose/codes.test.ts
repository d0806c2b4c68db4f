/** The table of codes is closed, worded and usable by `explain`; a diagnostic takes its weight from it. */
import { describe, expect, it } from "vitest";
import { CODES, diagnosticAt, isDiagnosticCode, severityOf } from "../../src/diagnose/index.ts";

const span = { file: 0, start: 3, end: 8 };
const entries = Object.entries(CODES);

/** Sentences end with a full stop, a question or an exclamation mark before a blank or the end. */
const sentences = (text: string): number => text.match(/[.?!](?= [A-Z`]|$)/g)?.length ?? 0;

describe("the table of codes", () => {
  it.each(entries)("%s is a kebab word, explained in two to five sentences", (code, { explanation }) => {
    expect(code).toMatch(/^[a-z]+(-[a-z0-9]+)*$/);
    expect(explanation).toMatch(/^[A-Z`].*\.$/s);
    expect(sentences(explanation)).toBeGreaterThanOrEqual(2);
    expect(sentences(explanation)).toBeLessThanOrEqual(5);
  });

  it("explains no two codes with the same words", () => {
    expect(new Set(entries.map(([, { explanation }]) => explanation)).size).toBe(entries.length);
  });

  it("knows its codes and nothing that objects inherit", () => {
    expect(isDiagnosticCode("bad-vlan")).toBe(true);
    for (const word of ["bad-wlan", "constructor", "__proto__", ""]) expect(isDiagnosticCode(word)).toBe(false);
  });

  it("weighs a code as an error unless it says otherwise", () => {
    expect(severityOf("syntax")).toBe("error");
    expect(severityOf("not-modelled")).toBe("warning");
  });
});

describe("diagnosticAt", () => {
  it("marks one place and takes the weight from the table", () => {
    expect(diagnosticAt("not-modelled", span, "`igmp` is not modelled")).toEqual({
      code: "not-modelled",
      severity: "warning",
      message: "`igmp` is not modelled",
      labels: [{ span, text: "", primary: true }],
      notes: [],
    });
  });

  it("puts further places behind the primary one and keeps facts and help", () => {
    const first = { file: 1, start: 0, end: 4 };
    const made = diagnosticAt("name-taken", span, "`crew` is taken", {
      label: "again here",
      also: [{ span: first, text: "first here" }],
      notes: ["devices, networks and sets share one namespace"],
      help: "rename one",
      severity: "note",
    });
    expect(made.labels).toEqual([
      { span, text: "again here", primary: true },
      { span: first, text: "first here", primary: false },
    ]);
    expect(made).toMatchObject({ severity: "note", help: "rename one", notes: [expect.any(String)] });
  });

  it("has no help rather than an undefined one", () => {
    expect(diagnosticAt("bad-vlan", span, "no", { help: undefined })).not.toHaveProperty("help");
  });
});
