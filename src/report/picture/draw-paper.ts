/**
 * A drawing once more for paper, where one sheet does not hold it: the same ink, shown through a window a sheet. A file that stands
 * alone holds its sheets below one another, as pages follow; in a page of HTML each is an element of its own, and breaks as others do.
 */
import { type Interval, LABEL_AT, type Paper, SHEET_HEAD } from "./paper.ts";
import { el, label, pieces, type Svg } from "./svg.ts";

/** A piece of the drawing. */
export type Ink = {
  /** It. */
  readonly svg: Svg;
  /** What it takes from the top, in pixels; absent: it may be anywhere. */
  readonly along?: Interval;
};

/** Letters and marks stand out of what they belong to by no more. */
const STANDS_OUT = 40;

/** The drawing as a screen shows it; where it takes several sheets each piece can be referred to. `prefix`: what ids and the class of all ink begin with. */
export function drawInk(inks: readonly Ink[], { sheets }: Paper, prefix: string): Svg {
  const drawn = inks.map(({ svg }, index) =>
    sheets.length < 2 ? svg : el("g", { id: pieceId(prefix, index), class: `${prefix}-ink` }, svg),
  );
  return el("g", { class: sheets.length < 2 ? `${prefix}-ink` : "dp-screen" }, pieces(drawn));
}

function pieceId(prefix: string, index: number): string {
  return `${prefix}-${index}`;
}

/** The sheets; none where one holds it all. `width`: of the drawing that they stand in, in pixels; absent: each stands for itself. */
export function drawSheets(inks: readonly Ink[], paper: Paper, prefix: string, width?: number): readonly Svg[] {
  const { sheets, scale, page } = paper;
  if (sheets.length < 2) return [];
  return sheets.map((box, index) => {
    const told = label(0, LABEL_AT, `sheet ${index + 1} of ${sheets.length}`, { class: "dp-small" });
    const met = inks.flatMap(({ along: [from, to] = [box.y, box.y] }, number) =>
      from - STANDS_OUT < box.y + box.height && to + STANDS_OUT > box.y
        ? [el("use", { href: `#${pieceId(prefix, number)}` })]
        : [],
    );
    const size = { width: box.width, height: box.height };
    const shown = el(
      "svg",
      { y: SHEET_HEAD, ...size, viewBox: `${box.x} ${box.y} ${box.width} ${box.height}` },
      ...met,
    );
    const high = box.height + SHEET_HEAD;
    // On paper the width of the drawing is that of a sheet.
    const unit = width === undefined ? 1 : (width * scale) / page.width;
    const top = width === undefined ? {} : { y: (index * width * page.height) / page.width };
    const place = { ...top, width: box.width * unit, height: high * unit, viewBox: `0 0 ${box.width} ${high}` };
    const attributes = { class: `dp-paper ${prefix}-paper`, ...place, "aria-hidden": "true" };
    return el("svg", attributes, el("g", { class: `${prefix}-ink` }, told), shown);
  });
}
