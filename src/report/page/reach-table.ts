/**
 * Who reaches whom as a quiet table. Kept, broken and not asked differ in shape: a tick, a cross in a frame, a dot. On a narrow
 * screen each row is a paper of its own, and what was not asked is one line of it.
 */
import { EVERY_SERVICE } from "../../address/index.ts";
import { WORDS } from "../terminal.ts";
import { brief, element, fragment, type Html, named } from "./html.ts";
import { aloud, shape } from "./marks.ts";
import { cellPlace, verdictPlace } from "./places.ts";
import { type Ends, type Entry, type ReachTable, tellNames } from "./reach-model.ts";

/** A table of more cells than this is told as a list of what was asked. */
const MOST_CELLS = 1200;
/** Longer names are cut in the table. */
const LONGEST_NAME = 60;

/** The table with its legend; nothing: nothing was asked between ends. */
export function reachSection(table: ReachTable, site: number, name: string): Html | undefined {
  const { rows, columns } = table;
  if (rows.length === 0) return undefined;
  const isWide = rows.length * columns.length > MOST_CELLS;
  return fragment(legend(), isWide ? asList(table, site, name) : asTable(table, site, name));
}

function legend(): Html {
  const item = (sign: Html, text: string): Html => element("li", {}, sign, " ", text);
  return element(
    "ul",
    { class: "legend" },
    item(shape("passed"), "kept: a service works; shut: no packet at all gets there"),
    item(element("span", { class: "cross" }, shape("failed")), "broken"),
    item(shape("undecided"), "undecided"),
    item(
      shape("skipped"),
      "not asked; open, told of networks: packets get through all the same, of every service where none is named",
    ),
  );
}

function frame(name: string, caption: string, table: Html): Html {
  const label = `${name}: ${caption}`;
  return element("div", { class: "scroll", role: "region", "aria-label": brief(label), tabindex: 0 }, table);
}

// Blocks lose what a table is to screen readers, so its roles are said.
const ROLES = { table: { role: "table" }, group: { role: "rowgroup" }, row: { role: "row" } };

function asTable(table: ReachTable, site: number, name: string): Html {
  const { rows, columns, cells, open } = table;
  const head = element(
    "tr",
    ROLES.row,
    element("td", { role: "cell" }, aloud("from, to")),
    columns.map((column) => element("th", { scope: "col", role: "columnheader" }, aloud("to "), namesOf(column))),
  );
  const body = rows.map((row, index) => {
    const entries = cells[index] ?? [];
    const openTo = (column: number): string => open[index]?.[column] ?? "";
    return element(
      "tr",
      ROLES.row,
      rowHead(row),
      entries.map((each, column) =>
        each.length === 0 ? unaskedCell(openTo(column)) : cellOf(each, columns[column], cellPlace(site, index, column)),
      ),
      unasked(row, columns, (column) => (entries[column]?.length === 0 ? openTo(column) : undefined)),
    );
  });
  return frame(
    name,
    "who reaches whom",
    element(
      "table",
      { ...ROLES.table, class: "reach" },
      element("caption", {}, "Rows begin, columns are meant. Each entry leads to its proof or its packet."),
      element("thead", ROLES.group, head),
      element("tbody", ROLES.group, body),
    ),
  );
}

function rowHead(row: Ends): Html {
  return element("th", { scope: "row", role: "rowheader" }, element("span", { class: "from" }, "from "), namesOf(row));
}

/** Where cells are put below one another, those without an entry are one line; `openTo`: services that get through all the same, undefined for those that have one. */
function unasked(
  row: Ends,
  columns: readonly Ends[],
  openTo: (column: number) => string | undefined,
): Html | undefined {
  const others = columns.flatMap(({ names }, column) => {
    const services = openTo(column);
    if (services === undefined) return [];
    const open = services === "" ? "" : ` (${tellOpen(services)})`;
    return names.flatMap((name) => (row.names.includes(name) ? [] : [`${brief(name, LONGEST_NAME)}${open}`]));
  });
  if (others.length === 0) return undefined;
  return element("td", { role: "cell", class: "unasked" }, `not asked: ${others.join(", ")}`);
}

/** All services need no word: the table is read at a glance. */
function tellOpen(services: string): string {
  return services === EVERY_SERVICE ? "open" : `open: ${brief(services, LONGEST_NAME)}`;
}

function unaskedCell(services: string): Html {
  const told =
    services === "" ? aloud("not asked") : [aloud("not asked, and "), element("span", {}, ` ${tellOpen(services)}`)];
  return element("td", { role: "cell", class: "none" }, shape("skipped"), told);
}

function namesOf(ends: Ends): Html {
  return named(brief(tellNames(ends), LONGEST_NAME));
}

function cellOf(entries: readonly Entry[], column: Ends | undefined, place: string): Html {
  const to = column === undefined ? "" : tellNames(column);
  return element(
    "td",
    { role: "cell", id: place, tabindex: -1 },
    element("span", { class: "to" }, `to ${brief(to, LONGEST_NAME)}`),
    entriesOf(entries),
  );
}

function entriesOf(entries: readonly Entry[]): Html {
  return element(
    "ul",
    {},
    entries.map((entry) => element("li", {}, entryOf(entry))),
  );
}

function entryOf({ number, status, text, others = [] }: Entry): Html {
  const word = WORDS[status];
  const told = status === "passed" ? aloud(`${word}: `) : element("span", { class: "word" }, `${word}: `);
  const first = element(
    "a",
    { href: `#${verdictPlace(number)}`, class: `entry ${status}` },
    shape(status),
    element("span", {}, told, brief(text, LONGEST_NAME)),
  );
  // Who asked the same has its own proof.
  const again = others.map((each) =>
    element("a", { href: `#${verdictPlace(each)}`, class: "again" }, "again", aloud(`: ${brief(text, LONGEST_NAME)}`)),
  );
  return fragment(
    first,
    again.map((link) => [" ", link]),
  );
}

/** Only what was asked, pair by pair; the place of a pair is that of its cell. */
function asList(table: ReachTable, site: number, name: string): Html {
  const { rows, columns, cells } = table;
  const pairs = rows.flatMap((row, index) =>
    columns.flatMap((column, place) => {
      const entries = cells[index]?.[place] ?? [];
      if (entries.length === 0) return [];
      return [
        element(
          "tr",
          { ...ROLES.row, id: cellPlace(site, index, place), tabindex: -1 },
          element("th", { scope: "row", role: "rowheader" }, "from ", namesOf(row)),
          element("td", { role: "cell" }, "to ", namesOf(column)),
          element("td", { role: "cell" }, entriesOf(entries)),
        ),
      ];
    }),
  );
  const heads = ["from", "to", "what"].map((word) => element("th", { scope: "col", role: "columnheader" }, word));
  return frame(
    name,
    "who reaches whom",
    element(
      "table",
      { ...ROLES.table, class: "reach pairs" },
      element("caption", {}, "Only what was asked: the whole table would be too large to read."),
      element("thead", ROLES.group, element("tr", ROLES.row, heads)),
      element("tbody", ROLES.group, pairs),
    ),
  );
}
