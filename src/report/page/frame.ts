/**
 * What every page of a report is made of: one style, the marks, a sentence of verdict, and sections with a list of links to them.
 */
import { element, type Html, prose } from "./html.ts";
import { shapes } from "./marks.ts";
import { fileOf } from "./skeleton.ts";
import { STYLE } from "./style.ts";

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
  return fileOf({
    title: `${title}: ${sentence}`,
    style: STYLE,
    body: [
      shapes(),
      element("header", {}, element("h1", {}, title), element("p", { class: "sentence" }, prose(sentence))),
      element("nav", { "aria-label": "parts of this page" }, element("ul", {}, links)),
      element("main", {}, shown.map(sectionOf)),
      element("footer", {}, element("p", {}, `dryrack ${version}`)),
    ],
  });
}

function sectionOf({ place, title, content }: Section & { readonly content: Html }): Html {
  return element(
    "section",
    { id: place, "aria-labelledby": `${place}-title` },
    element("h2", { id: `${place}-title` }, title),
    content,
  );
}
