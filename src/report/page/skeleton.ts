/**
 * One HTML file that needs nothing else, with a policy that lets nothing in from anywhere. No script, no request: what it shows
 * stands in it.
 */
import { type Child, element, trusted } from "./html.ts";

/** Nothing may be loaded, run, embedded, sent or take the page over; the style is the one in the file. */
const POLICY =
  "default-src 'none'; script-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; object-src 'none'";

/** What a file holds. */
export type Contents = {
  /** As a window or a list of tabs names it. */
  readonly title: string;
  /** The style sheet, of ours alone. */
  readonly style: string;
  /** What is shown. */
  readonly body: Child;
};

/** The file as text, ending in a newline. */
export function fileOf({ title, style, body }: Contents): string {
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
      element("title", {}, title),
      element("style", {}, trusted(style)),
    ),
    element("body", {}, body),
  );
  return `<!doctype html>\n${page.markup}\n`;
}
