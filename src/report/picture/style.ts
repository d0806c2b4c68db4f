/**
 * The look: ink on paper, and the same on slate. Every rule is bound to the drawing's own id, or to the class of what is drawn in
 * it, which goes along where sheets of paper refer to it; so an SVG inline in a page dresses nothing else. In print it is paper always.
 */
import { NAME_SIZE, SMALL_SIZE } from "./measures.ts";
import { PAPER_MARGIN, type Paper } from "./paper.ts";
import { num } from "./svg.ts";

/** Colours of a ground, by the name of their variable. */
export type Ground = Readonly<Record<"paper" | "ink" | "faint" | "sheath" | "aside" | "mark" | "lit", string>>;

/** Light, and print. Text on paper and lit ground has a contrast of 4.5 to 1 and more, lines of 3 to 1. */
export const PAPER: Ground = {
  paper: "#fffdf8",
  ink: "#1c1c1c",
  faint: "#565656",
  sheath: "#e7e3d8",
  aside: "#878787",
  mark: "#b04a00",
  lit: "#d3ebfa",
};

/** Dark. */
export const SLATE: Ground = {
  paper: "#1d242b",
  ink: "#eceae4",
  faint: "#b6bcc3",
  sheath: "#36404a",
  aside: "#7f8993",
  mark: "#ff9d57",
  lit: "#2b4a60",
};

/** The style sheet of the drawing with that id. */
export function styleSheet(
  id: string,
  paper: Paper,
  size: { readonly width: number; readonly height: number },
  alone: boolean,
): string {
  const root = `#${id}`;
  const variables = (ground: Ground): string =>
    Object.entries(ground)
      .map(([name, value]) => `--dp-${name}:${value}`)
      .join(";");
  const rules = RULES.map(([selector, rule]) => `.${id}-ink ${selector}{${rule}}`);
  return [
    "",
    `${root},.${id}-paper{${variables(PAPER)};background:var(--dp-paper);font-family:system-ui,"Helvetica Neue",Arial,"DejaVu Sans",sans-serif;font-variant-numeric:tabular-nums}`,
    ...rules,
    `@media screen and (prefers-color-scheme:dark){${root}{${variables(SLATE)}}}`,
    ...paperRules(id, paper, size, alone),
    "",
  ].join("\n");
}

/** On paper: the size of its sheets, and the whole or, where one does not hold it, its sheets. */
function paperRules(
  id: string,
  { across, sheets, scale, page }: Paper,
  { width, height }: { readonly width: number; readonly height: number },
  alone: boolean,
): readonly string[] {
  const name = alone ? "" : ` dp-${across ? "across" : "upright"}`;
  const mm = (length: number): string => `${num(length)}mm`;
  const many = sheets.length > 1;
  const [wide, high] = alone && many ? [page.width, page.height * sheets.length] : [width * scale, height * scale];
  const whole = `#${id}{width:${mm(wide)};height:${mm(high)};max-width:none;min-width:0;break-inside:avoid}`;
  const apart = `page:${name};break-after:page;break-inside:avoid;width:${mm(page.width)};height:auto`;
  const heads = `:is(h2,h3):has(+ figure #${id}),h2:has(+ h3 + figure #${id}){page:${name}}`;
  const printed = !many
    ? whole
    : alone
      ? `${whole}#${id} .dp-screen{display:none}.${id}-paper{display:inline}`
      : `#${id}{display:none}.${id}-paper{display:block;${apart}}${heads}`;
  return [
    `@page${name}{size:A4${across ? " landscape" : ""};margin:${PAPER_MARGIN}mm}`,
    ...(many ? [`@media screen{.${id}-paper{display:none}}`] : []),
    `@media print{${printed}}`,
  ];
}

const RULES: readonly (readonly [selector: string, rule: string])[] = [
  ["text", `fill:var(--dp-ink);font-size:${SMALL_SIZE}px;stroke:none;white-space:pre`],
  [".dp-title", "font-size:18px;font-weight:700"],
  [".dp-name", `font-size:${NAME_SIZE}px;font-weight:700`],
  [".dp-small", "fill:var(--dp-faint)"],
  [".dp-body", "font-size:12px"],
  [".dp-strong", "font-weight:700"],
  [".dp-lacking", "fill:var(--dp-mark);font-weight:700"],
  [".dp-ground", "fill:var(--dp-paper)"],
  [".dp-sheet", "fill:none;stroke:var(--dp-ink);stroke-width:1"],
  [".dp-edge", "fill:none;stroke:var(--dp-ink);stroke-width:4"],
  [".dp-fold", "fill:none;stroke:var(--dp-ink);stroke-width:1;stroke-dasharray:14 4 2 4"],
  [".dp-block", "fill:var(--dp-paper);stroke:var(--dp-ink);stroke-width:1.5"],
  [".dp-used", "fill:var(--dp-ink);stroke:var(--dp-ink);stroke-width:1.2"],
  [".dp-free", "fill:var(--dp-paper);stroke:var(--dp-ink);stroke-width:1.2"],
  [".dp-off", "fill:none;stroke:var(--dp-ink);stroke-width:1.2"],
  [".dp-line", "fill:none;stroke:var(--dp-ink);stroke-width:1.6"],
  [".dp-down", "fill:none;stroke:var(--dp-ink);stroke-width:1.6;stroke-dasharray:2 5"],
  [".dp-sheath", "fill:none;stroke:var(--dp-sheath)"],
  [".dp-outline", "fill:none;stroke:var(--dp-ink)"],
  [".dp-thread", "fill:none"],
  [".dp-ink", "fill:none;stroke:var(--dp-ink)"],
  [".dp-aside .dp-outline", "stroke:none"],
  [".dp-aside .dp-thread", "stroke:var(--dp-aside);stroke-width:1.2"],
  [".dp-aside .dp-dots", "stroke-width:3"],
  [".dp-aside .dp-line", "stroke:var(--dp-aside)"],
  [".dp-aside .dp-ink", "stroke:var(--dp-aside)"],
  [".dp-bar", "fill:none;stroke:var(--dp-ink);stroke-width:4"],
  [".dp-tie", "fill:var(--dp-paper);stroke:var(--dp-ink);stroke-width:1.4"],
  [".dp-stop", "fill:var(--dp-paper);stroke:var(--dp-mark);stroke-width:1.6"],
  [".dp-halo-ink", "fill:none;stroke:var(--dp-ink)"],
  [".dp-halo", "fill:none;stroke:var(--dp-lit)"],
  [".dp-lit .dp-block", "fill:var(--dp-lit);stroke-width:3"],
  [".dp-lit .dp-small", "fill:var(--dp-ink)"],
  [".dp-out .dp-block", "stroke:var(--dp-aside);stroke-width:1"],
  [".dp-flag", "fill:var(--dp-paper);stroke:var(--dp-ink);stroke-width:1.2"],
  [".dp-flag-end", "fill:var(--dp-ink);stroke:var(--dp-ink);stroke-width:1.2"],
  [".dp-flag-number", "font-weight:700;text-anchor:middle"],
  [".dp-flag-end+.dp-flag-number", "fill:var(--dp-paper)"],
  [".dp-cross", "fill:none;stroke:var(--dp-mark);stroke-width:3;stroke-linecap:round"],
  [".dp-broken .dp-block", "stroke:var(--dp-mark);stroke-width:2.5;stroke-dasharray:6 4"],
];
