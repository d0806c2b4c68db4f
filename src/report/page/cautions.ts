/**
 * What a passing check does not say: told on every page.
 */
import { foldAssumptions } from "../../result/index.ts";
import { element, fragment, type Html, prose } from "./html.ts";

const CAUTIONS: readonly string[] = [
  "Keep a way in that the change does not touch, and try it first.",
  "Take a backup of every device that the change touches.",
  "Make the change in a window, with someone on site.",
  "Never rest life safety, alarms, emergency calls, medical or industrial control on a simulation.",
  "Electrical work, cabling and power over Ethernet follow local codes and belong to qualified people.",
];

/** What the documents leave open, then what no model can know. */
export function cautionsWith(assumptions: readonly string[]): Html {
  const rows = (sentences: readonly string[]): Html =>
    element(
      "ul",
      {},
      sentences.map((sentence) => element("li", {}, prose(sentence))),
    );
  return fragment(
    assumptions.length === 0
      ? undefined
      : [
          element("p", {}, "What the plan leaves open, and these verdicts take for granted:"),
          rows(foldAssumptions(assumptions)),
        ],
    element("p", {}, "A passing check is a statement about a model of a network, not about the network."),
    rows(CAUTIONS),
  );
}
