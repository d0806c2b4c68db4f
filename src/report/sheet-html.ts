/**
 * A sheet as one HTML file that needs nothing else, made to be printed: tables whose rows stay whole, or, for cables, labels to
 * cut out. It holds no script, and its policy lets none in.
 */
import type { Sheet, SheetPart } from "../result/index.ts";
import { SHEET_TITLES } from "./sheet-markdown.ts";
import { oneLine } from "./text.ts";
import { escapeXml } from "./xml.ts";

const STYLE = `
:root{--paper:#fffdf8;--ink:#1c1c1c;--faint:#565656;--rule:#878787}
body{margin:2rem auto;max-width:60rem;padding:0 1rem;background:var(--paper);color:var(--ink);font:14px/1.45 system-ui,"Helvetica Neue",Arial,sans-serif;font-variant-numeric:tabular-nums}
h1{font-size:1.4rem}h2{font-size:1.05rem;margin:1.6rem 0 .3rem;break-after:avoid}
p{margin:.2rem 0 .4rem;color:var(--faint)}
.wide{overflow-x:auto}
table{border-collapse:collapse;width:100%}
th{text-align:left;font-weight:600;border-bottom:2px solid var(--ink)}
th,td{padding:.25rem .6rem .25rem 0;vertical-align:top;overflow-wrap:anywhere}
td{border-bottom:1px solid var(--rule)}
tr{break-inside:avoid}
ul{list-style:none;margin:0;padding:0;display:grid;grid-template-columns:repeat(auto-fill,minmax(15rem,1fr))}
li{border:1px dashed var(--rule);padding:.5rem .7rem;break-inside:avoid;overflow-wrap:anywhere}
li b{font-size:1.1rem}
li span{display:block}
@media screen and (prefers-color-scheme:dark){:root{--paper:#1d242b;--ink:#eceae4;--faint:#b6bcc3;--rule:#7f8993}}
@media print{body{margin:0;max-width:none}}
`;

/** The sheet as an HTML document, ending in a newline. */
export function renderSheetHtml(sheet: Sheet): string {
  const title = `${SHEET_TITLES[sheet.kind]}: ${shown(sheet.site)}`;
  const render = sheet.kind === "labels" ? labelsIn : tableIn;
  return [
    "<!doctype html>",
    '<html lang="en">',
    "<head>",
    '<meta charset="utf-8">',
    `<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">`,
    '<meta name="viewport" content="width=device-width, initial-scale=1">',
    `<title>${title}</title>`,
    `<style>${STYLE}</style>`,
    "</head>",
    "<body>",
    "<main>",
    `<h1>${title}</h1>`,
    ...sheet.parts.flatMap((part) => [
      `<h2>${shown(part.heading)}</h2>`,
      ...(part.note === "" ? [] : [`<p>${shown(part.note)}</p>`]),
      part.rows.length === 0 ? "<p>Nothing.</p>" : render(part),
    ]),
    "</main>",
    "</body>",
    "</html>",
    "",
  ].join("\n");
}

/** Text of a document: in one line, and going its own way where it is written from the right. */
function shown(text: string): string {
  return escapeXml(oneLine(text));
}

function cell(text: string): string {
  return `<bdi>${shown(text)}</bdi>`;
}

/** Wide tables scroll by themselves; whoever uses a keyboard can reach them. */
function tableIn({ heading, columns, rows }: SheetPart): string {
  const head = columns.map((column) => `<th scope="col">${shown(column)}</th>`).join("");
  const body = rows.map((row) => `<tr>${row.map((text) => `<td>${cell(text)}</td>`).join("")}</tr>`).join("\n");
  return `<div class="wide" role="region" tabindex="0" aria-label="${shown(heading)}"><table>\n<thead><tr>${head}</tr></thead>\n<tbody>\n${body}\n</tbody>\n</table></div>`;
}

/** This end large, then the other, then number, rate and networks. */
function labelsIn({ rows }: SheetPart): string {
  const items = rows.map(([number = "", here = "", there = "", rate = "", carries = ""]) => {
    const facts = [number, rate].filter((word) => word !== "").join(" · ");
    const lines = [
      `<b>${cell(here)}</b>`,
      `to ${cell(there)}`,
      cell(facts),
      ...(carries === "" ? [] : [cell(carries)]),
    ];
    return `<li>${lines.map((line) => `<span>${line}</span>`).join("")}</li>`;
  });
  return `<ul>\n${items.join("\n")}\n</ul>`;
}
