/**
 * A sheet as one HTML file, made to be printed: tables whose rows stay whole, or, for cables, labels to cut out.
 */
import type { Sheet, SheetPart } from "../../result/index.ts";
import { SHEET_TITLES } from "../sheet-markdown.ts";
import { oneLine } from "../text.ts";
import { element, fragment, type Html, named } from "./html.ts";
import { fileOf } from "./skeleton.ts";

const STYLE = `
:root{--paper:#fffdf8;--ink:#1c1c1c;--faint:#565656;--rule:#878787}
body{margin:2rem auto;max-width:60rem;padding:0 1rem;background:var(--paper);color:var(--ink);font:14px/1.45 system-ui,"Helvetica Neue",Arial,sans-serif;font-variant-numeric:tabular-nums}
h1{font-size:1.4rem}h2{font-size:1.05rem;margin:1.6rem 0 .3rem;break-after:avoid}
p{margin:.2rem 0 .4rem;color:var(--faint)}
.wide{overflow-x:auto}
table{border-collapse:collapse;width:100%}
@media screen{table{min-width:30rem}}
th{text-align:left;font-weight:600;white-space:nowrap;border-bottom:2px solid var(--ink)}
th,td{padding:.25rem .6rem .25rem 0;vertical-align:top}
td{max-width:16rem;overflow-wrap:break-word;border-bottom:1px solid var(--rule)}
tr{break-inside:avoid}
ul{list-style:none;margin:0;padding:0;display:grid;grid-template-columns:repeat(auto-fill,minmax(15rem,1fr))}
li{border:1px dashed var(--rule);padding:.5rem .7rem;break-inside:avoid;overflow-wrap:anywhere}
li b{font-size:1.1rem}
li span{display:block}
@media screen and (prefers-color-scheme:dark){:root{--paper:#1d242b;--ink:#eceae4;--faint:#b6bcc3;--rule:#7f8993}}
@media print{body{margin:0;max-width:none}}
`;

/** The sheet as an HTML document, ending in a newline. */
export function renderSheetHtml({ kind, site, parts }: Sheet): string {
  const title = oneLine(`${SHEET_TITLES[kind]}: ${site}`);
  const render = kind === "labels" ? labelsIn : tableIn;
  const shown = parts.map((part) =>
    fragment(
      element("h2", {}, oneLine(part.heading)),
      part.note === "" ? undefined : element("p", {}, oneLine(part.note)),
      part.rows.length === 0 ? element("p", {}, "Nothing.") : render(part),
    ),
  );
  return fileOf({ title, style: STYLE, body: element("main", {}, element("h1", {}, title), shown) });
}

/** Text of a document: in one line, and going its own way where it is written from the right. */
function cell(text: string): Html {
  return named(oneLine(text));
}

/** Wide tables scroll by themselves; whoever uses a keyboard can reach them. */
function tableIn({ heading, columns, rows }: SheetPart): Html {
  const head = columns.map((column) => element("th", { scope: "col" }, oneLine(column)));
  const body = rows.map((row) =>
    element(
      "tr",
      {},
      row.map((text) => element("td", {}, cell(text))),
    ),
  );
  return element(
    "div",
    { class: "wide", role: "region", tabindex: 0, "aria-label": oneLine(heading) },
    element("table", {}, element("thead", {}, element("tr", {}, head)), element("tbody", {}, body)),
  );
}

/** This end large, then the other, then number, rate and networks. */
function labelsIn({ rows }: SheetPart): Html {
  const items = rows.map(([number = "", here = "", there = "", rate = "", carries = ""]) => {
    const facts = [number, rate].filter((word) => word !== "").join(" · ");
    const lines = [
      element("b", {}, cell(here)),
      fragment("to ", cell(there)),
      cell(facts),
      ...(carries === "" ? [] : [cell(carries)]),
    ];
    return element(
      "li",
      {},
      lines.map((line) => element("span", {}, line)),
    );
  });
  return element("ul", {}, items);
}
