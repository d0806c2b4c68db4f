/** Which report goes to which file. `f` is a format, every other letter a file. */
import { expect, it } from "vitest";
import { type FileSaid, placeFiles } from "../../src/cli/report-files.ts";

function placed(words: string): readonly (string | undefined)[] {
  const said: FileSaid[] = [];
  let after = 0;
  for (const word of words) {
    if (word === "f") after++;
    else said.push({ path: word, after });
  }
  return placeFiles(said);
}

it.each([
  ["", []],
  ["a", ["a"]],
  ["fafb", ["a", "b"]],
  ["ffab", ["a", "b"]],
  ["ffa", [undefined, "a"]],
  ["faff", ["a"]],
  ["faffb", ["a", undefined, "b"]],
  ["af", ["a"]],
  ["faffbc", ["a", "b", "c"]],
])("of `%s` they are placed at %j", (words, places) => {
  expect(placed(words)).toEqual(places);
});

it("too many files reach past the formats", () => {
  expect(placed("fab").length).toBe(2);
  expect(placed("ab").length).toBe(2);
});
