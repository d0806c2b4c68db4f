/**
 * Markup as values: strings are text and are escaped, only `Html` is markup. So no text of a document can become markup
 * by an oversight. Control characters and characters that turn text round are shown as `\u{202e}`.
 */
import { visible } from "../text.ts";

/** Markup that is safe to stand in the page. */
export type Html = {
  /** As it is written. */
  readonly markup: string;
};

/** What may stand in an element: text, markup, or several of these; `undefined` is nothing. */
export type Child = string | Html | undefined | readonly Child[];

/** Attributes; `true` stands alone, `undefined` and `false` are left out. */
export type Attributes = { readonly [name: string]: string | number | boolean | undefined };

const ENTITIES: { readonly [character: string]: string } = {
  "&": "&amp;",
  "<": "&lt;",
  ">": "&gt;",
  '"': "&quot;",
  "'": "&#39;",
};

/** Text that HTML takes for nothing but text, in elements and in quoted attributes. */
function escapeText(text: string): string {
  return visible(text).replace(/[&<>"']/g, (character) => ENTITIES[character] ?? character);
}

/** Elements without content, which have no end tag. */
const VOID: ReadonlySet<string> = new Set(["br", "hr", "meta", "wbr"]);

/** One element. Names of elements and attributes are ours; everything else is escaped. */
export function element(name: string, attributes: Attributes = {}, ...children: readonly Child[]): Html {
  const head = `<${name}${attributesOf(attributes)}>`;
  return { markup: VOID.has(name) ? head : `${head}${inner(children)}</${name}>` };
}

function attributesOf(attributes: Attributes): string {
  return Object.entries(attributes)
    .map(([name, value]) => {
      if (value === undefined || value === false) return "";
      return value === true ? ` ${name}` : ` ${name}="${escapeText(String(value))}"`;
    })
    .join("");
}

/** Several pieces as markup. */
export function fragment(...children: readonly Child[]): Html {
  return { markup: inner(children) };
}

/** Markup that somebody else made safe: our own style, a drawing. */
export function trusted(markup: string): Html {
  return { markup };
}

function inner(children: readonly Child[]): string {
  return children.map(markupOf).join("");
}

function markupOf(child: Child): string {
  if (child === undefined) return "";
  if (typeof child === "string") return escapeText(child);
  return "markup" in child ? child.markup : inner(child);
}

/** A text in which what stands in backticks is code. */
export function prose(text: string): Html {
  const pieces = text.split(/`([^`]*)`/);
  return fragment(...pieces.map((piece, index) => (index % 2 === 0 ? piece : element("code", {}, piece))));
}

/** A name that people chose: it may run in the other direction without turning what stands around it. */
export function named(name: string): Html {
  return element("bdi", {}, name);
}

/** The beginning of a text, with an ellipsis where it goes on. `longest`: characters shown; 160, as in headings, by default. */
export function brief(text: string, longest = 160): string {
  const characters = [...text.slice(0, 2 * longest)];
  return text.length > longest && characters.length > longest ? `${characters.slice(0, longest).join("")}…` : text;
}
