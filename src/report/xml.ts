/**
 * Text in XML: what stands in a document cannot leave its place, and what XML does not know is shown as a replacement.
 */

// XML 1.0 allows no control characters but tab and line ends, not even as references; lone surrogates neither.
const NOT_XML = /(?![\t\n\r])\p{Cc}|[\ufffe\uffff]|\p{Cs}/gu;
const REFERENCES: ReadonlyMap<string, string> = new Map([
  ["&", "&amp;"],
  ["<", "&lt;"],
  [">", "&gt;"],
  ['"', "&quot;"],
  ["\n", "&#10;"],
  ["\t", "&#9;"],
  ["\r", "&#13;"],
]);

/** Text as XML reads it, in attributes and elements alike. */
export function escapeXml(text: string): string {
  return text
    .replace(NOT_XML, "\ufffd")
    .replace(/[&<>"\n\t\r]/g, (character) => REFERENCES.get(character) ?? character);
}
