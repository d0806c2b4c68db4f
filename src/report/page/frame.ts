/**
 * What every page is made of: a policy that lets nothing in from anywhere, one style, the marks, a sentence of verdict, and
 * sections with a list of links to them. No script, no request: what a page shows stands in it.
 */
import { element, fragment, type Html, prose, trusted } from "./html.ts";
import { shapes } from "./marks.ts";
import { STYLE } from "./style.ts";

/** Nothing may be loaded, run, embedded, sent or take the page over; the style is the one below. */
const POLICY =
  "default-src 'none'; script-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; object-src 'none'";

/** A part of a page. */
export type Section = {
  /** Where links lead: letters and digits. */
  readonly place: string;
  /** Its heading. */
  readonly title: string;
  /** What it holds; absent: it is left out. */
  readonly content: Html | undefined;
};

/** A page. */
export type Frame = {
  /** Whose page it is: names of sites. */
  readonly title: string;
  /** The verdict in one sentence. */
  readonly sentence: string;
  /** In the order of need. */
  readonly sections: readonly Section[];
  /** Version of dryrack. */
  readonly version: string;
};

/** The page as text, ending in a newline. */
export function framed({ title, sentence, sections, version }: Frame): string {
  const shown = sections.flatMap(({ content, ...section }) => (content === undefined ? [] : [{ ...section, content }]));
  const links = shown.map(({ place, title: name }) => element("li", {}, element("a", { href: `#${place}` }, name)));
  const page = element(
    "html",
    { lang: "en" },
    element(
      "head",
      {},
      element("meta", { charset: "utf-8" }),
      element("meta", { "http-equiv": "Content-Security-Policy", content: POLICY }),
      element("meta", { name: "viewport", content: "width=device-width, initial-scale=1" }),
      element("meta", { name: "referrer", content: "no-referrer" }),
      element("title", {}, `${title}: ${sentence}`),
      element("style", {}, trusted(STYLE)),
    ),
    element(
      "body",
      {},
      shapes(),
      element("header", {}, element("h1", {}, title), element("p", { class: "sentence" }, prose(sentence))),
      element("nav", { "aria-label": "parts of this page" }, element("ul", {}, links)),
      element("main", {}, shown.map(sectionOf)),
      element("footer", {}, element("p", {}, `dryrack ${version}`)),
    ),
  );
  return `<!doctype html>\n${fragment(page).markup}\n`;
}

function sectionOf({ place, title, content }: Section & { readonly content: Html }): Html {
  return element(
    "section",
    { id: place, "aria-labelledby": `${place}-title` },
    element("h2", { id: `${place}-title` }, title),
    content,
  );
}
