/**
 * The key table of the policy: a table of who may speak to whom, where every cell that nobody wrote is blocked.
 */
import { nearestWord } from "../diagnose/index.ts";
import type { Opening, PolicyAssertion, PolicyCell, PolicyRow } from "./assertions.ts";
import type { Findings } from "./findings.ts";
import { parseServiceText, target } from "./leaf-addresses.ts";
import { isProblem, leaf, type Shape, unlocated } from "./shape.ts";
import { targets } from "./shape-addresses.ts";
import { entries, list } from "./shape-collection.ts";
import { defaulted, record, required } from "./shape-record.ts";
import type { List, Located, Target } from "./values.ts";

type Policy = PolicyAssertion["policy"];

const WORDS = {
  anything: "an echo works, and no packet is forbidden",
  nothing: "every packet is blocked, as where nothing is written",
  unjudged: "nothing is asked",
};

function isWord(text: string): text is keyof typeof WORDS {
  return Object.hasOwn(WORDS, text);
}

const opening: Shape<Located<Opening>> = leaf<Opening>({
  says: "a service such as `tcp/443`, or one of `anything`, `nothing`, `unjudged`",
  parse(text) {
    if (isWord(text)) return { by: text };
    const service = parseServiceText(text);
    return isProblem(service) ? service : { by: "service", service };
  },
  schema: { type: "string" },
  words: Object.entries(WORDS).map(([word, says]) => ({ word, says })),
});

const openings: Shape<List<Opening>> = list(opening, "a service, a list of them, or one word", 1);

const cells: Shape<Located<readonly PolicyCell[]>> = entries({
  says: "a mapping of columns to what is open: `{ edge: [udp/53, tcp/53] }`",
  key: target,
  value: openings,
  build: (to, open): PolicyCell => ({ to, open }),
  check: (found, findings) => {
    for (const { open } of found) standsAlone(open, findings);
  },
});

const rows: Shape<Located<readonly PolicyRow[]>> = entries({
  says: "a mapping of rows to their cells: `{ crew: { edge: udp/53 } }`",
  key: target,
  value: unlocated(cells),
  build: (from, inRow): PolicyRow => ({ from, cells: inRow }),
});

/** A word says all; beside services it would say something else. */
function standsAlone({ value }: List<Opening>, findings: Findings): void {
  const word = value.find((each) => each.value.by !== "service");
  const other = value.find((each) => each !== word);
  if (word === undefined || other === undefined) return;
  findings.report("keys-conflict", word.span, `\`${word.value.by}\` stands alone`, {
    also: [{ span: other.span, text: "" }],
    help: "leave out one of the two",
  });
}

/** The table of a policy. */
export const policy: Shape<Policy> = record<Policy>({
  id: "policy",
  says: "a mapping with `from` and `to`",
  rows: {
    from: required("from", targets, {
      says: "The rows: who begins; a set is each of its members.",
      example: "[management, crew, visitors]",
    }),
    to: required("to", targets, {
      says: "The columns: who is meant; a set is each of its members.",
      example: "[management, crew, visitors, edge, internet]",
    }),
    open: defaulted("open", unlocated(rows), [], {
      says: "What is open, by row and column: exactly these services. Of an end with itself nothing is asked unless it is written.",
      default: "nothing: every cell is blocked",
      example: "{ crew: { edge: [udp/53, tcp/53], internet: anything } }",
    }),
  },
  check: reportStrangers,
});

/** Rows and columns of `open` are among those of the table. */
function reportStrangers({ from, to, open }: Policy, findings: Findings): void {
  for (const row of open) {
    reportStranger(row.from, from, "row", findings);
    for (const cell of row.cells) reportStranger(cell.to, to, "column", findings);
  }
}

function reportStranger(end: Located<Target>, known: List<Target>, what: string, findings: Findings): void {
  if (known.value.some(({ value }) => isSameTarget(value, end.value))) return;
  const key = what === "row" ? "from" : "to";
  const name = nameOf(end.value);
  const names = known.value.flatMap(({ value }) => nameOf(value) ?? []);
  const nearest = name === undefined ? undefined : nearestWord(name, names);
  const headline = name === undefined ? `this policy has no such ${what}` : `this policy has no ${what} \`${name}\``;
  const instead = nearest === undefined ? "write one of those that stand there" : `write \`${nearest}\``;
  findings.report("unknown-name", end.span, headline, {
    also: [{ span: known.span, text: `its ${what}s` }],
    help: `add it to \`${key}\`, or ${instead}`,
  });
}

/** What an end is called, where it has a name. */
function nameOf(end: Target): string | undefined {
  if (end.by !== "name") return undefined;
  return end.part === undefined ? end.name : `${end.name}/${end.part}`;
}

/** Whether two ends were written alike. */
export function isSameTarget(a: Target, b: Target): boolean {
  switch (a.by) {
    case "addresses":
      return b.by === "addresses" && a.family === b.family && a.first === b.first && a.last === b.last;
    case "internet":
      return b.by === "internet" && a.scope === b.scope;
    case "name":
      return b.by === "name" && a.name === b.name && a.part === b.part;
  }
}
