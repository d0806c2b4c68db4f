/**
 * Repairs of what does not hold: what to do, the lines as they are and as they would be, and what else that changes.
 */
import type { ChangedLines, Mending, Repair } from "../../result/index.ts";
import { REPAIR_CAUTION, type RepairNumbers, reachLines, repairKey, tellNone } from "../repairs.ts";
import { oneLine } from "../text.ts";
import { element, fragment, type Html, prose } from "./html.ts";
import { aloud } from "./marks.ts";
import { indentOf } from "./slip.ts";

/** The repairs of one verdict; `shown` gets the keys of those that are told in full. */
export function mendingIn(mending: Mending, numbers: RepairNumbers, shown: Set<string>): Html | undefined {
  if (mending.repairs.length === 0) return element("p", {}, tellNone(mending));
  const told = mending.repairs.map((repair) => {
    const key = repairKey(repair);
    const number = numbers.get(key) ?? 1;
    if (shown.has(key))
      return element("p", {}, element("a", { href: `#repair-${number}` }, `Repair ${number}`), " mends it, too.");
    shown.add(key);
    return repairOf(repair, number);
  });
  return fragment(told, element("p", { class: "aside" }, `${REPAIR_CAUTION}.`));
}

function repairOf({ text, file, changes, mends, allows, forbids }: Repair, number: number): Html {
  const others = mends.length === 0 ? [] : [`mends ${mends.map((name) => `\`${name}\``).join(", ")}, too`];
  const notes = [...others, ...reachLines(allows, forbids)];
  return element(
    "section",
    { class: "repair", id: `repair-${number}` },
    element("h4", {}, `Repair ${number}`),
    element("p", {}, prose(oneLine(text))),
    changes.map((lines) => changesIn(file, lines)),
    element(
      "ul",
      {},
      notes.map((note) => element("li", {}, prose(oneLine(note)))),
    ),
  );
}

/** The lines without the indent that all of them have. */
function changesIn(file: string, { line, before, after }: ChangedLines): Html {
  const indent = Math.min(...[...before, ...after].filter((text) => text.trim() !== "").map(indentOf));
  const row = (kind: "del" | "ins", sign: string, word: string) => (text: string) =>
    element(
      kind,
      {},
      aloud(`${word} `),
      element("span", { "aria-hidden": "true" }, `${sign} `),
      `${text.slice(indent)}\n`,
    );
  return element(
    "figure",
    { class: "slip" },
    element("figcaption", {}, element("span", { class: "place" }, `${oneLine(file)}, line ${line}`)),
    element(
      "pre",
      { translate: "no" },
      element("code", {}, before.map(row("del", "-", "taken out")), after.map(row("ins", "+", "put in"))),
    ),
  );
}
