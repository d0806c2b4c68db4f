/**
 * The demo keeps all that it promises, and every promise is broken by at least one slip of the pen.
 */
import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { checkAssertions } from "../../src/check/index.ts";
import { loadDocument } from "../../src/document/index.ts";
import { Evaluation } from "../../src/evaluate/index.ts";
import type { Verdict } from "../../src/result/index.ts";
import { networkOf } from "../support/site.ts";
import { SLIPS, type Slip } from "./demo-edits.ts";

const PLAN = "topologies/tidewater-radio";
const PROMISES = "assertions/tidewater-radio";

function textsOf(folder: string): readonly (readonly [name: string, text: string])[] {
  return readdirSync(folder)
    .sort()
    .map((name) => [name, readFileSync(`${folder}/${name}`, "utf8")] as const);
}

function changed(text: string, { find, replace }: Slip): string {
  expect(text.split(find), `\`${find}\` stands there once`).toHaveLength(2);
  return text.replace(find, () => replace);
}

/** The demo's verdicts under a slip; `only`: that assertion alone. */
function verdictsUnder(slip: Slip | undefined, only?: string): readonly Verdict[] {
  const texts = textsOf(PLAN).map(([name, text]) => (slip?.file === name ? changed(text, slip) : text));
  const evaluation = new Evaluation(networkOf(...texts));
  return textsOf(PROMISES).flatMap(([name, text]) => {
    const { document } = loadDocument({ path: name, text }, texts.length);
    if (document?.kind !== "assertions") throw new Error(`${name} holds no assertions`);
    const asked = only === undefined ? {} : { only: [only] };
    const { verdicts } = checkAssertions({ document, file: name, site: "demo", evaluation, ...asked });
    return verdicts.filter(({ status }) => status !== "skipped");
  });
}

describe("the demo", () => {
  const sound = verdictsUnder(undefined);

  test("keeps at least thirty promises", () => {
    expect(sound.filter(({ status }) => status !== "passed").map(({ headline }) => headline)).toEqual([]);
    expect(sound.length).toBeGreaterThanOrEqual(30);
  });

  test("has a slip for each of them", () => {
    expect(SLIPS.map(({ assertion }) => assertion).sort()).toEqual(sound.map(({ name }) => name).sort());
  });

  test.each(SLIPS)("does not keep that $assertion when $slip", (slip) => {
    const [verdict] = verdictsUnder(slip, slip.assertion);
    expect(["failed", "vacuous"], verdict?.headline).toContain(verdict?.status);
  });
});
