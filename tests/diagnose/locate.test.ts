/** From offsets to lines and columns, against counting line ends one by one. */
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { lineStartsOf, lineText, locate, placeAt, type SourceFile } from "../../src/diagnose/index.ts";

const file: SourceFile = { path: "topologies/a/site.yaml", text: "one\ntwo\r\n\nfour" };
const spanOf = (start: number, end: number) => ({ file: 0, start, end });

describe("locate", () => {
  it("counts lines and columns from 1", () => {
    expect(locate([file], spanOf(0, 3))).toEqual({ file: file.path, line: 1, column: 1, endLine: 1, endColumn: 4 });
    expect(locate([file], spanOf(4, 7))).toMatchObject({ line: 2, column: 1, endLine: 2, endColumn: 4 });
  });

  it("reaches over lines", () => {
    expect(locate([file], spanOf(1, 12))).toMatchObject({ line: 1, column: 2, endLine: 4, endColumn: 3 });
  });

  it("puts an empty span and the end of the text where they are", () => {
    expect(locate([file], spanOf(14, 14))).toMatchObject({ line: 4, column: 5, endLine: 4, endColumn: 5 });
    expect(locate([file], spanOf(9, 9))).toMatchObject({ line: 3, column: 1, endLine: 3, endColumn: 1 });
  });

  it("takes offsets beyond the text as its end", () => {
    expect(locate([file], spanOf(99, 120))).toMatchObject({ line: 4, column: 5, endLine: 4, endColumn: 5 });
  });

  it("keeps files apart", () => {
    const other = { path: "b.yaml", text: "\n\nx" };
    expect(locate([file, other], { file: 1, start: 2, end: 3 })).toMatchObject({ file: "b.yaml", line: 3, column: 1 });
  });

  it("a span that names no file is a fault of ours", () => {
    expect(() => locate([file], { file: 1, start: 0, end: 0 })).toThrow(RangeError);
  });
});

describe("lines", () => {
  it("end at LF, CR LF and CR, once each", () => {
    expect(lineStartsOf("a\nb\r\nc\rd")).toEqual([0, 2, 5, 7]);
    expect(lineStartsOf("")).toEqual([0]);
    expect(lineStartsOf("a\n")).toEqual([0, 2]);
  });

  it("are shown without their ends", () => {
    const starts = lineStartsOf(file.text);
    expect([0, 1, 2, 3, 4, 5].map((line) => lineText(file.text, starts, line))).toEqual([
      "",
      "one",
      "two",
      "",
      "four",
      "",
    ]);
  });

  it("joined with their ends are the text", () => {
    const texts = fc.array(fc.constantFrom("a", "é", "\n", "\r", "\r\n")).map((pieces) => pieces.join(""));
    fc.assert(
      fc.property(texts, (text) => {
        const starts = lineStartsOf(text);
        const lines = starts.map((start, index) => text.slice(start, starts[index + 1] ?? text.length));
        expect(lines.join("")).toBe(text);
        expect(starts.map((_, index) => lineText(text, starts, index + 1))).toEqual(text.split(/\r\n|\r|\n/));
      }),
    );
  });

  it("every offset lies in the line that counting finds", () => {
    const texts = fc.array(fc.constantFrom("a", "bc", "\n")).map((pieces) => pieces.join(""));
    fc.assert(
      fc.property(texts, fc.nat(60), (text, offset) => {
        fc.pre(offset <= text.length);
        const before = text.slice(0, offset).split("\n");
        const place = placeAt(text, lineStartsOf(text), offset);
        expect(place).toEqual({ line: before.length, column: (before.at(-1) ?? "").length + 1 });
      }),
    );
  });
});
