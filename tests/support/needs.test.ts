/** The offer of tests that need a program: run, skip, or fail where no skip is allowed. */
import * as vitest from "vitest";
import { offer, toolPath } from "./needs.ts";

const { describe, expect, it } = vitest;

/** Offers with one program missing; returns the offer, the lines printed and the tests registered. */
function offerWithout(noSkip: boolean) {
  const lines: string[] = [];
  const bodies: (() => void)[] = [];
  const offered = offer(["scope (apt-get install scope)"], {
    noSkip,
    registerTest: (_, body) => bodies.push(body),
    print: (line) => lines.push(line),
  });
  return { offered, lines, bodies };
}

describe("offer", () => {
  it("gives vitest's own functions where nothing is missing", () => {
    expect(offer([])).toEqual({ describe, it });
  });

  it("skips where a program is missing, and says what to install", () => {
    const { offered, lines, bodies } = offerWithout(false);
    expect(offered.it).not.toBe(it);
    expect(lines).toEqual(["skipped: needs scope (apt-get install scope)"]);
    expect(bodies).toEqual([]);
  });

  it("registers a test that fails where no skip is allowed", () => {
    const { lines, bodies } = offerWithout(true);
    expect(lines).toEqual([]);
    expect(bodies).toHaveLength(1);
    expect(bodies[0]).toThrow("needs scope (apt-get install scope)");
  });
});

describe("toolPath", () => {
  it("finds a program that every system has", () => {
    expect(toolPath("unshare")).toMatch(/\/unshare$/);
  });
});
