/**
 * Pieces of SVG. What is text is escaped here and cannot become anything else; numbers have at most two decimals.
 */
import { escapeXml } from "../xml.ts";

/** A piece of SVG, ready. */
export type Svg = {
  /** Its text. */
  readonly xml: string;
};

/** Attributes; those that are undefined are left out. */
export type Attributes = Readonly<Record<string, string | number | undefined>>;

/** An element; content that is a string is text. */
export function el(name: string, attributes: Attributes, ...content: readonly (Svg | string)[]): Svg {
  const told = Object.entries(attributes).flatMap(([key, value]) =>
    value === undefined ? [] : [` ${key}="${attributeText(key, value)}"`],
  );
  const inside = content.map((piece) => (typeof piece === "string" ? escapeXml(piece) : piece.xml)).join("");
  const open = `<${name}${told.join("")}`;
  return { xml: inside === "" ? `${open}/>` : `${open}>${inside}</${name}>` };
}

function attributeText(key: string, value: string | number): string {
  if (typeof value === "number") return num(value);
  return key === "d" ? value.replace(/\d+\.\d{3,}/g, (text) => num(Number(text))) : escapeXml(value);
}

/** Several pieces, a line each. */
export function pieces(all: readonly Svg[]): Svg {
  return { xml: all.map(({ xml }) => `\n${xml}`).join("") };
}

/** A number of the drawing. */
export function num(value: number): string {
  return `${Math.round(value * 100) / 100}`;
}

/** A line of text. */
export function label(x: number, y: number, text: string, attributes: Attributes): Svg {
  return el("text", { x, y, ...attributes }, text);
}
