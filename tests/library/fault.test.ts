/**
 * Engines that disagree are a fault of ours: a question throws and says so, a check ends with the status `fault`, and no
 * verdict is told.
 */
import { expect, it } from "vitest";
import { EnginesDisagree, Evaluation } from "../../src/evaluate/index.ts";
import { Checking } from "../../src/library/checking.ts";
import { loaded, type Sound } from "../../src/library/loaded.ts";
import { answerTo } from "../../src/library/question.ts";
import { jsonOf, NO_INK, renderTerminal } from "../../src/report/index.ts";
import { hidesBreaches, planting } from "../evaluate/planted.ts";
import { CABIN, SLIP } from "./cabin.ts";

/** A site with a hole, and a prover that does not see it. */
function misjudged(): Sound {
  const texts = Object.entries(CABIN).map(([path, text]) => ({ path, text: text.replace(...SLIP) }));
  const sound = loaded({ from: "texts", name: "cabin", texts });
  return { ...sound, evaluation: new Evaluation(sound.evaluation.network, planting(hidesBreaches)) };
}

it("throws from a question, and says that there is no verdict", () => {
  const ask = (): unknown => answerTo({ from: "guests", to: "staff", expect: "blocked" }, misjudged(), "0");
  expect(ask).toThrow(EnginesDisagree);
  expect(ask).toThrow(/^fault of dryrack, no verdict: please report this with the site\n.*proved: /s);
});

it("is the status of a check, which tells no verdict", () => {
  const run = new Checking(misjudged(), "0", undefined).run();
  expect(jsonOf(run)).toMatchObject({ status: "fault", results: [], fault: expect.stringContaining("proved: ") });
  expect(renderTerminal(run, { ink: NO_INK, verbose: false })).toContain("fault of dryrack, no verdict");
});
