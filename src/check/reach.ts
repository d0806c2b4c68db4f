/**
 * Assertions about reach, as their demands and what came of them: one end to another, or a whole table.
 */
import { formatService, formatServices } from "../address/index.ts";
import type { PolicyAssertion, ReachAssertion } from "../document/index.ts";
import { type Cell, eachOnce } from "../result/index.ts";
import { checkBlocked } from "./blocked.ts";
import { checkExchange } from "./connects.ts";
import { type CheckContext, type Finding, worstAmong, worstOf } from "./context.ts";
import { cellsOf, type Demand, demandsOf, type PolicyDemand, servicesOnce } from "./demands.ts";
import { type End, endPairOf, endText, resolveEnds } from "./ends.ts";
import { cellFamily, onlyFamily } from "./families.ts";

/** Judges an assertion with `from` and `to`. */
export function checkReach(assertion: ReachAssertion, context: CheckContext): Finding {
  const findings = demandsOf(assertion).map((demand) => checkDemand(demand, context));
  const shown = worstFinding(findings);
  if (assertion.expect.value !== "only" || shown.status !== "passed") return joined(shown, findings);
  return joined({ ...shown, headline: onlyHeadline(assertion, context) }, findings);
}

/** Judges one demand between all of its ends. */
export function checkDemand(demand: Demand, context: CheckContext): Finding {
  const ends = endPairOf(demand, context.evaluation);
  if (demand.expect.value !== "blocked") return checkExchange(demand, ends, context);
  const finding = checkBlocked(demand, ends, context);
  // It was not on the whole site: the failure cuts the source off, and nothing gets through.
  return finding.status === "vacuous" && context.evaluation.hasFailures ? { ...finding, status: "passed" } : finding;
}

/** The first of the worst; where all pass the last, which is the proof. */
function worstFinding(findings: readonly Finding[]): Finding {
  const worst = worstAmong(findings);
  return worst.status === "passed" ? (findings.at(-1) ?? worst) : worst;
}

/** One finding for several, told as the one shown. */
function joined(shown: Finding, findings: readonly Finding[]): Finding {
  if (findings.length === 1) return shown;
  return {
    ...shown,
    restsOn: eachOnce(findings.flatMap(({ restsOn = [] }) => restsOn)),
    assumptions: [...new Set(findings.flatMap(({ assumptions = [] }) => assumptions))],
    cells: findings.flatMap(({ cells = [] }) => cells),
  };
}

function onlyHeadline({ from, to, service }: ReachAssertion, { evaluation }: CheckContext): string {
  const labels = (ends: readonly End[]): string => [...new Set(ends.map(({ label }) => label))].join(", ");
  const services = formatServices(servicesOnce(service?.value ?? []));
  const [begins, meant] = [from, to].map((each) => labels(resolveEnds(each, evaluation).ends));
  return `${begins} gets to ${meant} by ${services} and by nothing else`;
}

// -- policies ------------------------------------------------------------------------------------------------------

type JudgedCell = { readonly told: Cell; readonly findings: readonly Finding[] };

/** Judges a policy, cell by cell. */
export function checkPolicy(assertion: PolicyAssertion, context: CheckContext): Finding {
  const over = cellFamily(onlyFamily(assertion.family?.value));
  const cells = cellsOf(assertion).map((cell) => {
    const { findings, told } = judgedCell(cell, context);
    return { findings, told: { ...told, ...over } };
  });
  const judged = cells.filter(({ findings }) => findings.length > 0);
  const table = { cells: cells.map(({ told }) => told) };
  if (judged.length === 0) return { ...unjudged(assertion), ...table };
  const findings = judged.flatMap((each) => each.findings);
  return { ...joined(policyShown(judged), findings), ...table };
}

function policyShown(judged: readonly JudgedCell[]): Finding {
  const worst = worstAmong(judged.map(({ told, findings }) => ({ ...told, shown: worstFinding(findings) })));
  const { from, to, shown } = worst;
  if (worst.status !== "passed") {
    const others = judged.filter(({ told }) => told.status !== "passed").length - 1;
    const more = others === 0 ? "" : `; ${others} more ${others === 1 ? "cell does" : "cells do"} not hold`;
    return { ...shown, headline: `${from} to ${to}: ${shown.headline}${more}` };
  }
  const { witness: _witness, path: _path, ...rest } = shown;
  const open = judged.filter(({ told }) => told.service !== "").length;
  const hold = judged.length === 1 ? "the one cell holds" : `all ${judged.length} cells hold`;
  const headline = `${hold}: ${open} open, ${judged.length - open} blocked`;
  return { ...rest, headline, decidedBy: [] };
}

function judgedCell(cell: PolicyDemand, context: CheckContext): JudgedCell {
  const findings = cell.demands.map((demand) => checkDemand(demand, context));
  const status = findings.length === 0 ? "skipped" : worstOf(findings.map((finding) => finding.status));
  const text = status === "passed" || status === "skipped" ? {} : { text: worstFinding(findings).headline };
  const ends = { from: endText(cell.from.value), to: endText(cell.to.value) };
  return { findings, told: { ...ends, service: openText(cell), expect: expectedIn(cell), status, ...text } };
}

function expectedIn({ open, demands }: PolicyDemand): Cell["expect"] {
  if (demands.length === 0) return "unjudged";
  const [first] = open?.value ?? [];
  if (first === undefined || first.value.by === "nothing") return "blocked";
  return first.value.by === "anything" ? "connects" : "only";
}

/** What is open there, in the words of the document; empty: nothing. */
function openText({ open }: PolicyDemand): string {
  const words = (open?.value ?? []).map(({ value }) =>
    value.by === "service" ? formatService(value.service) : value.by,
  );
  return [...new Set(words)].filter((word) => word !== "nothing").join(", ");
}

function unjudged({ span }: PolicyAssertion): Finding {
  const text = "no cell of the policy is judged";
  return { status: "vacuous", by: "proof", headline: text, decidedBy: [{ origin: { by: "written", span }, text }] };
}
