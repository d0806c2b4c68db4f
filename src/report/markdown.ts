/**
 * A run as Markdown for a review: a heading that tells the result, then what is wrong in the documents, then each assertion
 * that does not hold with its packet, its deciding lines and the repairs that were found, as differences of lines; at the end
 * a sketch of each site, with the numbers of these assertions where their packets end.
 */
import { hasErrors, locate, type SourceFile } from "../diagnose/index.ts";
import {
  type Break,
  type Evidence,
  fallsShort,
  foldAssumptions,
  packetLines,
  type Repair,
  type Run,
  type Told,
  type Verdict,
} from "../result/index.ts";
import type { SiteGraph } from "../site/index.ts";
import { block, code, diagnosticsIn, escaped, inTag, prose } from "./markdown-text.ts";
import { STATUS_MARKS } from "./policy-table.ts";
import { recoveryParts } from "./recovery-parts.ts";
import {
  mendingOf,
  numberRepairs,
  REPAIR_CAUTION,
  type RepairNumbers,
  reachLines,
  repairKey,
  tellNone,
} from "./repairs.ts";
import { sketchOf } from "./sketch.ts";
import { NO_VERDICT, summaryOf, WORDS } from "./terminal.ts";
import { NO_INK } from "./text.ts";

/** The devices of a site, to be sketched. */
export type SketchedSite = {
  /** Its name. */
  readonly name: string;
  /** What hangs together. */
  readonly graph: SiteGraph;
};

/** The report of a run, ending in a newline. What holds is counted, not listed. Default: nothing is sketched. */
export function renderMarkdown(run: Run, sites: readonly SketchedSite[] = []): string {
  const open = run.verdicts.filter(fallsShort);
  const told = { numbers: numberRepairs(open, run), shown: new Set<string>() };
  const isInvalid = hasErrors(run.diagnostics);
  const parts = [
    `## ${isInvalid ? "the documents are wrong" : escaped(summaryOf(run, NO_INK))}`,
    ...(run.diagnostics.length === 0 ? [] : [diagnosticsIn(run.diagnostics, run.sources)]),
    ...(run.fault === undefined ? [] : [`**${NO_VERDICT}**`, block(run.fault)]),
    ...open.map((verdict, index) => verdictIn(run, verdict, index + 1, told)),
    ...(run.assumptions.length === 0
      ? []
      : [["This rests on:", "", ...foldAssumptions(run.assumptions).map((each) => `- ${prose(each)}`)].join("\n")]),
    ...(told.shown.size === 0 ? [] : [`*${escaped(REPAIR_CAUTION)}*`]),
    ...sites.map((site) => sketchIn(site, open)),
  ];
  return `${parts.join("\n\n")}\n`;
}

type RepairsTold = { readonly numbers: RepairNumbers; readonly shown: Set<string> };

/** A sketch that is folded away; a device where packets of an assertion end bears its number. */
function sketchIn({ name, graph }: SketchedSite, open: readonly Verdict[]): string {
  const marks = new Map<string, string>();
  for (const [index, { site, status, path }] of open.entries()) {
    const end = path.at(-1)?.device;
    if (site !== name || end === undefined) continue;
    marks.set(end, `${marks.get(end) ?? ""} ${STATUS_MARKS[status]}${index + 1}`.trim());
  }
  const lines = block(sketchOf(graph, marks).join("\n"));
  return `<details><summary>${inTag(name)} as it is cabled</summary>\n\n${lines}\n\n</details>`;
}

function verdictIn(run: Run, verdict: Verdict, number: number, told: RepairsTold): string {
  const { status, name, headline, decidedBy, witness, path, help, breaks = [] } = verdict;
  const { sources } = run;
  return [
    `### ${number}. ${WORDS[status]}: ${escaped(name)}`,
    prose(headline),
    ...(decidedBy.length === 0
      ? []
      : [
          decidedBy
            .slice(0, 2)
            .map((each) => lineIn(each, sources))
            .join("\n"),
        ]),
    ...(witness === undefined ? [] : [block([...packetLines(witness), ...path.map(stepIn)].join("\n"))]),
    ...(breaks.length < 2 ? [] : [["Broken, too, without", "", ...breaks.slice(1).map(breakIn)].join("\n")]),
    ...recoveryParts(verdict.recovery, false).map(({ head, lines }) =>
      [`${head[0]?.toUpperCase()}${head.slice(1)}`, "", ...lines.map(itemIn)].join("\n"),
    ),
    ...(help === "" ? [] : [prose(help)]),
    ...repairsIn(run, verdict, told),
  ].join("\n\n");
}

/** A line of a list; one that counts steps gets its point. */
function itemIn(line: string): string {
  const [mark = "", ...words] = line.split(" ");
  return `${mark === "-" ? "-" : `${mark}.`} ${prose(words.join(" "))}`;
}

function breakIn({ without }: Break): string {
  return `- ${without.map((each) => escaped(each)).join(" and ")}`;
}

function lineIn({ origin, text }: Evidence, sources: readonly SourceFile[]): string {
  const { file, line } = locate(sources, origin.span);
  return `- ${prose(text)} (${code(`${file}:${line}`)})`;
}

function stepIn({ device, text }: Told, index: number): string {
  return `${String(index + 1).padStart(2)} ${device} ${text}`;
}

function repairsIn(run: Run, verdict: Verdict, { numbers, shown }: RepairsTold): readonly string[] {
  const mending = mendingOf(verdict, run);
  if (mending === undefined) return [];
  if (mending.repairs.length === 0) return [prose(tellNone(mending))];
  return mending.repairs.map((repair) => {
    const key = repairKey(repair);
    const head = `**Repair ${numbers.get(key) ?? 1}**`;
    if (shown.has(key)) return `${head}, above, mends it, too.`;
    shown.add(key);
    return repairIn(repair, head);
  });
}

function repairIn({ text, file, changes, mends, allows, forbids }: Repair, head: string): string {
  const hunks = changes.map(({ line, before, after }) =>
    [`@@ ${file}, line ${line}`, ...before.map((each) => `-${each}`), ...after.map((each) => `+${each}`)].join("\n"),
  );
  const others = mends.length === 0 ? [] : [`- mends ${mends.map((name) => escaped(name)).join(", ")}, too`];
  const notes = [...others, ...reachLines(allows, forbids).map((each) => `- ${prose(each)}`)];
  return [`${head}: ${prose(text)}`, block(hunks.join("\n"), "diff"), notes.join("\n")].join("\n\n");
}
