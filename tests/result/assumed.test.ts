/** What verdicts take for granted, as people are told it. */
import { describe, expect, it } from "vitest";
import { foldAssumptions, tellListening } from "../../src/result/index.ts";

describe("what is taken for granted", () => {
  const other = "addresses of the internet answer every service";

  it("is told of one device as it is", () => {
    const sentences = [other, tellListening("printer")];
    expect(sentences[1]).toBe("printer is taken to listen on everything, since it says nothing of what it serves");
    expect(foldAssumptions(sentences)).toEqual(sentences);
    expect(foldAssumptions([])).toEqual([]);
  });

  it("is told once of several devices, by name, at the place of the first", () => {
    const sentences = [tellListening("h10"), other, tellListening("h9"), tellListening("desk")];
    expect(foldAssumptions(sentences)).toEqual([
      "desk, h10 and h9 are taken to listen on everything, since they say nothing of what they serve",
      other,
    ]);
  });
});
