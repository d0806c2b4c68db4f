/**
 * Who reaches whom, out of the cells of all verdicts of a site: rows begin, columns are meant. Rows that say the same are one
 * row, and so are columns, so that a site of two hundred devices is still a table that one can read.
 */
import type { Cell, OpenWays, Status, Verdict } from "../../result/index.ts";
import { type CellLink, type CellLinks, cellPlace, type Numbers } from "./places.ts";

/** One thing that was asked between two ends. */
export type Entry = {
  /** Number of its verdict. */
  readonly number: number;
  /** How it ended. */
  readonly status: Status;
  /** What was demanded, in a few words: "tcp/443", "shut"; "not shut" where it is broken. */
  readonly text: string;
  /** Numbers of other verdicts that ended alike and demand the same, in their order. Default: there are none. */
  readonly others?: readonly number[];
};

/** A row or a column: ends that say the same. */
export type Ends = {
  /** Their names, at least one. */
  readonly names: readonly string[];
};

/** The table of a site. */
export type ReachTable = {
  /** Who begins. */
  readonly rows: readonly Ends[];
  /** Who is meant. */
  readonly columns: readonly Ends[];
  /** What was asked, by row and column; empty: nothing. */
  readonly cells: readonly (readonly (readonly Entry[])[])[];
  /** Services of packets that get through though nothing was asked, in words, likewise; empty: none does. */
  readonly open: readonly (readonly string[])[];
};

/** What is known of a site: names that stand in its table, asked about or not. */
export type KnownNames = {
  /** Networks. */
  readonly networks: readonly string[];
  /** Devices: what is asked of one leg of a device is told in the row or column of the device. */
  readonly devices: readonly string[];
  /** Somebody resolves names there, so they have a column, asked about or not. Default: only where they are asked about. */
  readonly servesNames?: true;
  /** Who reaches whom at all. Default: nobody can tell. */
  readonly open?: readonly OpenWays[];
};

/** The column of names; no name of a plan holds a space. */
const NAMES = "names looked up";

type Asked = { readonly from: string; readonly to: string; readonly entry: Entry };

/** The table; no rows: nothing was asked between ends. Networks that nobody asked about stand in it, too. */
export function reachTable(verdicts: readonly Verdict[], known: KnownNames, numbers: Numbers): ReachTable {
  const devices = new Set(known.devices);
  const asked = verdicts.flatMap((verdict) => {
    const number = numbers.get(verdict);
    if (number === undefined) return [];
    return verdict.cells.flatMap((cell) => askedIn(cell, number, devices));
  });
  if (asked.length === 0) return { rows: [], columns: [], cells: [], open: [] };
  const book = new Map<string, Entry[]>();
  for (const { from, to, entry } of asked) {
    const key = keyOf(from, to);
    const entries = book.get(key) ?? [];
    book.set(key, withEntry(entries, entry));
  }
  const froms = inOrder(
    asked.map(({ from }) => from),
    known.networks,
  );
  const all = inOrder(
    asked.map(({ to }) => to),
    known.networks,
  );
  const isNamed = known.servesNames === true || all.includes(NAMES);
  const tos = [...all.filter((to) => to !== NAMES), ...(isNamed ? [NAMES] : [])];
  const open = new Map(
    (known.open ?? []).flatMap((way) => way.to.map(({ name, services }) => [keyOf(way.from, name), services] as const)),
  );
  return merged(froms, tos, {
    entries: (from, to) => book.get(keyOf(from, to)) ?? [],
    open: (from, to) => (book.has(keyOf(from, to)) ? "" : (open.get(keyOf(from, to)) ?? "")),
  });
}

/** Networks first, in their order, then others as they come, then networks that nobody names. */
function inOrder(names: readonly string[], networks: readonly string[]): readonly string[] {
  const used = new Set(names);
  const others = [...used].filter((name) => !networks.includes(name));
  return [...networks.filter((name) => used.has(name)), ...others, ...networks.filter((name) => !used.has(name))];
}

function askedIn(cell: Cell, number: number, devices: ReadonlySet<string>): readonly Asked[] {
  if (cell.expect === "unjudged" || cell.status === "skipped") return [];
  const [from, own] = deviceIn(networkOf(cell.from), devices);
  const [to, leg] = cell.expect === "resolves" ? [NAMES, ""] : deviceIn(networkOf(cell.to), devices);
  const over = cell.family === undefined ? [] : [`over ${cell.family === "ipv4" ? "IPv4" : "IPv6"}`];
  const text = [
    demanded(cell),
    ...over,
    ...(own === "" ? [] : [`from ${own}`]),
    ...(leg === "" ? [] : [`at ${leg}`]),
  ].join(" ");
  return [{ from, to, entry: { number, status: cell.status, text } }];
}

/** Whoever is new in a network is told in the row of the network: it was asked of whoever is plugged in there. */
function networkOf(name: string): string {
  return /^a new client in (.+)$/.exec(name)?.[1] ?? name;
}

/** The device of a leg, `edge` of `edge/crew`, and the leg; a name that is none of a leg stays as it is. */
function deviceIn(name: string, devices: ReadonlySet<string>): readonly [name: string, leg: string] {
  const slash = name.indexOf("/");
  const device = name.slice(0, Math.max(0, slash));
  return devices.has(device) ? [device, name.slice(slash + 1)] : [name, ""];
}

function keyOf(from: string, to: string): string {
  return JSON.stringify([from, to]);
}

/** Entries with one more; what says the same is one entry. */
function withEntry(entries: readonly Entry[], entry: Entry): Entry[] {
  const same = entries.find(({ status, text }) => status === entry.status && text === entry.text);
  if (same === undefined) return [...entries, entry];
  const { number, others = [] } = same;
  if (number === entry.number || others.includes(entry.number)) return [...entries];
  return entries.map((each) => (each === same ? { ...each, others: [...others, entry.number] } : each));
}

/** What a cell demands, in a few words; of what is broken that it is not so, where the demand alone could be read as what was found. */
function demanded({ expect, service, status }: Cell): string {
  const isBroken = status === "failed";
  const shut = isBroken ? "not shut" : "shut";
  switch (expect) {
    case "connects":
      return service;
    case "arrives":
      return `${service} arrives`;
    case "blocked":
      return service === "" || service === "every packet" ? shut : `${shut} to ${service}`;
    case "only":
      if (service.startsWith("all but ")) return `else ${shut}`;
      return isBroken ? `not as meant: only ${service}` : `only ${service}`;
    case "resolves":
      return service;
    case "unjudged":
      return "";
  }
}

/** What is told of two ends. */
type Told = {
  readonly entries: (from: string, to: string) => readonly Entry[];
  readonly open: (from: string, to: string) => string;
};

function merged(froms: readonly string[], tos: readonly string[], { entries, open }: Told): ReachTable {
  const said = (from: string, to: string): unknown => [entries(from, to), open(from, to)];
  const rows = alike(froms, (from) => tos.map((to) => said(from, to)));
  const columns = alike(tos, (to) => rows.map(({ names }) => said(names[0] ?? "", to)));
  const each = <Value>(at: (from: string, to: string) => Value): readonly (readonly Value[])[] =>
    rows.map((row) => columns.map((column) => at(row.names[0] ?? "", column.names[0] ?? "")));
  return { rows, columns, cells: each(entries), open: each(open) };
}

/** Names in groups of those that say the same, in the order of the first of each. */
function alike(names: readonly string[], said: (name: string) => unknown): readonly Ends[] {
  const groups = new Map<string, string[]>();
  for (const name of names) {
    const key = JSON.stringify(said(name));
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [name]);
    else group.push(name);
  }
  return [...groups.values()].map((group) => ({ names: group }));
}

/** Names of a row or column in a line, the first few of many. */
export function tellNames({ names }: Ends): string {
  const shown = names.slice(0, NAMES_SHOWN);
  const rest = names.length - shown.length;
  return rest === 0 ? shown.join(", ") : `${shown.join(", ")} and ${rest} more`;
}

/** More names than this are counted, not listed. */
const NAMES_SHOWN = 4;

/** Where each verdict stands in the table of a site. */
export function linksInto({ rows, columns, cells }: ReachTable, site: number): CellLinks {
  const links = new Map<number, CellLink[]>();
  for (const [row, entries] of cells.entries()) {
    for (const [column, cell] of entries.entries()) {
      const [from, to] = [rows[row], columns[column]];
      if (from === undefined || to === undefined) continue;
      const link = { place: cellPlace(site, row, column), text: `${tellNames(from)} to ${tellNames(to)}` };
      for (const number of new Set(cell.flatMap((each) => [each.number, ...(each.others ?? [])]))) {
        const known = links.get(number);
        if (known === undefined) links.set(number, [link]);
        else known.push(link);
      }
    }
  }
  return links;
}
