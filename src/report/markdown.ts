/**
 * A run as Markdown for a review: a heading that tells the result, then each assertion that does not hold with its packet,
 * its deciding lines and the repairs that were found, as differences of lines.
 */
import { locate, type SourceFile } from "../diagnose/index.ts";
import {
  type Break,
  type Evidence,
  fallsShort,
  oneLine as packetLine,
  type Repair,
  type Run,
  statusOf,
  type Told,
  type Verdict,
} from "../result/index.ts";
import { block, code, escaped } from "./markdown-text.ts";
import {
  mendingOf,
  numberRepairs,
  REPAIR_CAUTION,
  type RepairNumbers,
  reachLines,
  repairKey,
  tellNone,
} from "./repairs.ts";
import { NO_VERDICT, summaryOf, WORDS } from "./terminal.ts";
import { NO_INK } from "./text.ts";

/** The report of a run, ending in a newline. What holds is counted, not listed. */
export function renderMarkdown(run: Run): string {
  const open = run.verdicts.filter(fallsShort);
  const told = { numbers: numberRepairs(open, run), shown: new Set<string>() };
  const parts = [
    `## ${escaped(summaryOf(run, NO_INK))}`,
    ...(statusOf(run) === "invalid" ? ["The documents are wrong: see the diagnostics."] : []),
    ...(run.fault === undefined ? [] : [`**${NO_VERDICT}**`, block(run.fault)]),
    ...open.map((verdict) => verdictIn(run, verdict, told)),
    ...(run.assumptions.length === 0
      ? []
      : [["This rests on:", "", ...run.assumptions.map((each) => `- ${escaped(each)}`)].join("\n")]),
    ...(told.shown.size === 0 ? [] : [`*${escaped(REPAIR_CAUTION)}*`]),
  ];
  return `${parts.join("\n\n")}\n`;
}

type RepairsTold = { readonly numbers: RepairNumbers; readonly shown: Set<string> };

function verdictIn(run: Run, verdict: Verdict, told: RepairsTold): string {
  const { status, name, headline, decidedBy, witness, path, help, breaks = [] } = verdict;
  const { sources } = run;
  return [
    `### ${WORDS[status]}: ${escaped(name)}`,
    escaped(headline),
    ...(decidedBy.length === 0
      ? []
      : [
          decidedBy
            .slice(0, 2)
            .map((each) => lineIn(each, sources))
            .join("\n"),
        ]),
    ...(witness === undefined ? [] : [block([`packet: ${packetLine(witness)}`, ...path.map(stepIn)].join("\n"))]),
    ...(breaks.length < 2 ? [] : [["Broken, too, without", "", ...breaks.slice(1).map(breakIn)].join("\n")]),
    ...(help === "" ? [] : [escaped(help)]),
    ...repairsIn(run, verdict, told),
  ].join("\n\n");
}

function breakIn({ without }: Break): string {
  return `- ${without.map((each) => escaped(each)).join(" and ")}`;
}

function lineIn({ origin, text }: Evidence, sources: readonly SourceFile[]): string {
  const { file, line } = locate(sources, origin.span);
  return `- ${escaped(text)} (${code(`${file}:${line}`)})`;
}

function stepIn({ device, text }: Told, index: number): string {
  return `${String(index + 1).padStart(2)} ${device} ${text}`;
}

function repairsIn(run: Run, verdict: Verdict, { numbers, shown }: RepairsTold): readonly string[] {
  const mending = mendingOf(verdict, run);
  if (mending === undefined) return [];
  if (mending.repairs.length === 0) return [escaped(tellNone(mending.tried, mending.limit))];
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
  const notes = [...others, ...reachLines(allows, forbids).map((each) => `- ${escaped(each)}`)];
  return [`${head}: ${escaped(text)}`, block(hunks.join("\n"), "diff"), notes.join("\n")].join("\n\n");
}
