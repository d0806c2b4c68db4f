/**
 * README's sketches run: its three documents make a site that passes, and the slip it shows is found at the line it shows.
 */
import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import type { Verdict } from "../../src/result/index.ts";
import { networkOf } from "../support/site.ts";

const README = readFileSync("README.md", "utf8");
const [topology = "", intent = "", assertions = ""] = [...README.matchAll(/```yaml\n(dryrack: [\s\S]*?)```/g)].map(
  (found) => found[1] ?? "",
);

function verdictsWith(changed: string): readonly Verdict[] {
  const { document } = loadDocument({ path: "assertions.yaml", text: assertions }, 2);
  if (document?.kind !== "assertions") throw new Error("README's third document holds no assertions");
  const evaluation = new Evaluation(networkOf(topology, changed));
  const { verdicts } = checkAssertions({ document, file: "assertions.yaml", site: "readme", evaluation });
  return verdicts;
}

describe("README", () => {
  test("shows a plan that keeps all it promises", () => {
    const verdicts = verdictsWith(intent);
    expect(verdicts.length).toBeGreaterThan(4);
    expect(verdicts.filter(({ status }) => status !== "passed").map(({ headline }) => headline)).toEqual([]);
  });

  test("shows what a slip of the pen leads to", () => {
    const slip = intent.replace("in: staff, out: wan", "in: [staff, cameras], out: wan");
    expect(slip).not.toBe(intent);
    const broken = verdictsWith(slip).filter(({ status }) => status !== "passed");
    expect(broken.map(({ name }) => name)).toEqual(["cameras cannot phone home"]);
    const span = broken[0]?.decidedBy[0]?.origin.span;
    expect(slip.slice(span?.start, span?.end)).toContain("staff go out");
    expect(README).toContain(broken[0]?.witness?.destination);
  });
});
