import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { describe, expect, it } from "vitest";
import { planted, readFaults } from "./faults.ts";

const TREE = fileURLToPath(new URL("../../../", import.meta.url));
const FAULT = { file: "a.ts", text: "one", replacement: "two", why: "it counts wrong" };

describe("planted faults", () => {
  it("take the place of a text that stands in its file once", () => {
    expect(planted("zero one three", FAULT)).toBe("zero two three");
    expect(() => planted("one one", FAULT)).toThrow("a.ts has this 2 times");
    expect(() => planted("none of it", { ...FAULT, text: "all" })).toThrow("0 times");
  });

  it("of every list still fit the tree", () => {
    const faults = readFaults(fileURLToPath(new URL("./", import.meta.url)));
    expect(faults.length).toBeGreaterThan(0);
    for (const fault of faults) {
      const content = readFileSync(`${TREE}${fault.file}`, "utf8");
      expect.soft(() => planted(content, fault)).not.toThrow();
      expect.soft(fault.text).not.toBe(fault.replacement);
    }
  });
});
