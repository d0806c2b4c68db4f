/**
 * The marks of a proof-reader: one shape for each way to end, always with its word. Drawn once in the page and used by
 * reference.
 */
import type { Status } from "../../result/index.ts";
import { WORDS } from "../terminal.ts";
import { element, type Html, trusted } from "./html.ts";

/** Shapes in a field of 16 by 16, drawn with the pen of the text around them. */
const SHAPES: { readonly [status in Status]: string } = {
  passed: '<path d="M2.5 8.5 6 12.5 13.5 3.5"/>',
  failed: '<path d="M3 3 13 13M13 3 3 13"/>',
  vacuous: '<circle cx="8" cy="8" r="5.5"/>',
  undecided: '<path d="M4.8 5.6a3.2 3.2 0 1 1 4.6 2.9C8.4 9 8 9.5 8 10.6M8 13.2v.4"/>',
  skipped: '<circle cx="8" cy="8" r="1"/>',
};

/** All shapes, to stand once at the top of a page. */
export function shapes(): Html {
  const symbols = Object.entries(SHAPES).map(
    ([status, shape]) => `<symbol id="mark-${status}" viewBox="0 0 16 16">${shape}</symbol>`,
  );
  return trusted(
    `<svg class="shapes" width="0" height="0" aria-hidden="true" focusable="false">${symbols.join("")}</svg>`,
  );
}

/** The shape of a status alone: whoever shows it says the word. */
export function shape(status: Status): Html {
  const use = element("use", { href: `#mark-${status}` });
  return element("svg", { class: "mark", width: 16, height: 16, "aria-hidden": "true", focusable: "false" }, use);
}

/** The shape and the word of a status. */
export function mark(status: Status, word: string = WORDS[status]): Html {
  return element("span", { class: `marked ${status}` }, shape(status), " ", element("span", { class: "word" }, word));
}

/** A word that is read aloud and not shown. */
export function aloud(text: string): Html {
  return element("span", { class: "aloud" }, text);
}
