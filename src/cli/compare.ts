/**
 * `compare SITE BASE [HEAD]`: what a change of a site does to reach. Each side is a revision of git or a folder.
 */
import { relative, resolve, sep } from "node:path";
import { tellLookUps } from "../check/index.ts";
import { compareStates, type State } from "../compare/index.ts";
import { type Diagnostic, nearestWord } from "../diagnose/index.ts";
import { pictureOf } from "../draw/index.ts";
import { EnginesDisagree, Evaluation } from "../evaluate/index.ts";
import { type LoadedSite, loadFiles, type ReadSite, type Shelf, siteMeant } from "../load/index.ts";
import {
  type Ink,
  renderComparison,
  renderComparisonAnnotations,
  renderComparisonJson,
  renderComparisonMarkdown,
  renderComparisonPage,
  renderComparisonSarif,
} from "../report/index.ts";
import { type Change, type Comparison, comparisonStatus, namesOf } from "../result/index.ts";
import { deliver, type OutputOptions, outputProblem } from "./output.ts";
import { refuse, WRONG_INPUT } from "./refuse.ts";
import { readSide } from "./sides.ts";
import { VERSION } from "./version.ts";

/** Formats of its report. */
const FORMATS = ["terminal", "json", "sarif", "annotations", "markdown", "html"] as const;
/** One of them. */
export type CompareFormat = (typeof FORMATS)[number];

/** What is compared, as written on the command line. */
export type CompareWords = OutputOptions<CompareFormat> & {
  /** The site. */
  readonly site: string;
  /** Before: a revision or a folder. */
  readonly base: string;
  /** After; absent: the files as they are. */
  readonly head?: string;
  /** `OLD:NEW` for replaced devices. */
  readonly map: readonly string[];
  /** Changes that make the command fail. */
  readonly failOn: readonly string[];
};

const CHANGES: readonly Change[] = ["newly-allowed", "newly-forbidden"];

/** Runs the command; answers with the exit status. */
export async function runCompare(words: CompareWords): Promise<number> {
  const problem = outputProblem(words, FORMATS) ?? wordProblem(words);
  if (problem !== undefined) return refuse(problem);
  const place = siteMeant(words.site);
  if ("problem" in place) return refuse(`${place.problem}\n   ${place.help}`);
  const sides = { base: words.base, head: words.head ?? "the files as they are" };
  const read = [readSide(place, words.base), readSide(place, words.head)] as const;
  const wrong = read.find((side) => "problem" in side);
  if (wrong !== undefined && "problem" in wrong) return refuse(wrong.problem);
  const [base, head] = read;
  if ("problem" in base || "problem" in head) throw new Error("a side without files and without a problem");
  const comparison = compareSides(base, head, sides, words);
  return typeof comparison === "string" ? refuse(comparison) : report(comparison, words);
}

function report(comparison: Comparison, options: OutputOptions<CompareFormat>): Promise<number> {
  const { diagnostics, sources } = comparison;
  const status = comparisonStatus(comparison);
  const render = (format: CompareFormat, ink: Ink): string | Promise<string> =>
    renderFormat(comparison, format, ink, status);
  return deliver({ diagnostics, sources, status, render }, options);
}

function renderFormat(
  comparison: Comparison,
  format: CompareFormat,
  ink: Ink,
  status: number,
): string | Promise<string> {
  switch (format) {
    case "json":
      return renderComparisonJson(comparison);
    case "sarif":
      return renderComparisonSarif(comparison);
    case "annotations":
      return renderComparisonAnnotations(comparison);
    case "markdown":
      return renderComparisonMarkdown(comparison);
    case "html":
      return renderComparisonPage(comparison);
    case "terminal":
      return status === WRONG_INPUT ? "" : renderComparison(comparison, ink);
  }
}

function wordProblem({ map, failOn }: CompareWords): string | undefined {
  const unknown = failOn.find((word) => !CHANGES.some((change) => change === word));
  if (unknown !== undefined) {
    const nearest = nearestWord(unknown, CHANGES);
    return `nothing is called \`${unknown}\` here: there are ${CHANGES.join(" and ")}${nearest === undefined ? "" : `\n   try \`--fail-on ${nearest}\``}`;
  }
  const bad = map.find((word) => !/^[^:]+:[^:]+$/.test(word));
  if (bad !== undefined) return `\`${bad}\` names no two devices\n   write \`--map OLD:NEW\``;
  const olds = map.map((word) => pairIn(word)[0]);
  const twice = olds.find((old, index) => olds.indexOf(old) < index);
  return twice === undefined ? undefined : `\`${twice}\` is replaced twice\n   write one \`--map ${twice}:NEW\``;
}

function compareSides(
  base: ReadSite,
  head: ReadSite,
  sides: Comparison["sides"],
  { map, failOn, format }: CompareWords,
): Comparison | string {
  const shelf: Shelf = { sources: [] };
  const before = loadSide(base, shelf);
  const after = loadSide(head, shelf);
  const word = (each: Diagnostic): string => wordOf(each, shelf);
  const later = new Set(after.diagnostics.map(word));
  // What is said of both sides is said once: it is not what changed.
  const earlier = before.diagnostics.filter((each) => each.severity === "error" || !later.has(word(each)));
  const diagnostics = [...earlier, ...after.diagnostics];
  const blank: Comparison = {
    version: VERSION,
    sources: shelf.sources,
    diagnostics,
    site: head.name,
    sides,
    differences: [],
    replacements: [],
    alongside: [],
    undecided: [],
    failOn: CHANGES.filter((change) => failOn.includes(change)),
    pairs: { all: 0, untouched: 0 },
  };
  const [old, now] = [before.state, after.state];
  if (old === undefined || now === undefined) return blank;
  const replaced = new Map(map.map((word) => pairIn(word)));
  const unknown = unknownDevice(replaced, old, now);
  if (unknown !== undefined) return unknown;
  try {
    const picture = format.includes("html") ? { picture: pictureOf({ name: head.name, ...now }) } : {};
    const found = compareStates({ base: old, head: now, sources: shelf.sources, replaced });
    // What gets through tells nothing of who answers there, and a resolver that listens no more is missed by everybody.
    const alongside = [...found.alongside, ...tellLookUps(old.evaluation, now.evaluation)];
    return { ...blank, ...found, alongside, ...picture };
  } catch (error) {
    if (error instanceof EnginesDisagree) return { ...blank, fault: error.message };
    throw error;
  }
}

/** What a diagnostic says, wherever the text that it marks stands. */
function wordOf({ code, severity, message, labels, notes, help }: Diagnostic, { sources }: Shelf): string {
  const marked = labels.map(({ span, text }) => [sources[span.file]?.text.slice(span.start, span.end), text]);
  return JSON.stringify([code, severity, message, marked, notes, help]);
}

function pairIn(word: string): readonly [string, string] {
  const [old = "", successor = ""] = word.split(":");
  return [old, successor];
}

/** A replaced device that one of the sides does not have. */
function unknownDevice(replaced: ReadonlyMap<string, string>, base: State, head: State): string | undefined {
  for (const [old, successor] of replaced) {
    for (const [name, { site }] of [
      [old, base],
      [successor, head],
    ] as const) {
      if (site.devices.some((device) => device.name === name)) continue;
      const nearest = nearestWord(
        name,
        site.devices.map((device) => device.name),
      );
      const when = site === base.site ? "before" : "after";
      const turned = [successor, old].every((each, index) => has([base, head][index], each));
      const mended = turned ? [successor, old] : site === base.site ? [nearest, successor] : [old, nearest];
      const help = mended.includes(undefined) ? "" : `\n   try \`--map ${mended.join(":")}\``;
      return `no device is called \`${name}\` ${when} the change${help}`;
    }
  }
  return undefined;
}

function has(side: State | undefined, device: string): boolean {
  return side?.site.devices.some(({ name }) => name === device) ?? false;
}

type LoadedSide = Pick<LoadedSite, "diagnostics"> & {
  /** Absent after an error. */
  readonly state?: State;
};

/** Files are known by their place on the shelf: those of both sides may be called alike. */
function loadSide(read: ReadSite, shelf: Shelf): LoadedSide {
  const first = shelf.sources.length;
  const { site, network, diagnostics } = loadFiles(read, shelf);
  if (site === undefined || network === undefined) return { diagnostics };
  const inside = (path: string): string => relative(resolve("/", read.folder), resolve("/", path)).split(sep).join("/");
  const files = new Map(read.plan.map(({ path }, index) => [inside(path), first + index]));
  return { diagnostics, state: { evaluation: new Evaluation(network), names: namesOf(network), site, files } };
}
