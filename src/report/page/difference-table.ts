/**
 * The differences of a comparison as a table: who begins, who is meant, what changes, each row with a link to its packet.
 */
import { type Change, type Difference, type DifferenceEnd, tellEnds } from "../../result/index.ts";
import { oneLine } from "../text.ts";
import { brief, element, type Html, named, trusted } from "./html.ts";

const SHAPES: { readonly [change in Change]: { readonly path: string; readonly word: string } } = {
  "newly-allowed": { path: '<path d="M8 2.5V13.5M2.5 8H13.5"/>', word: "newly allowed" },
  "newly-forbidden": { path: '<path d="M2.5 8H13.5"/>', word: "newly forbidden" },
};

/** The mark of a change, a plus or a bar, with its words. */
export function changeShape(change: Change): Html {
  const { path, word } = SHAPES[change];
  const shape = trusted(
    `<svg class="mark" viewBox="0 0 16 16" width="16" height="16" aria-hidden="true" focusable="false">${path}</svg>`,
  );
  const kind = change === "newly-allowed" ? "failed" : "undecided";
  return element("span", { class: `marked ${kind}` }, shape, " ", element("span", { class: "word" }, word));
}

/** The table; nothing: nothing differs. */
export function differenceTable(differences: readonly Difference[]): Html | undefined {
  if (differences.length === 0) return undefined;
  const heads = ["from", "to", "what"].map((word) => element("th", { scope: "col", role: "columnheader" }, word));
  const rows = differences.map((difference, index) => rowOf(difference, index + 1));
  return element(
    "div",
    { class: "scroll", role: "region", "aria-label": "who gets to whom", tabindex: 0 },
    element(
      "table",
      { role: "table", class: "reach pairs" },
      element("caption", {}, "Each row leads to its packet."),
      element("thead", { role: "rowgroup" }, element("tr", { role: "row" }, heads)),
      element("tbody", { role: "rowgroup" }, rows),
    ),
  );
}

function rowOf({ from, to, services, kind, change }: Difference, number: number): Html {
  const what = { plain: services, answers: `answers by ${services}`, errors: `errors (${services})` }[kind];
  const link = element("a", { href: `#d${number}` }, brief(oneLine(what), 60));
  return element(
    "tr",
    { role: "row", id: `t${number}`, tabindex: -1 },
    element("th", { scope: "row", role: "rowheader" }, element("span", { class: "from" }, "from "), endsOf(from)),
    element("td", { role: "cell" }, "to ", endsOf(to)),
    element("td", { role: "cell" }, changeShape(change), " ", link),
  );
}

function endsOf(ends: readonly DifferenceEnd[]): Html {
  return named(brief(oneLine(tellEnds(ends)), 60));
}
