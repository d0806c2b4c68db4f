/**
 * What a kernel and the simulator said, as a person reads it: differences first, each with both ways side by side; then what
 * could not be asked, with what is missing for it; then what was answered alike, and a summary line.
 */
import { type Agreement, type AgreementStatus, type Dispute, eachOnce, type KernelRun } from "../result/index.ts";
import { renderEvidence } from "./terminal.ts";
import { COLUMNS, type Ink, marked, oneLine, visible, wrap } from "./text.ts";

const MARKS: { readonly [status in AgreementStatus]: string } = {
  differs: "≠ differs",
  "not-probed": "? not probed",
  "in-part": "? in part",
  agrees: "= agrees",
  "asks-nothing": "- no exchange",
};
const ORDER: readonly AgreementStatus[] = ["differs", "not-probed", "in-part", "agrees", "asks-nothing"];
const MARK_WIDTH = 15;
/** So much of what is missing is named with an assertion, and shown with its lines; the rest is counted. */
const MISSING_NAMED = 3;
const MISSING_SHOWN = 10;

/** The report of a run, ending in a newline; diagnostics are not part of it. */
export function renderAgreement(run: KernelRun, ink: Ink): string {
  const sorted = ORDER.flatMap((status) => run.agreements.filter((each) => each.status === status));
  const long = sorted.filter(isLong).map((each) => renderOne(each, ink));
  const short = sorted.filter((each) => !isLong(each)).flatMap((each) => [headOf(each, ink), ...answersOf(each)]);
  const parts = [
    ...long,
    ...(short.length === 0 ? [] : [short.join("\n")]),
    ...renderMissing(run, ink),
    ...(run.refused.length === 0 ? [] : [renderRefused(run.refused)]),
    summaryOf(run, ink),
  ];
  return `${parts.join("\n\n")}\n`;
}

function isLong({ status }: Agreement): boolean {
  return status !== "agrees" && status !== "asks-nothing";
}

function inkOf(status: AgreementStatus, ink: Ink): (text: string) => string {
  if (status === "differs") return ink.bad;
  if (status === "agrees") return ink.good;
  return status === "asks-nothing" ? ink.faint : ink.open;
}

function headOf({ status, name }: Agreement, ink: Ink): string {
  return marked(MARKS[status], MARK_WIDTH, name, inkOf(status, ink));
}

function answersOf({ answers }: Agreement): readonly string[] {
  return answers.map(({ text, times }) => wrap(times === 1 ? text : `${times} times: ${text}`, 3, 6));
}

function renderOne(agreement: Agreement, ink: Ink): string {
  return [
    headOf(agreement, ink),
    ...agreement.disputes.flatMap(renderDispute),
    ...missingOf(agreement),
    ...answersOf(agreement),
  ].join("\n");
}

function missingOf({ missing }: Agreement): readonly string[] {
  const more = missing.length - MISSING_NAMED;
  const texts = missing.slice(0, MISSING_NAMED).map(({ text }) => text);
  if (texts.length === 0) return [];
  return [wrap(`not shown here: ${[...texts, ...(more > 0 ? [`${more} more`] : [])].join("; ")}`, 3, 6)];
}

/** The lines that ask for what cannot be shown here, each once. */
function renderMissing({ agreements, sources, instead }: KernelRun, ink: Ink): readonly string[] {
  const each = eachOnce(agreements.flatMap(({ missing }) => missing));
  if (each.length === 0) return [];
  const more = each.length - MISSING_SHOWN;
  return [
    [
      "what cannot be shown here:",
      ...each.slice(0, MISSING_SHOWN).map((one) => renderEvidence(one, sources, ink, "")),
      ...(more > 0 ? [wrap(`and ${more} more`, 3)] : []),
      ...(instead === "" ? [] : [wrap(instead, 3)]),
    ].join("\n"),
  ];
}

function renderRefused(refused: readonly string[]): string {
  return ["the kernel would not take:", ...refused.map((line) => wrap(line, 3, 6))].join("\n");
}

// -- both ways side by side ----------------------------------------------------------------------------------------

const HALF = Math.floor((COLUMNS - 3 - 2) / 2);

function renderDispute({ question, kernel, model, kernelWay, modelWay }: Dispute): readonly string[] {
  const left = [
    "kernel:",
    ...wrapTo(kernel),
    "",
    ...kernelWay.flatMap((mark) => wrapTo(`${mark.device} ${mark.text}`)),
  ];
  const said = model.flatMap((line, index) => wrapTo(index === 0 ? line : `or ${line}`));
  const right = ["dryrack:", ...said, "", ...modelWay.flatMap((mark) => wrapTo(`${mark.device} ${mark.text}`))];
  const height = Math.max(left.length, right.length);
  const rows = Array.from({ length: height }, (_, row) =>
    `   ${(left[row] ?? "").padEnd(HALF)}  ${right[row] ?? ""}`.trimEnd(),
  );
  return [wrap(question, 3), ...rows];
}

/** Words in lines of half a page, later lines set in. */
function wrapTo(text: string): readonly string[] {
  const lines: string[] = [];
  for (const word of visible(oneLine(text)).split(" ")) {
    const last = lines.at(-1);
    if (last === undefined) lines.push(word);
    else if (last.length + 1 + word.length <= HALF) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(`  ${word}`);
  }
  return lines;
}

/** One line that tells the whole run. */
function summaryOf({ site, where, agreements }: KernelRun, ink: Ink): string {
  const count = (status: AgreementStatus): number => agreements.filter((each) => each.status === status).length;
  const words: { readonly [status in AgreementStatus]: string } = {
    differs: "differ",
    "not-probed": "not probed",
    "in-part": "in part",
    agrees: "agree",
    "asks-nothing": "without an exchange",
  };
  const told = ORDER.filter((status) => status === "agrees" || count(status) > 0).map(
    (status) => `${count(status)} ${words[status]}`,
  );
  const asked = agreements.reduce((sum, each) => sum + each.asked, 0);
  return ink.strong(oneLine(`${site}: ${told.join(", ")}; ${asked} questions put to ${where}`));
}
